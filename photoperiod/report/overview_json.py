"""Many tanks as one JSON object, for programs; its form is `schemas/overview.schema.json`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from photoperiod import __version__
from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Report
from photoperiod.program.dates import DateSpan
from photoperiod.program.loads import load_window
from photoperiod.program.model import Program
from photoperiod.report.text import gravest_of
from photoperiod.schedule.guards import unknown_in
from photoperiod.sky.clock import ZONE_DATA
from photoperiod.text import json_text

#: Version of the JSON form; it rises only when a reader of the old form could misread the new one.
VERSION = 1

#: What is told of a tank that was not compiled.
_NOTHING: Mapping[str, Any] = {
    "title": None,
    "schedule_sha256": None,
    "zones": None,
    "next_load": None,
    "next_tube": None,
}


def render_overview_json(tanks: Sequence[Mapping[str, Any]], span: DateSpan) -> str:
    """Return what is told of tanks, as one JSON object, in their order."""
    return json_text(
        {
            "format": "photoperiod-overview",
            "version": VERSION,
            "made_with": f"photoperiod {__version__}",
            "zone_data": ZONE_DATA,
            "from_date": span.first.isoformat(),
            "to_date": span.last.isoformat(),
            "tanks": list(tanks),
        }
    )


def tank_data(
    program: Program, report: Report, next_tube: Mapping[str, Any] | None
) -> dict[str, Any]:
    """Return what is told of a program with dates; ``next_tube`` is what `overview` found of it."""
    schedule = program.schedule
    return {
        "file": report.file,
        "tank": schedule.tank,
        "title": schedule.title,
        "schedule_sha256": schedule.digest,
        "is_written": not report.has_errors,
        "not_compiled": None,
        "zones": {id: _zone(program, id) for id in schedule.zones},
        "next_load": _load(program),
        "next_tube": None if next_tube is None else dict(next_tube),
        "findings": _findings(report),
    }


def refused_data(report: Report) -> dict[str, Any]:
    """Return what is told of a file whose schedule has errors: the first of them, with its place."""
    first = next(each for each in report.sorted() if each.severity is Severity.ERROR)
    at = first.source_range
    why = {
        "code": first.code,
        "message": first.message,
        "file": report.shown(first.file),
        "line": None if at is None else at.line,
        "column": None if at is None else at.column,
    }
    return _not_compiled(report.file, why, _findings(report))


def failed_data(file: str, why: str) -> dict[str, Any]:
    """Return what is told of a file that could not be compiled for another reason."""
    told = {"code": None, "message": why, "file": file, "line": None, "column": None}
    findings = {"errors": 1, "warnings": 0, "accepted": 0, "notes": 0, "gravest": None}
    return _not_compiled(file, told, findings)


def _not_compiled(file: str, why: Mapping[str, Any], findings: Mapping[str, Any]) -> dict[str, Any]:
    told = {"file": file, "tank": None, "is_written": False, "not_compiled": dict(why)}
    return told | dict(_NOTHING) | {"findings": dict(findings)}


def _zone(program: Program, id: str) -> dict[str, Any]:
    """Return what a zone gets over all tables, beside what is allowed."""
    zone, days = program.schedule.zones[id], [table.zones[id] for table in program.tables]
    doses = [dose for day in days for dose in (day.dli.replay, day.dli_at_end)]
    return {
        "label": zone.label,
        "dli_mol_m2_d": [round(min(doses), 4), round(max(doses), 4)],
        "dli_band": None if zone.dli_band is None else list(zone.dli_band),
        "peak_ppfd_umol_m2_s": round(max(day.peak_ppfd for day in days), 4),
        "ppfd_max": zone.ppfd_max,
        "light_unknown_of": list(unknown_in(zone, program.schedule.channels.values())),
    }


def _load(program: Program) -> dict[str, Any] | None:
    """Return the first load after that of the first date; None if there is none."""
    loads = program.loads
    if len(loads) < 2:
        return None
    table = loads[1][0]
    window = load_window(table, loads[0][-1])
    assert table.span is not None and window is not None
    return {
        "first_date": table.span.first.isoformat(),
        "not_before": _moment(window.begin),
        "not_after": _moment(window.end),
        "words": window.words,
    }


def _moment(moment: dt.datetime) -> str:
    return moment.isoformat(timespec="minutes")


def _findings(report: Report) -> dict[str, Any]:
    gravest = gravest_of(report)
    return {
        "errors": report.count(Severity.ERROR),
        "warnings": report.count(Severity.WARNING),
        "accepted": report.count(Severity.ACCEPTED),
        "notes": report.count(Severity.NOTE),
        "gravest": None if gravest is None else {"code": gravest.code, "name": gravest.name},
    }
