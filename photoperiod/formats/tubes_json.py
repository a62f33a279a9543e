"""Tubes over years as JSON, as ``schemas/tubes.schema.json`` describes it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from photoperiod.formats.costs_json import costs_data, money
from photoperiod.formats.row_text import header, json_bytes, rounded
from photoperiod.program.model import Program
from photoperiod.upkeep.comparison import PolicyOutcome, ZoneSwing
from photoperiod.upkeep.due import TubeForecast
from photoperiod.upkeep.policies import Policy


def render(
    program: Program,
    tubes: Sequence[TubeForecast],
    policies: Sequence[PolicyOutcome | tuple[Policy, str]],
) -> bytes:
    """Return tubes and policies as JSON."""
    data = header(program, "tubes")
    data |= {
        "tubes": [_tube(each) for each in tubes],
        "held": {
            id: _held(program, id)
            for id, channel in program.schedule.channels.items()
            if channel.held_within is not None
        },
        "policies": [_policy(each) for each in policies],
        "costs": costs_data(program),
    }
    return json_bytes(data)


def _tube(each: TubeForecast) -> dict[str, Any]:
    first = each.first_due
    return {
        "tube": each.tube.id,
        "channel": each.channel,
        "place": each.tube.place,
        "fitted": None if each.tube.fitted is None else each.tube.fitted.isoformat(),
        "leaves_on": None if each.left_on is None else each.left_on.isoformat(),
        "lit_hours": {
            "from": rounded(each.lit_hours_at_start, 3),
            "to": rounded(each.lit_hours_at_end, 3),
        },
        "light_percent": None
        if each.light_at_start is None or each.light_at_end is None
        else {
            "from": rounded(each.light_at_start * 100, 3),
            "to": rounded(each.light_at_end * 100, 3),
        },
        "due": {str(reason): date.isoformat() for reason, date in each.due.items()},
        "first_due": None if first is None else first[0].isoformat(),
        "first_due_by": None if first is None else str(first[1]),
    }


def _held(program: Program, id: str) -> dict[str, Any]:
    channel = program.schedule.channels[id]
    short = next((table for table in program.tables if id in table.short), None)
    return {
        "dose_within_percent": rounded((channel.held_within or 0.0) * 100, 3),
        "most_percent": rounded(max(t.channels[id].held for t in program.tables) * 100, 3),
        "until": None if short is None or short.span is None else short.span.first.isoformat(),
    }


def _policy(each: PolicyOutcome | tuple[Policy, str]) -> dict[str, Any]:
    if isinstance(each, tuple):
        return {"policy": str(each[0]), "not_told_because": each[1]}
    return {
        "policy": str(each.policy),
        "not_told_because": None,
        "tubes_at_start": each.tubes_at_start,
        "tubes_fitted": each.tubes_fitted,
        "tubes_used": each.tubes_used,
        "fitting_dates": each.fitting_dates,
        "loads": each.loads,
        "burn_in_days": each.burn_in_days,
        "dimmed_while_owing_hours": rounded(each.dimmed_hours, 3),
        "tube_cost": money(each.tube_cost),
        "labour_cost": money(each.labour_cost),
        "power_cost": money(each.power_cost),
        "cost": money(each.cost),
        "zones": {id: _zone(swing) for id, swing in each.zones.items()},
    }


def _zone(swing: ZoneSwing) -> dict[str, Any]:
    return {
        "dli_mol_m2_d": {"least": rounded(swing.least_dli, 4), "most": rounded(swing.most_dli, 4)},
        "dli_swing_percent": rounded(swing.dli_swing * 100, 3),
        "peak_ppfd_umol_m2_s": {
            "least": rounded(swing.least_peak, 3),
            "most": rounded(swing.most_peak, 3),
        },
        "peak_swing_percent": rounded(swing.peak_swing * 100, 3),
        "peak_rise_percent": rounded(swing.rise * 100, 3),
    }
