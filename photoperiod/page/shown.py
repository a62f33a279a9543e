"""Which of many tables are drawn: all of a few, else the brightest, the first and the dimmest."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice

from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, Table
from photoperiod.report.summary import MOST_SHOWN

#: Nor are more tables drawn than have so many days of channels together, but one is: a page stays under 1 MB.
MOST_CHANNEL_DAYS = 100


@dataclass(frozen=True, slots=True)
class ShownTable:
    """A table that is drawn: ``key`` for ids, and its dates and why it is shown in words."""

    table: Table
    key: str
    name: str
    why: str = ""


def shown_tables(program: Program) -> tuple[ShownTable, ...]:
    """Return the tables whose day is drawn, none with the rows of another.

    The brightest comes first, since it is the one that limits are for, whenever the page is read: a page
    knows no today. The others follow in the order of their dates.
    """
    seen, numbers = set(), []
    for number, table in enumerate(program.tables):
        if table.rows not in seen:
            numbers.append(number)
        seen.add(table.rows)
    light = [_light(table) for table in program.tables]
    brightest = max(numbers, key=lambda number: light[number])
    dimmest = min(numbers, key=lambda number: light[number])
    most = max(MOST_CHANNEL_DAYS // max(len(program.channels), 1), 1)
    are_few = len(numbers) <= min(MOST_SHOWN, most)
    whys = {brightest: "the most light"} if light[brightest] > light[dimmest] else {brightest: ""}
    if are_few:
        whys |= {number: "" for number in numbers if number != brightest}
    else:
        whys[0] = " and ".join(filter(None, ("the first date", whys.get(0, ""))))
        whys[dimmest] = " and ".join(filter(None, (whys.get(dimmest, ""), "the least light")))
    kept = list(islice(whys, most))
    return tuple(
        ShownTable(
            program.tables[number],
            f"day-{number + 1}",
            dates_text(program.tables[number].span),
            whys[number],
        )
        for number in (brightest, *sorted(set(kept) - {brightest}))
    )


def _light(table: Table) -> float:
    """Return what tells bright days from dim ones: the doses of all zones, else hours at full."""
    if table.zones:
        return sum(zone.dli.replay for zone in table.zones.values())
    return sum(channel.full_light_hours.replay for channel in table.channels.values())


def dates_text(span: DateSpan | None) -> str:
    """Return dates in words."""
    if span is None:
        return "any date"
    return str(span.first) if span.first == span.last else f"{span.first} to {span.last}"
