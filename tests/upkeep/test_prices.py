from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.upkeep.prices import DayPrices
from tests.upkeep.bench import schedule

TOP = (
    "costs:\n  currency: EUR\n  tariff:\n    kind: hours\n    clock: {clock}\n    hours:\n"
    "      - {{start: 00:00, end: 12:00, per_kwh: 1}}\n"
    "      - {{start: 12:00, end: 24:00, per_kwh: 2}}\n"
)
HOUR = 3600


def prices(clock: str = "civil", controller: str = "standard") -> DayPrices:
    return DayPrices(schedule(top=TOP.format(clock=clock), clock=controller))


@pytest.mark.parametrize(
    ("date", "dear_from_hour"),
    [
        # Atlantic/Azores is UTC−1, in summer UTC+0: noon of the contract is 11:00 standard time then.
        (dt.date(2027, 1, 15), 12), (dt.date(2027, 7, 15), 11), (dt.date(2027, 3, 28), 11),
        (dt.date(2027, 10, 31), 12), (dt.date(2027, 10, 30), 11),
    ],
)  # fmt: skip
def test_noon_of_the_contract_on_the_clock_of_the_controller(
    date: dt.date, dear_from_hour: int
) -> None:
    each = prices()
    by_second = each.of(each.key_of(date))
    assert by_second.shape == (86_400,)
    lit = by_second[12 * HOUR - HOUR : 12 * HOUR]
    assert set(lit) == {2.0 if dear_from_hour == 11 else 1.0}


def test_dates_with_the_same_clocks_share_their_prices() -> None:
    each = prices()
    assert each.key_of(dt.date(2027, 6, 1)) == each.key_of(dt.date(2027, 8, 1)) == HOUR
    # Clocks of the Azores change at 01:00 UTC: midnight by standard time, so that no day is cut.
    assert each.key_of(dt.date(2027, 3, 28)) == HOUR and each.key_of(dt.date(2027, 3, 27)) == 0
    assert prices("standard").key_of(dt.date(2027, 3, 28)) == 0
    assert prices("civil", "utc").key_of(dt.date(2027, 3, 28)) == dt.date(2027, 3, 28)
    assert each.needs_dates and not prices("standard").needs_dates


def test_a_date_of_23_hours_has_prices_for_23_hours() -> None:
    each = prices("civil", "civil")
    key = each.key_of(dt.date(2027, 3, 28))
    assert each.of(key).shape == (23 * HOUR,)
    assert each.spans_on(dt.date(2027, 3, 28)) == [(HOUR, 24 * HOUR)]


def test_a_clock_that_changes_within_a_day_of_the_controller() -> None:
    # Controller on UTC: until 01:00 UTC the contract is an hour behind, then at one; both times before noon.
    each = prices("civil", "utc")
    by_second = each.of(each.key_of(dt.date(2027, 3, 28)))
    # 00:00 to 01:00 UTC is 23:00 to 24:00 of the day before: dear
    assert set(by_second[:HOUR]) == {2.0} and set(by_second[HOUR : 12 * HOUR]) == {1.0}
    assert set(by_second[12 * HOUR :]) == {2.0}


def test_one_price_needs_no_clock() -> None:
    each = DayPrices(schedule(top="costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.2}}\n"))
    assert each.flat == 0.2 and each.key_of(dt.date(2027, 3, 28)) == 0
