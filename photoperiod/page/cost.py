"""What does it cost? Mains energy of each channel, as bars of its hatch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from photoperiod.page.figure import (
    COLUMN,
    RIGHT,
    Figure,
    Numbers,
    Shape,
    Words,
    breadth,
    line,
    named,
    sentence,
)
from photoperiod.page.scales import Scale, ticks, top_of
from photoperiod.page.trace import box_path
from photoperiod.program.model import Program
from photoperiod.report.costs import money
from photoperiod.text import and_list, counted, number_text, safe
from photoperiod.upkeep.power_use import PowerUse, Use, power_use, together
from photoperiod.upkeep.tube_costs import tube_costs

#: Names have so much room beside the bars: what the longest needs, within these. [user units]
LEAST_ROOM, MOST_ROOM, GAP = 40.0, 200.0, 5.0

#: Of one bar with the room around it, and of the bar. [user units]
LINE, BAR = 18.0, 11.0


def cost_figure(program: Program, hatches: Mapping[str, int]) -> Figure | None:
    """Return the energy of the channels as bars; None where no ballast has watts."""
    use = power_use(program)
    known = {id: each.kwh for id, each in use.channels.items()}
    if not known:
        return None
    labels = {id: program.schedule.channels[id].label for id in known}
    room = COLUMN * max(breadth(safe(label)) for label in labels.values())
    room = min(max(room, LEAST_ROOM), MOST_ROOM)
    left = room + GAP
    x = Scale(0.0, top_of(*known.values()), left, RIGHT)
    shapes: list[Shape] = []
    words: list[Words] = []
    for number, (id, kwh) in enumerate(known.items()):
        top = number * LINE + 3
        box = box_path(left, top, x.at(kwh) - left, BAR)
        shapes.append(Shape(box, f"hatch-{hatches[id]} edge"))
        words.append(named(room, top + 9, labels[id], room / COLUMN, "end"))
    bottom = len(known) * LINE + 3
    shapes.append(line(left, bottom, RIGHT, bottom, "axis"))
    for value in ticks(x.high, 4):
        shapes.append(line(x.at(value), bottom, x.at(value), bottom + 3, "axis"))
        words.append(Words(x.at(value), bottom + 14, number_text(value), "middle"))
    words.append(Words(room, bottom + 14, "kWh", "end"))
    return Figure(
        id="cost",
        title="Mains energy of each channel",
        about=f"Bars of the mains energy of the channels over {counted(use.days, 'day')}, in kWh.",
        height=bottom + 18,
        shapes=tuple(shapes),
        words=tuple(words),
        numbers=_numbers(program, use),
    )


def cost_words(program: Program) -> str:
    """Return energy and money of all dates in sentences, and what is not known of them."""
    use = power_use(program)
    if not use.channels:
        return "Not known: no ballast has watts in the schedule."
    over = "a day" if use.days == 1 else f"over {use.days} dates"
    parts = [f"{use.total.kwh:.2f} kWh of mains energy {over}{_money(program, use.total)}."]
    if use.days not in (365, 366):  # those are a year
        year = use.a_year
        parts.append(f"A year like this: {year.kwh:.0f} kWh{_money(program, year)}.")
    if use.unknown:
        parts.append(f"Without {_names(program, use.unknown)}: their watts are not given.")
    if use.in_doubt:
        doubt = _names(program, use.in_doubt)
        parts.append(f"In doubt for {doubt}: the watts of tubes and ballasts do not fit.")
    return sentence((*parts, _tubes(program)))


def _names(program: Program, ids: Sequence[str]) -> str:
    return and_list([safe(program.schedule.channels[id].label) for id in ids])


def _money(program: Program, use: Use) -> str:
    """Return what energy costs, to be added to it; nothing where that is not known."""
    costs = program.schedule.costs
    return "" if costs is None or use.cost is None else f", {use.cost:.2f} {safe(costs.currency)}"


def _tubes(program: Program) -> str:
    """Return what the tubes cost that are fitted within the dates."""
    tubes, costs = tube_costs(program), program.schedule.costs
    if not tubes.fitted or costs is None:
        return ""
    fitted = f"{counted(len(tubes.fitted), 'tube')} fitted within the dates"
    if tubes.total is None:
        return f"{fitted}; some have no price."
    return f"{fitted}: {tubes.total:.2f} {safe(costs.currency)}."


def _numbers(program: Program, use: PowerUse) -> tuple[Numbers, ...]:
    """Return energy and money by channel, and by month where there are several."""
    costs = program.schedule.costs
    unit = "power" if costs is None else f"power, {safe(costs.currency)}"
    named = {safe(program.schedule.channels[id].label): each for id, each in use.channels.items()}
    rows = [(name, each) for name, each in (*named.items(), ("together", use.total))]
    tables = [
        Numbers(
            caption="Mains energy by channel",
            head=("channel", "kWh", "kWh a day", unit),
            rows=tuple(
                (name, f"{each.kwh:.2f}", f"{each.kwh / use.days:.3f}", money(each.cost))
                for name, each in rows
            ),
        )
    ]
    if len(use.months) > 1:
        months = {f"{y:04}-{m:02}": together(each) for (y, m), each in use.months.items()}
        tables.append(
            Numbers(
                caption="Mains energy by month",
                head=("month", "kWh", unit),
                rows=tuple(
                    (name, f"{each.kwh:.1f}", money(each.cost)) for name, each in months.items()
                ),
            )
        )
    return tuple(tables)
