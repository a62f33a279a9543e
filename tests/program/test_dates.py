"""Spans of dates."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.program.dates import MAX_DAYS, DateSpan


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
