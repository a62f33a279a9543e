"""What do I do when? Loads, fittings, tubes that are due, clocks: a list by date, and marks on a line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.page.dates_axis import DatesAxis
from photoperiod.page.figure import Figure, Shape, Words, line
from photoperiod.page.trace import line_path
from photoperiod.page.tubes import tube_dates
from photoperiod.program.loads import fittings, load_by
from photoperiod.program.model import Program
from photoperiod.report.summary import clock_change_text
from photoperiod.text import counted, safe


class Kind(StrEnum):
    """What is to be done, in the order in which kinds are drawn from the top down."""

    LOAD = "load"
    FIT = "fit"
    DUE = "due"
    CLOCK = "clock"
    COMPILE = "compile"


#: What stands beside the line of a kind.
NAMES = {
    Kind.LOAD: "loads",
    Kind.FIT: "tubes to fit",
    Kind.DUE: "tubes due",
    Kind.CLOCK: "clocks",
    Kind.COMPILE: "compile",
}

#: More loads than this are told by months.
MOST_LISTED = 31

#: Tubes that are due so long after the last date are told, too [days].
DAYS_AHEAD = 365
LAST_FORECAST = dt.date.max - dt.timedelta(days=DAYS_AHEAD)

#: Of one line of marks. [user units]
LINE = 17.0


@dataclass(frozen=True, slots=True)
class Errand:
    """Something to do on a date, in words."""

    date: dt.date
    kind: Kind
    words: str


def errands(program: Program) -> tuple[Errand, ...]:
    """Return what is to be done over the dates, in their order; nothing for a day of no date."""
    if program.span is None:
        return ()
    found = [*_loads(program), *_fittings(program), *_due(program), *_clocks(program)]
    last = program.span.last
    words = "the tables end: compile for the dates after it before then"
    found.append(Errand(last, Kind.COMPILE, words))
    order = list(Kind)
    return tuple(sorted(found, key=lambda each: (each.date, order.index(each.kind))))


def listed(program: Program) -> tuple[Errand, ...]:
    """Return the errands as a list shows them: many loads by months, each in one line."""
    found = errands(program)
    loads = [each for each in found if each.kind is Kind.LOAD]
    if len(loads) <= MOST_LISTED:
        return found
    months: dict[str, list[Errand]] = {}
    for each in loads:
        months.setdefault(f"{each.date:%Y-%m}", []).append(each)
    told = [
        Errand(of_month[0].date, Kind.LOAD, f"{counted(len(of_month), 'load')} in this month")
        for of_month in months.values()
    ]
    others = [each for each in found if each.kind is not Kind.LOAD]
    return tuple(sorted([*told, *others], key=lambda each: each.date))


def _loads(program: Program) -> Iterator[Errand]:
    before = None
    for number, load in enumerate(program.loads, start=1):
        first, last = load[0].span, load[-1].span
        if first is not None and last is not None:
            when = load_by(load[0], before)
            what = counted(len(load), "table")
            yield Errand(
                first.first, Kind.LOAD, f"load {number}: {what}, {when}; up to {last.last}"
            )
        before = load[-1]


def _fittings(program: Program) -> Iterator[Errand]:
    for load in program.loads:
        for each in fittings(program, load):
            yield Errand(each.at.date(), Kind.FIT, f"{safe(each.words)}; unplug before you relamp")


def _due(program: Program) -> Iterator[Errand]:
    """Return the tubes that are due within the dates, or within a year after them."""
    assert program.span is not None
    last = min(program.span.last, LAST_FORECAST) + dt.timedelta(days=DAYS_AHEAD)
    for each in tube_dates(program):
        if each.due is not None and each.due[0] <= last:
            words = f"{safe(each.use.tube.label)} is due by its {each.due[1]}: replace it"
            if each.due[0] > program.span.last:
                words += " (a forecast)"
            yield Errand(each.due[0], Kind.DUE, words)


def _clocks(program: Program) -> Iterator[Errand]:
    for name, change in program.clock_changes:
        yield Errand(change.at.date(), Kind.CLOCK, clock_change_text(name, change))


def agenda_figure(program: Program) -> Figure | None:
    """Return the errands as marks on a line of dates; None where there are no dates or one."""
    span = program.span
    if span is None or span.days < 2:
        return None
    axis = DatesAxis(span, left=74.0)
    found = [each for each in errands(program) if axis.holds(each.date)]
    shapes: list[Shape] = []
    words: list[Words] = []
    kinds = [kind for kind in Kind if any(each.kind is kind for each in found)]
    for number, kind in enumerate(kinds):
        middle = number * LINE + LINE / 2
        shapes.append(line(axis.left, middle, axis.right, middle, "grid"))
        words.append(Words(axis.left - 6, middle + 3.5, NAMES[kind], "end"))
        for each in found:
            if each.kind is kind:
                shapes.append(_mark(kind, axis.of(each.date), middle))
    bottom = len(kinds) * LINE + 2
    axis_shapes, axis_words = axis.drawn(bottom)
    return Figure(
        id="agenda",
        title="What is to be done, and when",
        about=" ".join(f"{each.date}: {each.words}." for each in listed(program)),
        height=bottom + 18,
        shapes=(*shapes, *axis_shapes),
        words=(*words, *axis_words),
    )


def _mark(kind: Kind, x: float, y: float) -> Shape:
    """Return the mark of a kind: each has a shape of its own."""
    if kind is Kind.LOAD:
        return Shape(line_path([(x, y - 6), (x, y + 6)]), "mark-load")
    if kind is Kind.FIT:
        slit = line_path([(x - 1.5, y - 6), (x - 1.5, y + 6)])
        return Shape(slit + line_path([(x + 1.5, y - 6), (x + 1.5, y + 6)]), "mark-thin")
    if kind is Kind.DUE:
        broken = [(x, y - 6), (x + 3, y - 2), (x - 3, y + 2), (x, y + 6)]
        return Shape(line_path(broken), "mark-thin")
    if kind is Kind.CLOCK:
        return Shape(line_path([(x - 4, y - 5), (x, y + 3), (x + 4, y - 5)]) + "Z", "mark-open")
    return Shape(line_path([(x - 4, y - 6), (x, y - 6), (x, y + 6), (x - 4, y + 6)]), "mark-thin")
