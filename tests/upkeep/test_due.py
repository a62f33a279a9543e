"""When tubes are due: hours and months are counted by hand."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.upkeep.due import LitHours, Reason, forecast, months_later
from tests.upkeep.bench import program

#: The lamp of the bench is lit for nine hours a day.
LIT_H = 9
FIRST, LAST = "2027-01-01", "2027-12-31"


def due(keys: str, first: str = FIRST, last: str = LAST) -> dict[str, str]:
    (one,) = forecast(program(first, last, a=keys))
    return {str(reason): date.isoformat() for reason, date in one.due.items()}


def test_hours_become_a_date_within_the_dates_and_after_them() -> None:
    # 900 h at 9 h a day are over with the 100th day: 10 April
    assert due(", fitted: 2027-01-01, replace_after_hours: 900") == {"hours": "2027-04-10"}
    assert due(", lit_hours: 450, replace_after_hours: 900") == {"hours": "2027-02-19"}
    # 9,000 h are 1,000 days: 2029-09-26 is the thousandth, two years after the last date
    date = dt.date(2027, 1, 1) + dt.timedelta(days=999)
    assert due(", fitted: 2027-01-01, replace_after_hours: 9000") == {"hours": date.isoformat()}


def test_the_forecast_does_not_hang_on_how_long_the_dates_are() -> None:
    keys = ", fitted: 2027-01-01, replace_after_hours: 9000"
    assert due(keys, last="2027-01-31") == due(keys, last="2029-12-31")


def test_what_comes_first_counts() -> None:
    keys = ", fitted: 2027-01-01T08:00, replace_after_hours: 9000, replace_after_months: 9"
    (one,) = forecast(program(FIRST, LAST, a=keys))
    assert one.first_due == (dt.date(2027, 10, 1), Reason.MONTHS)
    assert due(", replace_after_months: 9") == {}  # without `fitted` months tell nothing
    assert due("") == {}


def test_no_verdict_by_light_without_a_measured_fade() -> None:
    # 5 % in 1,000 h: 90 % after 2,054 h. But nobody measured it.
    keys = (
        ", replace_below_percent: 90, depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"
    )
    assert due(keys) == {}


@pytest.mark.parametrize(
    ("date", "months", "expected"),
    [
        ("2027-03-02", 9, "2027-12-02"), ("2027-12-31", 2, "2028-02-29"), ("2027-01-31", 1, "2027-02-28"),
        ("2027-06-15", 4.5, "2027-10-30"),  # half a month is 15 days
    ],
)  # fmt: skip
def test_months_of_the_calendar(date: str, months: float, expected: str) -> None:
    assert months_later(dt.date.fromisoformat(date), months).isoformat() == expected


def test_lit_hours_between_dates() -> None:
    hours = LitHours(program(FIRST, LAST))
    first = dt.date(2027, 1, 1)
    assert hours.between("blue", first, dt.date(2027, 1, 11)) == pytest.approx(10 * LIT_H)
    assert hours.between("blue", first, dt.date(2030, 1, 1)) == pytest.approx(
        3 * 365 * LIT_H + LIT_H
    )
    assert hours.between("blue", dt.date(2026, 12, 22), first) == pytest.approx(10 * LIT_H)
    assert hours.date_of("blue", first, 1e9) is None


def test_light_and_leaving_are_told() -> None:
    keys = (
        ", fitted: 2027-01-01, lit_hours: 100, depreciation: {kind: points, points:"
        " [{lit_hours: 100, light_percent: 100}, {lit_hours: 3385, light_percent: 80}]}"
    )
    (one,) = forecast(program(FIRST, LAST, a=keys))
    # 365 days of 9 h are 3,285 h
    assert (one.lit_hours_at_start, one.lit_hours_at_end) == (100, pytest.approx(3385))
    assert (one.light_at_start, one.light_at_end) == (1.0, pytest.approx(0.8))
    assert one.left_on is None
