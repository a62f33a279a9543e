from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.schedule.consistency import faults_of
from photoperiod.schedule.costs import Costs, PricedHours, Tariff
from photoperiod.sky.clock import ClockKind
from tests.conftest import SCHEDULE, load

TARIFF = "costs:\n  currency: EUR\n  tariff:\n    kind: hours\n    clock: standard\n    hours:\n"


def priced(*hours: tuple[str, str]) -> str:
    return "".join(
        f"      - {{start: {start}, end: {end}, per_kwh: 0.2}}\n" for start, end in hours
    )


def found(hours: str, head: str = TARIFF) -> list[tuple[str, int, str]]:
    report = load("test.yaml", (head + hours + SCHEDULE).encode()).report
    return [(d.code, d.source_range.line if d.source_range else 0, d.message) for d in report]


def test_all_hours_of_a_day_have_one_price() -> None:
    good = priced(("22:00", "07:00"), ("07:00", "22:00"))
    assert found(good) == []
    outcome = load("test.yaml", (TARIFF + good + SCHEDULE).encode())
    assert outcome.schedule is not None and outcome.schedule.costs is not None
    assert outcome.schedule.costs.tariff is not None
    assert outcome.schedule.costs.tariff.clock is ClockKind.STANDARD


@pytest.mark.parametrize(
    ("hours", "expected"),
    [
        (priced(("07:00", "22:00"), ("23:00", "07:00")),
         [("PHO350", 6, "from 22:00 to 23:00 power has no price")]),
        (priced(("00:30", "24:00")),
         [("PHO350", 6, "from 00:00 to 00:30 power has no price")]),
        (priced(("00:00", "12:00")),
         [("PHO350", 6, "from 12:00 to 24:00 power has no price")]),
        (priced(("06:00", "22:00"), ("22:00", "07:00")),
         [("PHO351", 7, "from 06:00 to 07:00 power has two prices")]),
    ],
)  # fmt: skip
def test_gaps_and_overlaps_are_told_where_they_stand(
    hours: str, expected: list[tuple[str, int, str]]
) -> None:
    assert found(hours) == expected


@pytest.mark.parametrize(
    ("head", "code"),
    [
        ("costs: {currency: euro}\n", "PHO206"),
        ("costs: {tariff: {kind: flat, per_kwh: 0.2}}\n", "PHO202"),
        ("costs: {currency: EUR, tariff: {kind: flat}}\n", "PHO202"),
        ("costs: {currency: EUR, tariff: {kind: flat, per_kwh: -0.2}}\n", "PHO205"),
        ("costs: {currency: EUR, tariff: {kind: hours, hours: []}}\n", "PHO207"),
        ("costs: {currency: EUR, tariff: {kind: weekly}}\n", "PHO204"),
        ("costs: {currency: EUR, tariff: {kind: flat, per_kwh: .nan}}\n", "PHO112"),
        ("costs: {currency: EUR, tariff: {kind: hours, hours: [{start: 00:00, end: 25:00, per_kwh: 1}]}}\n",
         "PHO206"),
        ("costs: {currency: EUR, tariff: {kind: hours, hours: ["
         "{start: 00:00, end: 08:00, per_kwh: 1}, {start: 08:00, end: 24:00, per_kwh: 2}]}}\n", "PHO329"),
    ],
)  # fmt: skip
def test_ten_wrong_ways_to_write_costs(head: str, code: str) -> None:
    assert [each[0] for each in found("", head)] == [code]


def test_a_price_of_a_tube_needs_a_currency() -> None:
    text = SCHEDULE.replace("{watts: 54}", "{watts: 54, price: 14.5}")
    (one,) = load("test.yaml", text.encode()).report
    assert one.code == "PHO352" and one.source_range is not None
    assert load("test.yaml", ("costs: {currency: EUR}\n" + text).encode()).schedule is not None


def test_a_tariff_built_in_python_is_held_against_the_same_rules() -> None:
    schedule = load("test.yaml", SCHEDULE.encode()).schedule
    assert schedule is not None
    gap = Tariff(hours=(PricedHours(start_s=0, end_s=43_200, per_kwh=0.2),))
    costs = Costs(currency="EUR", tariff=gap)
    assert [d.code for d in faults_of(replace(schedule, costs=costs))] == ["PHO350"]
