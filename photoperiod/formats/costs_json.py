"""Energy and money as JSON outputs have them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from photoperiod.formats.row_text import rounded
from photoperiod.program.model import Program
from photoperiod.upkeep.power_use import Use, power_use, together
from photoperiod.upkeep.tube_costs import tube_costs


def costs_data(program: Program) -> dict[str, Any]:
    """Return the energy and the costs of a program, as ``schemas/summary.schema.json`` has them."""
    use, costs = power_use(program), program.schedule.costs
    tubes = tube_costs(program)
    return {
        "currency": None if costs is None else costs.currency,
        "days": use.days,
        "watts_unknown_of": list(use.unknown),
        "watts_in_doubt_of": list(use.in_doubt),
        **_of(use.total),
        "kwh_of_a_year": rounded(use.a_year.kwh, 3),
        "power_cost_of_a_year": money(use.a_year.cost),
        "tubes_fitted": len(tubes.fitted),
        "tubes_without_price": list(tubes.without_price),
        "tube_cost": money(tubes.total) if costs is not None else None,
        "channels": {
            id: {
                "kwh_per_day": rounded(each.kwh / use.days, 4),
                "power_cost_per_day": money(each.times(1 / use.days).cost),
                **_of(each),
            }
            for id, each in use.channels.items()
        },
        "months": [
            {"month": f"{year:04}-{month:02}"} | _part(program, channels, year, month)
            for (year, month), channels in use.months.items()
        ],
        "years": [
            {"year": year} | _part(program, channels, year) for year, channels in use.years.items()
        ],
    }


def money(amount: float | None) -> float | None:
    """Return an amount of money with four decimals: sums of small parts stay right."""
    return None if amount is None else rounded(amount, 4)


def _of(use: Use) -> dict[str, Any]:
    return {"kwh": rounded(use.kwh, 4), "power_cost": money(use.cost)}


def _part(
    program: Program, channels: Mapping[str, Use], year: int, month: int | None = None
) -> dict[str, Any]:
    has_currency = program.schedule.costs is not None
    tubes = tube_costs(program, year, month)
    return {
        **_of(together(channels)),
        "tube_cost": money(tubes.total) if has_currency else None,
        "channels": {id: _of(use) for id, use in channels.items()},
    }
