"""Energy and money as lines for a person: by channel, by month or year, and of a year."""

from __future__ import annotations

from photoperiod.program.model import Program
from photoperiod.text import and_list, columns, counted, number_text
from photoperiod.upkeep.power_use import PowerUse, Use, power_use, together
from photoperiod.upkeep.tube_costs import TubeCosts, tube_costs

#: If there are more months, years stand for them.
MOST_MONTHS = 12


def energy_lines(program: Program, room: int | None) -> list[str]:
    """Return the mains energy of all dates, and what it costs if the schedule has `costs`.

    ``room`` is how many columns a line may take; None if that is not known.
    """
    use = power_use(program)
    if not use.channels:
        return ["", "energy: not known, because no ballast has `watts`"]
    span = program.span
    over = (
        "a day" if span is None else "on this date" if use.days == 1 else f"over {use.days} dates"
    )
    line = f"energy: {use.total.kwh:.2f} kWh {over}"
    if use.unknown:
        line += f", without {and_list(use.unknown)}: their watts are not given"
    lines = ["", line]
    if use.in_doubt:
        lines.append(
            f"in doubt for {and_list(use.in_doubt)}: the watts of tubes and ballasts do not fit; how many"
            " ballasts are there (`ballast_count`)?"
        )
    costs = program.schedule.costs
    if costs is None:
        return lines
    lines += ["", f"COST IN {costs.currency}"]
    lines += _channels(use, room)
    lines += _months(program, use, room)
    year = use.a_year
    rate = f"a year like this: {number_text(year.kwh, 1)} kWh"
    lines.append(
        rate + ("" if year.cost is None else f", {year.cost:.2f} {costs.currency} of power")
    )
    if costs.tariff is None:
        lines.append("what power costs is not known: write `tariff` under `costs`")
    elif year.cost is None:
        lines.append("what power costs hangs on the date: compile with dates")
    return lines + _tubes(tube_costs(program), costs.currency)


def money(amount: float | None) -> str:
    """Return an amount of money with two decimals, a dash where it is not known."""
    return "-" if amount is None else f"{amount:.2f}"


def _channels(use: PowerUse, room: int | None) -> list[str]:
    named: dict[str, Use] = dict(use.channels)
    if len(named) > 1:
        named["together"] = use.total
    rows = []
    for name, each in named.items():
        day = each.times(1 / use.days)
        row = [name, f"{day.kwh:.2f}", money(day.cost)]
        rows.append(row if use.days == 1 else [*row, f"{each.kwh:.1f}", money(each.cost)])
    head = ("channel", "kWh a day", "power a day")
    return columns(head if use.days == 1 else (*head, "kWh", "power"), rows, room)


def _months(program: Program, use: PowerUse, room: int | None) -> list[str]:
    """Return a line for each month, or each year of many; none where there is but one month."""
    if len(use.months) < 2:
        return []
    rows = []
    by_month = len(use.months) <= MOST_MONTHS
    if by_month:
        for (year, month), channels in use.months.items():
            costs = tube_costs(program, year, month)
            rows.append(_row(f"{year:04}-{month:02}", together(channels), costs))
    else:
        for year, channels in use.years.items():
            rows.append(_row(str(year), together(channels), tube_costs(program, year)))
    return ["", *columns(("month" if by_month else "year", "kWh", "power", "tubes"), rows, room)]


def _row(name: str, use: Use, tubes: TubeCosts) -> list[str]:
    return [name, f"{use.kwh:.1f}", money(use.cost), money(tubes.total)]


def _tubes(tubes: TubeCosts, currency: str) -> list[str]:
    if not tubes.fitted:
        return []
    fitted = f"{counted(len(tubes.fitted), 'tube')} fitted within the dates"
    if tubes.total is not None:
        return [f"{fitted}: {tubes.total:.2f} {currency}"]
    return [f"{fitted}; without a price: {and_list(tubes.without_price)}"]
