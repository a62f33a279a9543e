"""``summary.json``: the numbers of the day, plan beside replay, for people and programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats.costs_json import costs_data
from photoperiod.formats.found_json import found_data
from photoperiod.formats.row_text import (
    accepted,
    amounts,
    certificate,
    header,
    json_bytes,
    rounded,
    table_dates,
)
from photoperiod.program.channel_day import ChannelDay, ZoneDay
from photoperiod.program.model import ChangeEffect, Program, Table, TubeUse
from photoperiod.program.useful_light import UsefulLight
from photoperiod.program.zone_colour import ZoneColour, zone_colour
from photoperiod.schedule.change_rules import words_of
from photoperiod.schedule.guards import not_guarded, unknown_in
from photoperiod.text import clock_text, path_text
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S, SECONDS_PER_DAY, SECONDS_PER_HOUR

FILE_NAME = "summary.json"


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return the summary as JSON, as ``schemas/summary.schema.json`` describes it."""
    return json_bytes(summary_data(program, findings))


def summary_data(program: Program, findings: Sequence[Diagnostic]) -> dict[str, Any]:
    """Return the summary as plain data."""
    data = header(program, "summary")
    data |= {
        "night_ppfd_umol_m2_s": NIGHT_PPFD_UMOL_M2_S,
        "accepted": accepted(findings),
        "not_guarded": [each.data() for each in not_guarded(program.schedule)],
        "findings": [
            {
                "code": d.code,
                "name": d.name,
                "severity": str(d.severity),
                "message": d.message,
                "line": d.source_range.line if d.source_range else None,
                "path": path_text(d.path),
            }
            | ({"file": d.file} if d.file else {})
            for d in findings
        ],
        "loads": [
            {
                "load_before": load[0].span.first.isoformat() if load[0].span else None,
                "tables": [table_dates(table.span) for table in load],
            }
            for load in program.loads
        ],
        "compared_with_day_before": bool(program.before) and program.no_day_before is None,
        "changes": [_effect(each) for each in program.effects],
        "found": None if program.schedule.found is None else found_data(program.schedule.found),
        "clock_changes": [change.data(name) for name, change in program.clock_changes],
        "moon_nights": {
            id: {"shown": shown, "nights": nights, "without_moon": extra}
            for id, (shown, nights, extra) in program.moon_nights.items()
        },
        "seasons": [
            {
                "channels": list(each.channels),
                "tables": each.tables,
                "fewest_tables": each.fewest,
            }
            for each in program.season_counts
        ],
        "tables": [_table(program, table) for table in program.tables],
        "costs": costs_data(program),
        "tubes": {id: _tube(t) for id, t in program.tubes.items()},
    }
    return data


def _table(program: Program, table: Table) -> dict[str, Any]:
    return table_dates(table.span) | {
        "date_length_hours": rounded(table.day.length_s / SECONDS_PER_HOUR, 4),
        "undimmed": {
            id: {
                "start": clock_text(start % SECONDS_PER_DAY),
                "end": clock_text(stop % SECONDS_PER_DAY),
            }
            for id, (start, stop) in table.plan.windows.items()
        },
        "waiting_dark": sorted(table.plan.dark),
        "waiting_dimmed": sorted(table.plan.dimmed),
        "waiting_because": dict(table.plan.reasons),
        "season": None
        if table.season is None
        else {
            "light_error_percent": rounded(table.season.light * 100, 3),
            "light_error_of": table.season.light_of,
            "dose_error_percent": rounded(table.season.dose * 100, 3),
            "dose_error_of": table.season.dose_of,
        },
        "channels": {id: _channel(program, c) for id, c in table.channels.items()},
        "zones": {id: _zone(program, table, z) for id, z in table.zones.items()},
    }


def _channel(program: Program, c: ChannelDay) -> dict[str, Any]:
    return {
        "label": c.channel.label,
        "role": c.role,
        "brightness_percent": {
            "from": rounded(c.brightness * 100, 3),
            "to": rounded(c.brightness_at_end * 100, 3),
        },
        "held_percent": rounded(c.held * 100, 3),
        "rows": len(c.fit.rows),
        "rows_held": program.schedule.controller.setpoints_per_channel,
        "fit": {
            "method": c.fit.method,
            "worst_light_error_percent": rounded(c.fit.worst_light_error * 100, 3),
            "worst_at": clock_text(c.fit.worst_second),
            "worst_light_error_without_time_tolerance_percent": rounded(
                c.fit.strict_light_error * 100, 3
            ),
            "certificate": certificate(c.fit.certificate),
            "error_without_guard_rows_percent": None
            if c.fit.error_without_guard is None
            else rounded(c.fit.error_without_guard * 100, 5),
            "light_change_if_rounded_otherwise_percent": {
                rounding: rounded(error * 100, 3) for rounding, error in c.rounding_errors.items()
            },
        },
        "full_light_hours": amounts(c.full_light_hours, 4),
        "dli_mol_m2_d": {zone: amounts(share, 4) for zone, share in c.dli.items()},
        "photoperiod_hours": rounded(c.lit_seconds / 3600, 4),
        "photoperiod_hours_plan": rounded(c.reachable_lit_seconds / 3600, 4),
        "longest_dark_hours": rounded(c.longest_dark_s / 3600, 4),
        "starts": c.starts,
        "undefined_band_seconds": c.undefined_seconds,
        "most_volts": rounded(c.most_volts, 4),
        "full": {
            "converter_code": int(c.path.codes[-1]),
            "volts": rounded(float(c.path.volts[-1]), 4),
            "light_percent": rounded(c.path.most_light * 100, 3),
        },
        "one_code_at_floor_light_percent": rounded(_code_worth(c) * 100, 4),
        "tubes_nominal_watts": rounded(c.nominal_watts, 2),
        "energy_kwh_per_day": None if c.energy_kwh is None else rounded(c.energy_kwh, 4),
    }


def _code_worth(c: ChannelDay) -> float:
    """Return the light that one converter code is worth right above the floor."""
    curve = c.channel.ballast.curve
    step = c.path.volts_per_code_at(curve.floor_volts)
    low, high = curve.light_at(np.array([curve.floor_volts, curve.floor_volts + step]))
    return float(high - low)


def _zone(program: Program, table: Table, z: ZoneDay) -> dict[str, Any]:
    least: dict[str, Any] = {}
    if any(z.zone.id in c.channel.ppfd_spread for c in program.channels.values()):
        least = {
            "dli_mol_m2_d_least": rounded(z.dli_least, 4),
            "dli_mol_m2_d_least_at_end": rounded(z.dli_least_at_end, 4),
        }
    return {
        "label": z.zone.label,
        "light_unknown_of": list(unknown_in(z.zone, program.schedule.channels.values())),
        "dli_mol_m2_d": amounts(z.dli, 4),
        "dli_mol_m2_d_at_end": rounded(z.dli_at_end, 4),
        **least,
        "dli_band": None if z.zone.dli_band is None else list(z.zone.dli_band),
        "peak_ppfd_umol_m2_s": rounded(z.peak_ppfd, 3),
        "peak_at": clock_text(z.peak_second),
        "ppfd_max": z.zone.ppfd_max,
        "photoperiod_hours": rounded(z.photoperiod_s / 3600, 4),
        "longest_night_hours": rounded(z.night_s / 3600, 4),
        "steepest_rise_per_minute": rounded(z.steepest_rise_per_minute, 3),
        "saturation_hours": None if z.saturation_hours is None else rounded(z.saturation_hours, 4),
        "useful_light": None if z.useful_light is None else _useful_light(z.useful_light),
        **_colour(program, zone_colour(table, z.zone.id)),
    }


def _colour(program: Program, colour: ZoneColour | None) -> dict[str, Any]:
    """Return what is known of a zone's photons; nothing where no channel has a spectrum."""
    if colour is None:
        return {}
    thirds: tuple[float | None, ...] = (None, None, None)
    if colour.thirds is not None:
        thirds = tuple(rounded(each * 100, 3) for each in colour.thirds)
    told: dict[str, Any] = {"without_spectrum": list(colour.unknown)}
    told |= zip(
        ("400_500_nm_percent", "500_600_nm_percent", "600_700_nm_percent"), thirds, strict=True
    )
    if program.schedule.action_spectrum:
        told["usable_percent"] = None if colour.usable is None else rounded(colour.usable * 100, 3)
        told["usable_by"] = program.schedule.action_spectrum
    return {"photons": told}


def _effect(effect: ChangeEffect) -> dict[str, Any]:
    return {
        "kind": str(effect.change.kind),
        "words": words_of(effect.change),
        "channels": list(effect.change.channels),
        "from_date": effect.first.isoformat(),
        "to_date": effect.last.isoformat(),
        "dli_mol_m2_d": [
            {
                "date": date.isoformat(),
                "zones": {
                    id: {"without": rounded(dose.without, 4), "given": rounded(dose.given, 4)}
                    for id, dose in doses.items()
                },
            }
            for date, doses in effect.doses.items()
        ],
    }


def _useful_light(useful: UsefulLight) -> dict[str, Any]:
    return {
        "hours_above_ek": rounded(useful.hours_above_ek, 4),
        "dose_above_ek_percent": rounded(useful.share_above_ek * 100, 3),
        "begins_at": None if useful.begin_s is None else clock_text(useful.begin_s),
        "ends_at": None if useful.end_s is None else clock_text(useful.end_s),
    }


def _tube(t: TubeUse) -> dict[str, Any]:
    ledger = t.hours
    return {
        "channel": t.channel,
        "is_fitted_within_dates": t.is_fitted,
        "lit_hours": rounded(ledger.lit_hours, 3),
        "full_hours_within_dates": rounded(ledger.full_hours, 3),
        "burn_in_owed_hours": rounded(ledger.owed_hours, 3),
        "burn_in_paid_at": None if ledger.paid_at is None else ledger.paid_at.isoformat(),
        "dimmed_while_owing_hours": rounded(sum(r.length_s for r in ledger.dimmed) / 3600, 3),
        "edge_seconds": ledger.edge_seconds,
        "dimmed": [
            {
                "date": run.date.isoformat(),
                "time": clock_text(run.second),
                "minutes": rounded(run.length_s / 60, 2),
                "owed_hours": rounded(run.owed_hours, 3),
            }
            for run in ledger.dimmed[:31]
        ],
    }
