"""Spans of dates, and how long they may be."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

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
