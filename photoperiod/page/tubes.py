"""How are the tubes? A strip for each, as thick as its light: slit, solid head and cut say the rest."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from photoperiod.arrays import Floats, np
from photoperiod.page.dates_axis import DatesAxis
from photoperiod.page.figure import Figure, Numbers, Shape, Words, named
from photoperiod.page.trace import area_path, line_path
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, TubeUse
from photoperiod.schedule.tube_places import left_at
from photoperiod.text import and_list, number_text, safe
from photoperiod.upkeep.due import LitHours, Reason, forecast

#: A strip with what stands above it, and how thick 100 % of light is. [user units]
STRIP, NAME, FULL = 34.0, 13.0, 14.0

MOST_LETTERS = 24


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
    due : (date, Reason) or None
        The first date on which it is to be replaced, maybe after the dates, and by what.
    due_number : int or None
        The number of that date; None if it is not within the dates.
    paid : int or None
        Up to which date it owes burn-in; None if it never owed any.
    """

    use: TubeUse
    first: int
    stop: int
    hours: Floats
    due: tuple[dt.date, Reason] | None
    due_number: int | None
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
    left, hours = left_at(program.schedule), LitHours(program)
    due = {each.tube.id: each.first_due for each in forecast(program)}
    return tuple(
        _tube_dates(span, use, left.get(id), hours, due.get(id))
        for id, use in program.tubes.items()
    )


def _tube_dates(
    span: DateSpan,
    use: TubeUse,
    left: dt.datetime | None,
    lit: LitHours,
    due: tuple[dt.date, Reason] | None,
) -> TubeDates:
    first, stop = _number(span, use.tube.fitted, 0), _number(span, left, span.days)
    dates = [span.first + dt.timedelta(days=n) for n in range(span.days + 1)]
    since = dates[min(first, span.days)]
    burned = np.array(
        [
            lit.between(use.channel, since, dates[min(max(n, first), stop)])
            for n in range(len(dates))
        ]
    )
    # What was followed second by second is right; dates alone are not, on that of a fitting.
    whole = use.hours.lit_hours - use.hours.lit_hours_before
    hours = use.hours.lit_hours_before + burned * (whole / burned[-1] if burned[-1] else 0.0)
    is_within = due is not None and due[0] <= span.last and use.is_fitted
    number = max((due[0] - span.first).days, 0) if due is not None and is_within else None
    return TubeDates(use, first, stop, hours, due, number, _paid(span, use))


def _number(span: DateSpan, moment: dt.datetime | None, default: int) -> int:
    """Return the number of a date of the span; of one outside, the nearest end."""
    if moment is None:
        return default
    return min(max((moment.date() - span.first).days, 0), span.days)


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
    due = each.due_number
    last = each.stop if due is None else min(due, each.stop)
    if last > each.first:
        shapes.append(Shape(_band(light, each.first, last, axis, middle), "tube"))
    if each.paid is not None and each.paid > each.first:
        shapes.append(Shape(_band(light, each.first, each.paid, axis, middle), "solid"))
    if due is not None and each.stop > due:
        shapes.append(Shape(_band(light, due, each.stop, axis, middle), "overdue"))
        x = axis.at(due)
        cut_line = [(x, middle - 9), (x + 3, middle - 3), (x - 3, middle + 3), (x, middle + 9)]
        shapes.append(Shape(line_path(cut_line), "cut"))
    if tube.fitted is not None and axis.holds(tube.fitted.date()):
        x = axis.at(each.first)
        for side in (-1.2, 1.2):
            shapes.append(
                Shape(line_path([(x + side, middle - 9), (x + side, middle + 9)]), "slit")
            )
    return shapes, [
        named(axis.left, top - 3, tube.label, MOST_LETTERS),
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
    rows = []
    for each in tubes:
        use, tube = each.use, each.use.tube
        light = "not declared"
        if tube.depreciation is not None:
            light = f"{float(each.light[0]) * 100:.1f} to {float(each.light[-1]) * 100:.1f}"
        rows.append(
            (
                safe(tube.label),
                safe(program.schedule.channels[use.channel].label),
                "–" if tube.fitted is None else f"{tube.fitted:%Y-%m-%d %H:%M}",
                f"{use.hours.lit_hours:.1f}",
                light,
                _burn_in_text(use),
                "not told" if each.due is None else f"{each.due[0]} by {each.due[1]}",
            )
        )
    return Numbers(
        caption="Tubes by the last date",
        head=("tube", "channel", "fitted", "lit hours", "light %", "burn-in", "due"),
        rows=tuple(rows),
        note="What is due after the dates is a forecast: hours go on as on the last dates.",
    )


def _burn_in_text(use: TubeUse) -> str:
    if use.hours.owed_hours > 0:
        return f"owes {number_text(use.hours.owed_hours, 1)} h at full"
    if use.hours.paid_at is not None:
        return f"paid on {use.hours.paid_at:%Y-%m-%d}"
    return "nothing owed"
