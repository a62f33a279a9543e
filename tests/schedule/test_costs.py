from __future__ import annotations

from photoperiod.schedule.costs import Costs, PricedHours, Tariff


def test_hours_that_cross_midnight_are_two_stretches_of_a_day() -> None:
    night = PricedHours(start_s=79_200, end_s=25_200, per_kwh=0.1)
    assert night.spans == ((79_200, 86_400), (0, 25_200))
    assert PricedHours(start_s=0, end_s=86_400, per_kwh=0.1).spans == ((0, 86_400),)
    assert PricedHours(start_s=79_200, end_s=0, per_kwh=0.1).spans == ((79_200, 86_400),)


def test_a_tariff_of_one_price_is_flat_however_it_is_written() -> None:
    halves = tuple(
        PricedHours(start_s=begin, end_s=begin + 43_200, per_kwh=0.2) for begin in (0, 43_200)
    )
    assert Tariff(hours=halves).is_flat
    assert Costs(currency="EUR").path == ("costs",)
