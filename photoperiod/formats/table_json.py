"""``table.json``: the rows together with the light path, so that a replay needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats.cautions import CAUTIONS
from photoperiod.formats.row_text import (
    accepted,
    certificate,
    header,
    rounded,
    setpoints,
    table_dates,
)
from photoperiod.formats.table import with_checksum
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program

FILE_NAME = "table.json"


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return the table as JSON, as ``schemas/table.schema.json`` describes it."""
    return with_checksum(
        about(program, findings)
        | {
            "tables": [
                table_dates(table.span)
                | {"channels": {id: _rows(program, c) for id, c in table.channels.items()}}
                for table in program.controller_tables
            ]
        }
    )


def about(program: Program, findings: Sequence[Diagnostic]) -> dict[str, Any]:
    """Return all that an export says beside its rows: from where it is, controller, light paths."""
    schedule = program.schedule
    controller = schedule.controller
    relay: dict[str, Any] = {"kind": controller.relay.kind}
    if controller.relay.kind == "follows-level":
        relay["on_level_percent"] = controller.relay.on_level_percent
    return header(program, "table") | {
        "time_zone": schedule.place.time_zone
        if schedule.place is not None and controller.clock != "utc"
        else None,
        "cautions": list(CAUTIONS),
        "accepted": accepted(findings),
        "controller": {
            "time_step_seconds": controller.times.step_s,
            "between": controller.times.between,
            "after_last_row": controller.times.after_last_row,
            "soft_start_minutes": controller.soft_start_minutes,
            "relay": relay,
            "emits": {
                "unit": controller.levels.unit,
                "step": float(controller.levels.step),
                "every_seconds": controller.levels.every_seconds,
                "rounding": controller.levels.rounding,
            },
            "converter": {
                "kind": controller.converter.kind,
                "bits": controller.converter.bits,
                "offset_volts": controller.converter.offset_volts,
                "volts_per_code": controller.converter.volts_per_code,
                "most_volts": controller.converter.most_volts,
                "full_code": controller.converter.full_code,
            },
        },
        "channels": {id: _channel(c) for id, c in program.channels.items()},
    }


def _channel(c: ChannelDay) -> dict[str, Any]:
    curve = c.channel.ballast.curve
    ballast: dict[str, Any] = {
        "response": curve.kind,
        "floor_volts": curve.floor_volts,
        "floor_light_percent": rounded(curve.floor_light * 100, 6),
        "full_volts": curve.full_volts,
        "dark": curve.dark,
    }
    if curve.dark == "standby":
        ballast["standby_below_volts"] = curve.standby_volts
    if curve.kind == "measured":
        ballast["points"] = [
            {"volts": volts, "light_percent": rounded(light * 100, 6)}
            for volts, light in zip(curve.volts, curve.light, strict=True)
        ]
    return {
        "label": c.channel.label,
        "ballast": ballast,
        "ballast_count": c.channel.ballast_count,
        "tubes": [tube.id for tube in c.channel.tubes],
        "full_ppfd": dict(c.channel.full_ppfd),
        "safe_state": _safe_state(c),
    }


def _safe_state(c: ChannelDay) -> dict[str, Any]:
    """Return level and relay of the safe state: level 0 and an open relay where it is dark."""
    light = c.channel.safe_light
    count = c.safe_count
    return {
        "light_percent": rounded(light * 100, 4),
        "count": count,
        "converter_code": int(c.path.codes[count]),
        "relay": "off" if light == 0 and c.path.ballast.dark != "never" else "on",
    }


def _rows(program: Program, c: ChannelDay) -> dict[str, Any]:
    return {
        "role": c.role,
        "certificate": certificate(c.fit.certificate),
        "rows": [
            {
                "time": row.time,
                "second": row.second,
                "count": row.count,
                "level_percent": row.level_percent,
                "volts": row.volts,
                "converter_code": row.converter_code,
                "relay": row.relay or None,
            }
            for row in setpoints(program, c)
        ],
    }
