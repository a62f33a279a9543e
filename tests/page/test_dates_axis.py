from __future__ import annotations

import datetime as dt
from itertools import pairwise

import pytest

from photoperiod.page.dates_axis import LABEL_GAP, DatesAxis, month_text
from photoperiod.program.dates import DateSpan

FIRST = dt.date(2027, 3, 1)


def axis(days: int) -> DatesAxis:
    return DatesAxis(DateSpan(FIRST, FIRST + dt.timedelta(days=days - 1)), left=0.0, right=310.0)


def test_dates_stand_in_even_steps_and_the_last_one_ends_at_the_edge() -> None:
    month = axis(31)
    assert month.of(FIRST) == 0
    assert month.of(dt.date(2027, 3, 11)) == pytest.approx(100)
    assert month.at(31) == 310
    assert month.holds(dt.date(2027, 3, 31))
    assert not month.holds(dt.date(2027, 4, 1))


@pytest.mark.parametrize(
    ("days", "named"), [(10, "03-03"), (365, "May"), (365, "Jan ’28"), (3000, "2030")]
)
def test_names_are_dates_months_or_years(days: int, named: str) -> None:
    shapes, words = axis(days).drawn(50)
    assert named in [each.text for each in words]
    gaps = [b.x - a.x for a, b in pairwise(words)]
    assert min(gaps) >= LABEL_GAP
    assert len(shapes) > len(words)


def test_months_have_the_same_names_everywhere() -> None:
    assert month_text(dt.date(2027, 5, 9)) == "May"
    assert month_text(dt.date(2028, 1, 1)) == "Jan ’28"
