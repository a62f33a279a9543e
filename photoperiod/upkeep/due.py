"""When each tube is due, by its hours, its months and its measured light: forecast from a program.

Within the dates of a program hours are those of its tables. After them they go on as on its last dates.
"""

from __future__ import annotations

import calendar
import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.program.model import Program, TubeUse
from photoperiod.schedule.tube import Tube
from photoperiod.schedule.tube_places import left_at
from photoperiod.units import SECONDS_PER_HOUR

#: Days of a part of a month: a twelfth of a mean year.
DAYS_PER_MONTH = 365.2425 / 12

#: Hours after the dates are forecast by those of so many last dates, so that seasons even out.
DATES_OF_A_YEAR = 365

#: A forecast that lies farther off than this is none. Our choice.
MOST_DAYS_AHEAD = 20 * 365

#: What is told wherever a tube is due. That a new tube gives more light than the old one follows from its
#: loss; what each way takes is what `photoperiod tubes` compares.
WAYS_TO_REPLACE = (
    "All tubes on one day take the fewest loads, but the light of all jumps at once; a channel a week takes"
    " more loads, and the light rises less at a time (`photoperiod tubes` compares them)"
)


class Reason(StrEnum):
    """What a tube is due by."""

    HOURS = "hours"  # replace_after_hours
    MONTHS = "months"  # replace_after_months
    LIGHT = "light"  # replace_below_percent, where the fade was measured


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeForecast:
    """One tube over the dates, and when it is due.

    Parameters
    ----------
    tube, channel : Tube, str
        The tube, and the id of its channel.
    lit_hours_at_start, lit_hours_at_end : float
        As the dates begin, or it is fitted; and as they end, or it leaves. [h]
    light_at_start, light_at_end : float or None
        Its light then, beside that at 100 h; None where no loss is declared. [ratio]
    left_on : date or None
        When it leaves its place within the dates.
    due : mapping of Reason to date
        When it is due by what is told.
    """

    tube: Tube
    channel: str
    lit_hours_at_start: float
    lit_hours_at_end: float
    light_at_start: float | None
    light_at_end: float | None
    left_on: dt.date | None
    due: Mapping[Reason, dt.date]

    @property
    def is_age_unknown(self) -> bool:
        """Whether it counts as new because no fitting, no hours and no ledger tell how old it is."""
        return self.tube.fitted is None and self.lit_hours_at_start == 0

    @property
    def first_due(self) -> tuple[dt.date, Reason] | None:
        """The first date on which it is due, and by what; None if nothing tells."""
        found = [(date, reason) for reason, date in self.due.items()]
        return min(found, default=None)


class LitHours:
    """How long each channel is lit on each date of a program, and after it."""

    def __init__(self, program: Program) -> None:
        assert program.span is not None
        self.first, self.last = program.span.first, program.span.last
        self._sums: dict[str, list[float]] = {}
        for id in program.channels:
            sums = [0.0]
            for table in program.tables:
                hours = table.channels[id].lit_seconds / SECONDS_PER_HOUR
                for _ in table.span or ():
                    sums.append(sums[-1] + hours)
            self._sums[id] = sums

    def between(self, channel: str, begin: dt.date, end: dt.date) -> float:
        """Return the lit hours of a channel from one date to another, the second not counted. [h]"""
        return self._until(channel, end) - self._until(channel, begin)

    def date_of(self, channel: str, begin: dt.date, hours: float) -> dt.date | None:
        """Return the first date after which a channel was lit for some hours since another date.

        None if that lies too far off.
        """
        wanted = self._until(channel, begin) + hours
        low, high = begin, begin + dt.timedelta(days=MOST_DAYS_AHEAD)
        if self._until(channel, high) < wanted:
            return None
        while low < high:
            middle = low + (high - low) // 2
            if self._until(channel, middle + dt.timedelta(days=1)) >= wanted:
                high = middle
            else:
                low = middle + dt.timedelta(days=1)
        return low

    def _until(self, channel: str, date: dt.date) -> float:
        """Return the lit hours from the first date to another, not counted; negative before it. [h]"""
        sums, days = self._sums[channel], (date - self.first).days
        if days < 0:
            return sums[1] * days
        if days < len(sums):
            return sums[days]
        known = min(DATES_OF_A_YEAR, len(sums) - 1)
        mean = (sums[-1] - sums[-1 - known]) / known
        return sums[-1] + mean * (days - len(sums) + 1)


def forecast(program: Program) -> tuple[TubeForecast, ...]:
    """Return the tubes of a program with dates, each with when it is due."""
    assert program.span is not None
    hours, left = LitHours(program), left_at(program.schedule)
    return tuple(
        _forecast(use, hours, left.get(id), program.span.last)
        for id, use in program.tubes.items()
        if use.is_fitted
    )


def due_dates(tube: Tube, channel: str, fitted: dt.date | None, at_h: float, since: dt.date,
              hours: LitHours) -> dict[Reason, dt.date]:  # fmt: skip
    """Return when a tube is due by what is told of it.

    Parameters
    ----------
    tube, channel : Tube, str
        The tube, and the id of the channel where it burns.
    fitted : date or None
        When it was fitted; None if that is not known, so that months tell nothing.
    at_h, since : float, date
        The hours that it had burned as a date began. [h]
    hours : LitHours
        How long channels are lit.
    """
    found: dict[Reason, dt.date | None] = {}
    if tube.replace_after_hours is not None:
        found[Reason.HOURS] = hours.date_of(channel, since, tube.replace_after_hours - at_h)
    if tube.replace_after_months is not None and fitted is not None:
        found[Reason.MONTHS] = months_later(fitted, tube.replace_after_months)
    fade = tube.depreciation
    if tube.replace_below is not None and fade is not None and fade.measured_to_h is not None:
        at = fade.hours_at(tube.replace_below)
        found[Reason.LIGHT] = None if at is None else hours.date_of(channel, since, at - at_h)
    return {reason: date for reason, date in found.items() if date is not None}


def months_later(date: dt.date, months: float) -> dt.date:
    """Return the date some months after another; the last of a month stands for a day that it lacks."""
    part, whole = math.modf(months)
    index = date.year * 12 + date.month - 1 + int(whole)
    year, month = divmod(index, 12)
    day = min(date.day, calendar.monthrange(year, month + 1)[1])
    return dt.date(year, month + 1, day) + dt.timedelta(days=round(part * DAYS_PER_MONTH))


def _forecast(
    use: TubeUse, hours: LitHours, left: dt.datetime | None, last: dt.date
) -> TubeForecast:
    tube, fitted = use.tube, use.tube.fitted
    since = hours.first if fitted is None else max(fitted.date(), hours.first)
    start_h, end_h = use.hours.lit_hours_before, use.hours.lit_hours
    light = None if tube.depreciation is None else tube.depreciation.light_at
    gone = left.date() if left is not None and left.date() <= last else None
    return TubeForecast(
        tube=tube,
        channel=use.channel,
        lit_hours_at_start=start_h,
        lit_hours_at_end=end_h,
        light_at_start=light(start_h) if light else None,
        light_at_end=light(end_h) if light else None,
        left_on=gone,
        due=due_dates(tube, use.channel, fitted and fitted.date(), start_h, since, hours),
    )
