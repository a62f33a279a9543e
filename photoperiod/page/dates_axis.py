"""An axis of dates across a picture."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from photoperiod.page.figure import Shape, Words, line
from photoperiod.page.scales import Scale
from photoperiod.program.dates import DateSpan

#: Labels stand at least so far apart. [user units]
LABEL_GAP = 34.0

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

#: A longer span is told by months, a much longer one by years. [days]
BY_DATE, BY_MONTH = 45, 1200


@dataclass(frozen=True, slots=True)
class DatesAxis:
    """Where the dates of a span stand: number n begins at ``at(n)``, and the last one ends at ``right``."""

    span: DateSpan
    left: float = 8.0
    right: float = 332.0

    def at(self, number: float) -> float:
        """Return where a date begins, by its number from the first date on. [user units]"""
        return Scale(0.0, self.span.days, self.left, self.right).at(number)

    def of(self, date: dt.date) -> float:
        """Return where a date begins. [user units]"""
        return self.at((date - self.span.first).days)

    def holds(self, date: dt.date) -> bool:
        """Return whether a date is within the span."""
        return self.span.first <= date <= self.span.last

    def drawn(self, y: float) -> tuple[list[Shape], list[Words]]:
        """Return the axis: a line, and ticks with the names of dates, months or years."""
        shapes = [line(self.left, y, self.right, y, "axis")]
        words, last = [], -LABEL_GAP
        for date, text in self._named():
            x = self.of(date)
            shapes.append(line(x, y, x, y + 3, "axis"))
            if x - last >= LABEL_GAP and x <= self.right - LABEL_GAP / 2:
                is_first = x < self.left + LABEL_GAP / 3  # it begins at its tick, not to stick out
                words.append(Words(x, y + 14, text, "" if is_first else "middle"))
                last = x + LABEL_GAP / 2 if is_first else x
        return shapes, words

    def _named(self) -> Iterator[tuple[dt.date, str]]:
        """Return the dates that have a tick, with their names."""
        days = self.span.days
        for date in self.span:
            if days <= BY_DATE:
                yield date, f"{date:%m-%d}"
            elif date.day == 1 and days <= BY_MONTH:
                yield date, month_text(date)
            elif date.day == 1 and date.month == 1:
                yield date, f"{date:%Y}"


def month_text(date: dt.date) -> str:
    """Return the name of a date's month, whatever the locale; January has its year.

    With an apostrophe: "Jan 27" would be a day.
    """
    name = MONTHS[date.month - 1]
    return f"{name} ’{date:%y}" if date.month == 1 else name
