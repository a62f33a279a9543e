from __future__ import annotations

from photoperiod.report.costs import energy_lines, money
from tests.upkeep.bench import program

FLAT = "costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.109}}\n"


def lines(*dates: str, **changes: object) -> list[str]:
    return [line for line in energy_lines(program(*dates, **changes), None) if line]


def test_a_day_and_a_year_of_it() -> None:
    # 50 W for 9 h: 0.45 kWh, 0.05 a day, 17.90 a year at 0.109 per kWh
    assert lines(top=FLAT) == [
        "energy: 0.45 kWh a day", "COST IN EUR", "channel  kWh a day  power a day",
        "blue     0.45       0.05", "a year like this: 164.2 kWh, 17.90 EUR of power",
    ]  # fmt: skip


def test_months_and_then_years_have_a_line_each() -> None:
    found = lines("2027-01-01", "2027-12-31", top=FLAT, a=", fitted: 2027-05-02, price: 14.5")
    assert "2027-05  14.0  1.52   14.50" in found  # 31 × 0.45 kWh
    assert "2027-06  13.5  1.47   0.00" in found
    assert "1 tube fitted within the dates: 14.50 EUR" in found
    found = lines("2027-01-01", "2028-12-31", top=FLAT)
    assert "2027  164.2  17.90  0.00" in found
    assert "2028  164.7  17.95  0.00" in found  # a leap year: 0.45 kWh more


def test_what_is_missing_is_asked_for() -> None:
    assert lines() == ["energy: 0.45 kWh a day"]
    assert lines(watts="{full: 90, floor: 90}")[1].startswith("in doubt for blue:")
    assert "`tariff`" in lines(top="costs: {currency: EUR}\n")[-1]
    civil = (
        "costs: {currency: EUR, tariff: {kind: hours, hours: [{start: 00:00, end: 08:00, per_kwh: 1},"
        " {start: 08:00, end: 24:00, per_kwh: 2}]}}\n"
    )
    assert lines(top=civil)[-1] == "what power costs hangs on the date: compile with dates"
    assert (money(None), money(1.005)) == ("-", "1.00")
    no_price = lines("2027-05-01", "2027-05-31", top=FLAT, a=", fitted: 2027-05-02")
    assert no_price[-1] == "1 tube fitted within the dates; without a price: a"
