"""How are the tubes? A strip for each, as thick as its light: slit, solid head and cut say the rest."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from photoperiod.arrays import Floats, np
from photoperiod.page.dates_axis import DatesAxis
from photoperiod.page.figure import Figure, Numbers, Shape, Words, cut
from photoperiod.page.trace import area_path, line_path
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, TubeUse
from photoperiod.schedule.tube import Tube
from photoperiod.schedule.tube_places import left_at
from photoperiod.text import and_list, number_text, safe
from photoperiod.units import SECONDS_PER_HOUR

#: A strip with what stands above it, and how thick 100 % of light is. [user units]
STRIP, NAME, FULL = 34.0, 13.0, 14.0

MOST_LETTERS = 20


@dataclass(frozen=True, slots=True)
class TubeDates:
    """One tube over the dates of a program.

    Parameters
    ----------
    use : TubeUse
        The tube and its hours.
    first, stop : int
        From which date on it is in, and up to which: numbers of dates from the first on, ``stop`` is out.
    hours : ndarray, shape (dates + 1,)
        Its lit hours as each date begins, and as the last one ends. [h]
    due : int or None
        The date on which it reaches the hours at which it is to be replaced; None if not within the dates.
    paid : int or None
        Up to which date it owes burn-in; None if it never owed any.
    """

    use: TubeUse
    first: int
    stop: int
    hours: Floats
    due: int | None
    paid: int | None

    @property
    def light(self) -> Floats:
        """Its light beside the declared one, shape (dates + 1,). [ratio]"""
        fading = self.use.tube.depreciation
        if fading is None:
            return np.ones(self.hours.shape)
        return np.array([fading.light_at(float(hours)) for hours in self.hours])


def tube_dates(program: Program) -> tuple[TubeDates, ...]:
    """Return all tubes over the dates; none for a day of no date."""
    span = program.span
    if span is None:
        return ()
    left = left_at(program.schedule)
    return tuple(
        _tube_dates(program, span, use, left.get(use.tube.id)) for use in program.tubes.values()
    )


def _tube_dates(
    program: Program, span: DateSpan, use: TubeUse, left: dt.datetime | None
) -> TubeDates:
    first = _number(span, use.tube.fitted, 0)
    stop = _number(span, left, span.days)
    daily = np.zeros(span.days)
    for table in program.tables:
        if table.span is not None:
            begin = (table.span.first - span.first).days
            lit_s = table.channels[use.channel].lit_seconds
            daily[begin : begin + table.span.days] = lit_s / SECONDS_PER_HOUR
    daily[:first] = 0.0
    daily[stop:] = 0.0
    # What was followed second by second is right; dates alone are not, on that of a fitting.
    burned = use.hours.lit_hours - use.hours.lit_hours_before
    hours = np.concatenate(([0.0], np.cumsum(daily)))
    hours = use.hours.lit_hours_before + hours * (burned / hours[-1] if hours[-1] else 0.0)
    return TubeDates(use, first, stop, hours, _due(use.tube, hours, stop), _paid(span, use))


def _number(span: DateSpan, moment: dt.datetime | None, default: int) -> int:
    """Return the number of a date of the span; of one outside, the nearest end."""
    if moment is None:
        return default
    return min(max((moment.date() - span.first).days, 0), span.days)


def _due(tube: Tube, hours: Floats, stop: int) -> int | None:
    if tube.replace_after_hours is None:
        return None
    late = np.flatnonzero(hours[: stop + 1] >= tube.replace_after_hours)
    return int(late[0]) if late.size else None


def _paid(span: DateSpan, use: TubeUse) -> int | None:
    if not use.hours.owed_hours_before:
        return None
    if use.hours.paid_at is None:
        return span.days
    return _number(span, use.hours.paid_at, span.days) + 1


def tubes_figure(program: Program) -> Figure | None:
    """Return the strips of all tubes; None where no tube is followed over dates."""
    tubes = tube_dates(program)
    if program.span is None or not tubes:
        return None
    axis = DatesAxis(program.span)
    shapes: list[Shape] = []
    words: list[Words] = []
    for number, each in enumerate(tubes):
        more, more_words = _strip(each, axis, number * STRIP + NAME)
        shapes += more
        words += more_words
    bottom = len(tubes) * STRIP
    axis_shapes, axis_words = axis.drawn(bottom)
    return Figure(
        id="tubes",
        title="Light of each tube over the dates",
        about="A strip for each tube, as thick as its light beside that of a tube of 100 hours. A slit is a"
        " fitting, a solid head is burn-in that is owed, an open end is where the tube is due.",
        height=bottom + 18,
        shapes=(*shapes, *axis_shapes),
        words=(*words, *axis_words),
        caption=_caption(tubes),
        numbers=(_numbers(program, tubes),),
    )


def _caption(tubes: tuple[TubeDates, ...]) -> str:
    """Return how to read the strips, and of which tubes it is not known how they fade."""
    text = (
        "As thick as the light of the tube. Slit: fitted. Solid: burn-in is owed. Open end: due to be"
        " replaced."
    )
    unknown = [safe(each.use.tube.label) for each in tubes if each.use.tube.depreciation is None]
    if unknown:
        text += f" How they fade is not declared of {and_list(unknown)}: drawn as if they did not."
    return text


def _strip(each: TubeDates, axis: DatesAxis, top: float) -> tuple[list[Shape], list[Words]]:
    """Return the strip of a tube, and above it its name and its hours."""
    tube, middle = each.use.tube, top + FULL / 2
    light = each.light
    shapes = []
    last = each.stop if each.due is None else min(each.due, each.stop)
    if last > each.first:
        shapes.append(Shape(_band(light, each.first, last, axis, middle), "tube"))
    if each.paid is not None and each.paid > each.first:
        shapes.append(Shape(_band(light, each.first, each.paid, axis, middle), "solid"))
    if each.due is not None and each.stop > each.due:
        shapes.append(Shape(_band(light, each.due, each.stop, axis, middle), "overdue"))
        x = axis.at(each.due)
        cut_line = [(x, middle - 9), (x + 3, middle - 3), (x - 3, middle + 3), (x, middle + 9)]
        shapes.append(Shape(line_path(cut_line), "cut"))
    if tube.fitted is not None and axis.holds(tube.fitted.date()):
        x = axis.at(each.first)
        for side in (-1.2, 1.2):
            shapes.append(
                Shape(line_path([(x + side, middle - 9), (x + side, middle + 9)]), "slit")
            )
    return shapes, [
        Words(axis.left, top - 3, cut(tube.label, MOST_LETTERS), "name"),
        Words(axis.right, top - 3, _hours_text(each), "end"),
    ]


def _band(light: Floats, first: int, stop: int, axis: DatesAxis, middle: float) -> str:
    """Return a strip from date to date, as thick as the light."""
    steps = sorted({first, stop, *range(first, stop, max((stop - first) // 12, 1))})
    upper = [(axis.at(n), middle - float(light[n]) * FULL / 2) for n in steps]
    lower = [(axis.at(n), middle + float(light[n]) * FULL / 2) for n in steps]
    return area_path(upper, lower)


def _hours_text(each: TubeDates) -> str:
    """Return the hours of a tube by the last date, and of how many."""
    use = each.use
    if not use.is_fitted:
        return "fitted after these dates"
    hours = f"{number_text(use.hours.lit_hours, 0)} h"
    if use.tube.replace_after_hours is not None:
        hours += f" of {number_text(use.tube.replace_after_hours, 0)}"
    return hours


def _numbers(program: Program, tubes: tuple[TubeDates, ...]) -> Numbers:
    span = program.span
    rows = []
    for each in tubes:
        use, tube = each.use, each.use.tube
        due = "–"
        if each.due is not None and span is not None:
            due = str(span.first + dt.timedelta(days=each.due))
        light = "not declared"
        if tube.depreciation is not None:
            light = f"{float(each.light[0]) * 100:.1f} to {float(each.light[-1]) * 100:.1f}"
        after = tube.replace_after_hours
        rows.append(
            (
                safe(tube.label),
                safe(program.schedule.channels[use.channel].label),
                "–" if tube.fitted is None else f"{tube.fitted:%Y-%m-%d %H:%M}",
                f"{use.hours.lit_hours:.1f}",
                "–" if after is None else number_text(after, 0),
                light,
                _burn_in_text(use),
                due,
            )
        )
    return Numbers(
        caption="Tubes by the last date",
        head=(
            "tube",
            "channel",
            "fitted",
            "lit hours",
            "replace after, h",
            "light %",
            "burn-in",
            "due",
        ),
        rows=tuple(rows),
    )


def _burn_in_text(use: TubeUse) -> str:
    if use.hours.owed_hours > 0:
        return f"owes {number_text(use.hours.owed_hours, 1)} h at full"
    if use.hours.paid_at is not None:
        return f"paid on {use.hours.paid_at:%Y-%m-%d}"
    return "nothing owed"
