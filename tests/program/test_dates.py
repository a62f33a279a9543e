"""Spans of dates."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.errors import WrongUse
from photoperiod.program.dates import MAX_DAYS, DateSpan, as_span


def test_spans_of_dates() -> None:
    first = dt.date(2027, 2, 27)
    span = DateSpan(first, dt.date(2027, 3, 2))
    assert span.days == 4
    assert [date.day for date in span] == [27, 28, 1, 2]
    assert list(DateSpan(first, first)) == [first]
    assert DateSpan(first, first + dt.timedelta(days=MAX_DAYS - 1)).days == MAX_DAYS
    with pytest.raises(ValueError, match="backwards"):
        DateSpan(first, dt.date(2027, 2, 26))
    with pytest.raises(ValueError, match="ten years"):
        DateSpan(first, first + dt.timedelta(days=MAX_DAYS))


def test_dates_of_a_caller_become_a_span() -> None:
    first, last = dt.date(2027, 3, 1), dt.date(2027, 3, 2)
    assert as_span(None) is None
    assert as_span(first) == DateSpan(first, first)
    assert as_span((first, last)) == as_span(DateSpan(first, last)) == DateSpan(first, last)
    with pytest.raises(WrongUse, match="backwards"):
        as_span((last, first))
    with pytest.raises(TypeError, match="is a datetime"):
        as_span((first, "2027-03-02"))  # type: ignore[arg-type]
