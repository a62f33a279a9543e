"""What do I do when? The errands of the dates as a list, and as marks on lines of dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.page.dates_axis import DatesAxis
from photoperiod.page.figure import Figure, Shape, Words, line
from photoperiod.page.trace import box_path, line_path
from photoperiod.program.model import Program
from photoperiod.text import counted, safe
from photoperiod.upkeep.agenda import (
    DAYS_PASSED,
    NO_DATE,
    Errand,
    ErrandKind,
    agenda,
    reading_words,
)

#: What stands beside the line of a kind, from the top down.
NAMES = {
    ErrandKind.OUT: "parts out",
    ErrandKind.LOAD: "loads",
    ErrandKind.FIT: "fit tubes",
    ErrandKind.BURN_IN: "burn-in",
    ErrandKind.DUE: "tubes due",
    ErrandKind.HELD: "light short",
    ErrandKind.READING: "readings",
    ErrandKind.STEP: "acclimation",
    ErrandKind.CLOCK: "clocks",
    ErrandKind.COMPILE: "compile",
}

#: More loads than this are told by months.
MOST_LISTED = 31

#: Of one line of marks. [user units]
LINE = 17.0


@dataclass(frozen=True, slots=True)
class ListedErrand:
    """An errand as a list shows it; one that comes again has several dates."""

    dates: tuple[dt.date, ...]
    kind: ErrandKind
    words: str

    @property
    def date(self) -> dt.date:
        """The first of its dates."""
        return self.dates[0]


def listed(program: Program) -> tuple[ListedErrand, ...]:
    """Return the errands in the order of their dates; of many loads a line for each month.

    Readings that only time asks for are one line for all channels that have them on the same dates.
    """
    found = agenda(program)
    routine = [each for each in found if each.why in (NO_DATE, DAYS_PASSED)]
    told = _routine(routine)
    loads = [each for each in found if each.kind is ErrandKind.LOAD]
    if len(loads) > MOST_LISTED:
        told += _by_months(loads)
        found = tuple(each for each in found if each.kind is not ErrandKind.LOAD)
    told += [_listed(each) for each in found if each not in routine]
    order = list(ErrandKind)
    return tuple(sorted(told, key=lambda each: (each.date, order.index(each.kind))))


def _routine(readings: Sequence[Errand]) -> list[ListedErrand]:
    """Return readings as one line for all channels that have them on the same dates."""
    dated: dict[str, list[Errand]] = {}
    for each in readings:
        dated.setdefault(each.what, []).append(each)
    groups: dict[tuple[tuple[dt.date, str], ...], list[str]] = {}
    for id, found in dated.items():
        groups.setdefault(tuple((each.date, each.why) for each in found), []).append(id)
    return [
        ListedErrand(
            tuple(date for date, _ in when),
            ErrandKind.READING,
            safe(reading_words(ids, ", and then because ".join(dict.fromkeys(w for _, w in when)))),
        )
        for when, ids in groups.items()
    ]


def _by_months(loads: Sequence[Errand]) -> list[ListedErrand]:
    """Return how many loads each month has."""
    months: dict[str, list[Errand]] = {}
    for each in loads:
        months.setdefault(f"{each.date:%Y-%m}", []).append(each)
    return [
        ListedErrand(
            (each[0].date,), ErrandKind.LOAD, f"{counted(len(each), 'load')} in this month."
        )
        for each in months.values()
    ]


def _listed(errand: Errand) -> ListedErrand:
    """Return an errand for the list; where its words say less than its title does, with the title."""
    titled = errand.kind in (ErrandKind.LOAD, ErrandKind.BURN_IN)
    words = f"{errand.title}. {errand.words}" if titled else errand.words
    return ListedErrand((errand.date,), errand.kind, safe(words))


def agenda_figure(program: Program) -> Figure | None:
    """Return the errands as marks on lines of dates; None where there are no dates or one."""
    span = program.span
    if span is None or span.days < 2:
        return None
    axis = DatesAxis(span, left=74.0)
    found = [each for each in agenda(program) if axis.holds(each.date)]
    shapes: list[Shape] = []
    words: list[Words] = []
    kinds = [kind for kind in NAMES if any(each.kind is kind for each in found)]
    for number, kind in enumerate(kinds):
        middle = number * LINE + LINE / 2
        shapes.append(line(axis.left, middle, axis.right, middle, "grid"))
        words.append(Words(axis.left - 6, middle + 3.5, NAMES[kind], "end"))
        shapes += [_mark(each, axis, middle) for each in found if each.kind is kind]
    bottom = len(kinds) * LINE + 2
    axis_shapes, axis_words = axis.drawn(bottom)
    return Figure(
        id="agenda",
        title="What is to be done, and when",
        about="Marks on lines of dates, a line and a shape for each kind of errand. The list below has"
        " them in words.",
        height=bottom + 18,
        shapes=(*shapes, *axis_shapes),
        words=(*words, *axis_words),
    )


def _mark(errand: Errand, axis: DatesAxis, y: float) -> Shape:
    """Return the mark of an errand: each kind has a shape of its own."""
    x = axis.of(errand.date)
    match errand.kind:
        case ErrandKind.OUT:
            cross = [
                line_path([(x - 4, y - 4), (x + 4, y + 4)]),
                line_path([(x - 4, y + 4), (x + 4, y - 4)]),
            ]
            return Shape("".join(cross), "mark-thin")
        case ErrandKind.LOAD:
            return Shape(line_path([(x, y - 6), (x, y + 6)]), "mark-load")
        case ErrandKind.FIT:
            pair = [line_path([(x + side, y - 6), (x + side, y + 6)]) for side in (-1.5, 1.5)]
            return Shape("".join(pair), "mark-thin")
        case ErrandKind.BURN_IN:
            end = errand.end.date() if isinstance(errand.end, dt.datetime) else errand.end
            last = min(axis.of(end + dt.timedelta(days=1)), axis.right)
            return Shape(box_path(x, y - 3, last - x, 6), "solid")
        case ErrandKind.DUE | ErrandKind.HELD:
            broken = [(x, y - 6), (x + 3, y - 2), (x - 3, y + 2), (x, y + 6)]
            return Shape(line_path(broken), "mark-thin")
        case ErrandKind.READING:
            ring = [(x - 3.5, y), (x, y - 4.5), (x + 3.5, y), (x, y + 4.5)]
            return Shape(line_path(ring) + "Z", "mark-open")
        case ErrandKind.STEP:
            step = [(x - 4, y + 4), (x, y + 4), (x, y - 4), (x + 4, y - 4)]
            return Shape(line_path(step), "mark-thin")
        case ErrandKind.CLOCK:
            notch = [(x - 4, y - 5), (x, y + 3), (x + 4, y - 5)]
            return Shape(line_path(notch) + "Z", "mark-open")
        case ErrandKind.COMPILE:
            end_sign = [(x - 4, y - 6), (x, y - 6), (x, y + 6), (x - 4, y + 6)]
            return Shape(line_path(end_sign), "mark-thin")
