"""Spans of dates, and how long they may be."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from photoperiod.errors import WrongUse

#: A longer span is a slip of the pen: ten years, of which three may be leap years.
MAX_DAYS = 3_653


@dataclass(frozen=True, slots=True)
class DateSpan:
    """Dates in a row, both ends included, on the plan's clock.

    Raises
    ------
    ValueError
        If the last date is before the first, or if there are more than `MAX_DAYS` dates.
    """

    first: dt.date
    last: dt.date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"the span runs backwards: {self.first} is after {self.last}")
        if self.days > MAX_DAYS:
            raise ValueError(f"a span has at most ten years, not {self.days:,} days")

    @property
    def days(self) -> int:
        """How many dates there are."""
        return (self.last - self.first).days + 1

    def __iter__(self) -> Iterator[dt.date]:
        return (self.first + dt.timedelta(days=n) for n in range(self.days))


#: One date, the first and the last of a span, or the span; None for a day of no date.
Dates = dt.date | tuple[dt.date, dt.date] | DateSpan | None


def as_span(dates: Dates) -> DateSpan | None:
    """Return dates as a span, None for a day of no date.

    Raises
    ------
    WrongUse
        If the span runs backwards or is too long.
    TypeError
        If they are of another type.
    """
    if dates is None or isinstance(dates, DateSpan):
        return dates
    if isinstance(dates, tuple) and len(dates) != 2:
        raise TypeError(f"a span is the first and the last date, not {dates!r}")
    first, last = dates if isinstance(dates, tuple) else (dates, dates)
    for date in (first, last):
        if not isinstance(date, dt.date) or isinstance(date, dt.datetime):
            raise TypeError(f"a date is a datetime.date, not {date!r}")
    try:
        return DateSpan(first, last)
    except ValueError as error:
        raise WrongUse(str(error)) from None
