"""Pieces that several outputs share, so that they say the same thing in the same digits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from photoperiod import __version__
from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.grid import Row
from photoperiod.drive.light_path import LightPath
from photoperiod.program.channel_day import Amounts, ChannelDay
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from photoperiod.setpoints.fit import Certificate
from photoperiod.sky.clock import ZONE_DATA
from photoperiod.text import clock_text, json_text, path_text

MADE_WITH = f"photoperiod {__version__}"


@dataclass(frozen=True, slots=True)
class SetpointText:
    """One row as outputs write it."""

    time: str
    second: int
    count: int
    level_percent: float
    volts: float
    converter_code: int
    relay: str


#: How a relay state in a row is written; a row without one has an empty field.
RELAY_WORDS = {None: "", True: "on", False: "off"}
RELAY_STATES = {word: state for state, word in RELAY_WORDS.items()}


def setpoints(program: Program, c: ChannelDay) -> list[SetpointText]:
    """Return a channel's rows with their levels, volts and codes."""
    step_s = program.schedule.controller.times.step_s
    return [setpoint_text(row, c.path, step_s) for row in c.fit.rows]


def setpoint_text(row: Row, path: LightPath, step_s: int) -> SetpointText:
    """Return a row as outputs write it; seconds are shown if the controller's times have them."""
    return SetpointText(
        time=clock_text(row.second, with_seconds=step_s % 60 != 0),
        second=row.second,
        count=row.count,
        level_percent=rounded(float(path.level_percents[row.count]), 4),
        volts=rounded(float(path.volts[row.count]), 4),
        converter_code=int(path.codes[row.count]),
        relay=RELAY_WORDS[row.relay],
    )


def header(program: Program, kind: str) -> dict[str, Any]:
    """Return what every JSON output begins with."""
    schedule = program.schedule
    return {
        "format": f"photoperiod-{kind}",
        "version": 1,
        "made_with": MADE_WITH,
        "zone_data": ZONE_DATA,
        "schedule": schedule_data(
            schedule.title, schedule.digest, schedule.parts_digests, schedule.readings_digests
        )
        | _beyond_readings(program),
        "clock": schedule.controller.clock,
    } | table_dates(program.span)


def _beyond_readings(program: Program) -> dict[str, Any]:
    beyond = program.schedule.beyond_readings
    told = {id: list(zones) for id, zones in beyond.items()}
    return {"beyond_readings": told} if told else {}


def schedule_data(
    title: str, sha256: str, parts: Mapping[str, str], readings: Mapping[str, str]
) -> dict[str, Any]:
    """Return what an output says of the schedule it comes from, and of its parts and readings."""
    files = {"parts": dict(parts), "readings": dict(readings)}
    return {"title": title, "sha256": sha256} | {k: v for k, v in files.items() if v}


def table_dates(span: DateSpan | None) -> dict[str, str | None]:
    """Return the first and last date of a table, None without dates."""
    return {
        "from_date": None if span is None else span.first.isoformat(),
        "to_date": None if span is None else span.last.isoformat(),
    }


def accepted(findings: Sequence[Diagnostic]) -> list[dict[str, str]]:
    """Return the hard findings that the schedule accepts."""
    return [
        {
            "code": d.code,
            "name": d.name,
            "message": d.message,
            "path": path_text(d.path),
            "because": d.accepted or "",
        }
        for d in findings
        if d.severity is Severity.ACCEPTED
    ]


def certificate(proof: Certificate) -> dict[str, Any]:
    """Return what is proven of a table."""
    return {
        "sample_seconds": proof.sample_s,
        "time_tolerance_seconds": proof.tolerance_s,
        "error_percent": rounded(proof.error * 100, 6),
        "bound_percent": rounded(proof.bound * 100, 6),
        "is_best": proof.is_best,
        "is_closest": proof.is_closest,
        "floor_percent": rounded(proof.floor * 100, 6),
        "floor_rows": proof.floor_rows,
        "half_rows": proof.half_rows,
        "joint_error_percent": _percent(proof.joint_error),
        "joint_bound_percent": _percent(proof.joint_bound),
    }


def _percent(share: float | None) -> float | None:
    return None if share is None else rounded(share * 100, 6)


def amounts(value: Amounts, decimals: int) -> dict[str, float]:
    """Return plan, reachable and replay side by side."""
    return {
        "plan": rounded(value.plan, decimals),
        "reachable": rounded(value.reachable, decimals),
        "replay": rounded(value.replay, decimals),
    }


def rounded(value: float, decimals: int) -> float:
    """Return a number rounded for output, never −0."""
    return round(float(value), decimals) + 0.0


def json_bytes(data: Any) -> bytes:
    """Return JSON as bytes: keys in the order given, UTF-8, one line end."""
    return json_text(data).encode()
