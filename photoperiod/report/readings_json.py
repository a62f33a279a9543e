"""What follows from readings, as JSON: the numbers of `report.readings`, for programs.

The form is ``schemas/readings.schema.json``. Numbers have more digits than the text shows, and round to it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from photoperiod import __version__
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.readings.doubts import not_judged
from photoperiod.readings.fade import Fade, fade_yaml, forecast
from photoperiod.readings.fall_off import FallOff, LightAtDepth
from photoperiod.readings.grid import Grid
from photoperiod.readings.light_map import LightMap
from photoperiod.readings.lines import Lines, Meant
from photoperiod.readings.model import Readings
from photoperiod.readings.spectrum import LuxWorth
from photoperiod.readings.sweep import Sweep, sweep_yaml
from photoperiod.readings.tank_zones import ZoneLight, light_of_points
from photoperiod.text import json_text

#: Version of the JSON form; it rises only when a reader of the old form could misread the new one.
VERSION = 1


def render_readings_json(
    kind: str,
    result: Mapping[str, Any] | None,
    findings: Iterable[Diagnostic] = (),
    file: str | None = None,
    sha256: str | None = None,
) -> str:
    """Return what one `measure` command tells, as one JSON object.

    Parameters
    ----------
    kind : str
        The command: grid, map, depth, lux, sweep or series.
    result : mapping or None
        What it tells; None if the readings do not tell it.
    findings : iterable of Diagnostic
        What was found on the file.
    file, sha256 : str or None
        What the file is called, and its digest, hexadecimal; None if there is none.
    """
    return json_text(
        {
            "format": "photoperiod-readings",
            "version": VERSION,
            "made_with": f"photoperiod {__version__}",
            "kind": kind,
            "file": file,
            "sha256": sha256,
            "findings": [_finding(each) for each in findings],
            kind: None if result is None else dict(result),
        }
    )


def _finding(each: Diagnostic) -> dict[str, Any]:
    at = each.source_range
    return {
        "code": each.code,
        "name": each.name,
        "severity": str(each.severity),
        "message": each.message,
        "help": each.help,
        "line": at.line if at else None,
        "column": at.column if at else None,
    }


def grid_data(grid: Grid, channels: Sequence[str]) -> dict[str, Any]:
    """Return the points of a grid and the channels to measure on it."""
    return {
        "channels": list(channels),
        "x_cm": list(grid.x_cm),
        "y_cm": list(grid.y_cm),
        "depth_cm": list(grid.depth_cm),
        "points": grid.size,
    }


def map_data(
    readings: Readings, found: LightMap, meant: Meant, lines: Mapping[str, Lines]
) -> dict[str, Any]:
    """Return what a map tells of zones; the parameters are those of `map_text`."""
    return {
        "readings": len(readings),
        "points": len(found.zones),
        "unit": str(readings.unit),
        "zones": {
            zone: {
                id: _zone_light(light)
                for id in found.full
                if (light := meant.light(found, id, zone))
            }
            for zone in meant.zones
        },
        "all_points": {
            id: _zone_light(light)
            for id in found.full
            if (light := light_of_points(found, id, found.known(id)))
        },
        "not_judged": list(not_judged(found)),
        "to_paste": {
            id: {
                "full_ppfd": dict(each.keys) or None,
                "why_not": each.why_not,
                "way_out": each.way_out,
            }
            for id, each in lines.items()
        },
    }


def _zone_light(light: ZoneLight) -> dict[str, Any]:
    return {
        "points": light.points,
        "between": light.between,
        "beyond": light.beyond,
        "mean": _rounded(light.mean),
        "least": _rounded(light.least),
        "most": _rounded(light.most),
        "uniformity": _rounded(light.uniformity),
    }


def depth_data(
    readings: Readings,
    told: Mapping[str, FallOff],
    at_depth: Mapping[str, Sequence[LightAtDepth]],
    depth_cm: float | None,
) -> dict[str, Any]:
    """Return how light falls off with depth; the parameters are those of `depth_text`."""
    return {
        "unit": str(readings.unit),
        "channels": {
            id: {
                "is_attenuation": each.is_attenuation,
                "per_m": _rounded(each.per_m.value),
                "per_m_low": _rounded(each.per_m.low),
                "per_m_high": _rounded(each.per_m.high),
                "places": each.columns,
                "readings": each.points,
            }
            for id, each in told.items()
        },
        "at_depth_cm": depth_cm,
        "light_at_depth": {
            id: [
                {
                    "x_cm": each.x_cm,
                    "y_cm": each.y_cm,
                    "light": _rounded(each.light),
                    "is_beyond_readings": each.is_beyond,
                }
                for each in places
            ]
            for id, places in at_depth.items()
        },
    }


def lux_data(worth: LuxWorth) -> dict[str, Any]:
    """Return what lux are of a spectrum."""
    blue, green, red = (_rounded(share * 100) for share in worth.thirds)
    return {
        "lux_per_umol": _rounded(worth.lux_per_umol),
        "change_if_5_nm_off_percent": _rounded(worth.change * 100),
        "photons_percent": {"400_500_nm": blue, "500_600_nm": green, "600_700_nm": red},
    }


def sweep_data(readings: Readings, sweep: Sweep) -> dict[str, Any]:
    """Return what a sweep tells of a ballast."""
    return {
        "readings": len(readings),
        "points": [
            {"volts": _rounded(v), "read_percent": _percent(raw), "curve_percent": _percent(light)}
            for v, raw, light in zip(sweep.volts, sweep.raw, sweep.light, strict=True)
        ],
        "floor": {"volts": _rounded(sweep.floor_volts), "light_percent": _percent(sweep.floor_light)},
        "full_volts": _rounded(sweep.full_volts),
        "dark_below_volts": None if sweep.dark_volts is None else _rounded(sweep.dark_volts),
        "dead_zones_volts": [[_rounded(low), _rounded(high)] for low, high in sweep.dead_zones],
        "noise_percent": None if sweep.noise is None else _percent(sweep.noise),
        "laws": [
            {"kind": str(each.kind), "rms_percent": _percent(each.rms), "worst_percent": _percent(each.worst)}
            for each in sweep.laws
        ],
        "to_paste": sweep_yaml(sweep),
    }  # fmt: skip


def fade_data(readings: Readings, fade: Fade, share: float) -> dict[str, Any]:
    """Return what a series tells of tubes, and when their light is below a share of it."""
    found = forecast(fade, share)
    return {
        "readings": len(readings),
        "unit": str(readings.unit),
        "first_hours": _rounded(fade.first_hours),
        "last_hours": _rounded(fade.last_hours),
        "loss_percent_per_1000_h": _rounded(fade.loss * 100),
        "loss_low_percent_per_1000_h": _rounded(fade.loss_low * 100),
        "loss_high_percent_per_1000_h": _rounded(fade.loss_high * 100),
        "light_at_100_h": _rounded(fade.light_at_declared),
        "below_percent": _rounded(share * 100),
        "falls_below": None
        if found is None
        else {
            "lit_hours": _rounded(found.hours),
            "date": _date(found.date),
            "earliest_date": _date(found.earliest),
            "latest_date": _date(found.latest),
        },
        "to_paste": fade_yaml(fade) if fade.loss > 0 else None,
    }


def _date(date: dt.date | None) -> str | None:
    return None if date is None else date.isoformat()


def _percent(share: float) -> float:
    return _rounded(share * 100)


def _rounded(value: float, decimals: int = 9) -> float:
    """Return a number with so many decimals, never a minus zero."""
    return round(value, decimals) + 0.0
