from __future__ import annotations

import pytest

from photoperiod.program.dated_tables import compile_program
from photoperiod.upkeep.power_use import DAYS_PER_YEAR, Use, day_uses, power_use, together
from tests.conftest import load
from tests.upkeep.bench import SQUARE, TOLERANCE, USUAL, program

FLAT = "costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.109}}\n"


def test_a_year_of_50_watts_for_nine_hours_a_day() -> None:
    # 50 W × 9 h × 365 = 164.25 kWh; at 0.109 it is 17.90: a worked example of common practice, no source
    use = power_use(program("2027-01-01", "2027-12-31", top=FLAT))
    assert use.total.kwh == pytest.approx(164.25, rel=TOLERANCE)
    assert use.total.cost == pytest.approx(164.25 * 0.109, rel=TOLERANCE)
    assert f"{use.total.cost:.2f}" == "17.90"
    assert use.a_year == use.total
    one_day = power_use(program(top=FLAT))
    assert one_day.total.kwh == pytest.approx(0.45, rel=TOLERANCE)
    assert f"{one_day.a_year.cost:.2f}" == "17.90"


@pytest.mark.parametrize(("tubes", "watts"), [(6, 324), (8, 432)])
def test_tubes_of_54_watts_together(tubes: int, watts: int) -> None:
    # Six 54 W tubes are 324 W, eight 432 W: arithmetic. A ballast for each, without losses.
    fixture = program(watts="{full: 54, floor: 54}", start="10:00", end="11:00")
    hour = fixture.channels["blue"]
    assert hour.energy_kwh is not None
    assert tubes * hour.energy_kwh * 1000 == pytest.approx(watts, rel=TOLERANCE)


def test_months_and_years_add_up() -> None:
    use = power_use(program("2027-02-01", "2028-02-29", top=FLAT))
    assert use.days == 365 + 29
    # 28, 31 and 29 days: February 2027, March 2027 and February 2028, a leap year
    assert use.months[2027, 2]["blue"].kwh == pytest.approx(28 * 0.45, rel=TOLERANCE)
    assert use.months[2027, 3]["blue"].kwh == pytest.approx(31 * 0.45, rel=TOLERANCE)
    assert use.months[2028, 2]["blue"].kwh == pytest.approx(29 * 0.45, rel=TOLERANCE)
    assert list(use.years) == [2027, 2028]
    for parts in (use.months, use.years):
        assert sum(part["blue"].kwh for part in parts.values()) == pytest.approx(use.total.kwh)
    assert use.a_year.kwh == pytest.approx(DAYS_PER_YEAR * 0.45, rel=TOLERANCE)


def hours(clock: str) -> str:
    return (
        f"costs:\n  currency: EUR\n  tariff:\n    kind: hours\n    clock: {clock}\n    hours:\n"
        "      - {start: 18:00, end: 08:00, per_kwh: 0.1}\n"
        "      - {start: 08:00, end: 18:00, per_kwh: 0.3}\n"
    )


def test_each_hour_has_its_price() -> None:
    # 10:00 to 19:00 at 50 W: eight hours at 0.30 and one at 0.10
    day = power_use(program(top=hours("standard"))).total
    assert day.cost == pytest.approx(0.05 * (8 * 0.3 + 0.1), rel=TOLERANCE)


@pytest.mark.parametrize(
    ("first", "last", "dear_hours"),
    [
        # Summer time of Atlantic/Azores in 2027: 28 March to 31 October. Then 10:00 to 19:00 standard time
        # is 11:00 to 20:00 by the contract: seven dear hours instead of eight.
        ("2027-03-27", "2027-03-27", 8), ("2027-03-28", "2027-03-28", 7),
        ("2027-07-01", "2027-07-31", 7 * 31),
        ("2027-10-31", "2027-10-31", 8), ("2027-03-01", "2027-03-31", 8 * 27 + 7 * 4),
    ],
)  # fmt: skip
def test_prices_keep_the_clock_of_the_contract(first: str, last: str, dear_hours: int) -> None:
    use = power_use(program(first, last, top=hours("civil"))).total
    assert use.kwh * 20 == pytest.approx(9 * (use.kwh / 0.45), rel=TOLERANCE)
    lit_hours = use.kwh / 0.05
    wanted = 0.05 * (dear_hours * 0.3 + (lit_hours - dear_hours) * 0.1)
    assert use.cost == pytest.approx(wanted, rel=TOLERANCE)


def test_a_date_of_25_hours_is_paid_for_25_hours() -> None:
    # As much in standby as lit: 2 W all day of 25 h; the clock of the Azores goes back at 01:00, a cheap hour
    use = power_use(
        program("2027-10-31", "2027-10-31", top=hours("civil"), clock="civil",
                watts="{full: 2, floor: 2, dark: 2}",
                dark="{kind: standby, below_volts: 0.5, keeps_mains: true}")
    ).total  # fmt: skip
    assert use.kwh == pytest.approx(25 * 0.002, rel=TOLERANCE)
    assert use.cost == pytest.approx(0.002 * (15 * 0.1 + 10 * 0.3), rel=TOLERANCE)


# The relay is open for 15 of 24 h, whichever makes the lamp dark; 50 W for the other nine.
@pytest.mark.parametrize(
    "dark", ["{kind: relay}", "{kind: standby, below_volts: 0.5}"], ids=["relay", "standby"]
)
def test_behind_an_open_relay_nothing_is_taken(dark: str) -> None:
    use = power_use(program(dark=dark, watts="{full: 50, floor: 50, dark: 2}")).total
    assert use.kwh == pytest.approx(9 * 0.05, rel=TOLERANCE)


def test_a_relay_that_follows_the_level_takes_the_mains_away_too() -> None:
    text = SQUARE.replace(
        "relay: {{kind: column}}", "relay: {{kind: follows-level, on_level_percent: 10}}"
    )
    outcome = load(
        "test.yaml", text.format(**(USUAL | {"watts": "{full: 50, floor: 50, dark: 2}"})).encode()
    )
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    use = power_use(compile_program(outcome.schedule, None)).total
    assert use.kwh == pytest.approx(9 * 0.05, rel=TOLERANCE)


def test_prices_of_another_clock_need_dates() -> None:
    assert power_use(program(top=hours("civil"))).total.cost is None
    assert power_use(program(top=hours("civil"), clock="civil")).total.cost is not None


def test_what_is_not_known_is_said() -> None:
    use = power_use(program())
    assert (use.total.cost, use.unknown, use.in_doubt) == (None, (), ())
    use = power_use(program(watts="{full: 90, floor: 50}"))
    assert use.in_doubt == ("blue",)  # a tube of 50 W on a ballast of 90 W: 0.56
    assert together({}) == Use(0.0, None)


def test_a_day_of_a_table() -> None:
    p = program("2027-03-27", "2027-03-28", top=hours("civil"))
    assert day_uses(p, p.tables[0])["blue"].cost == pytest.approx(0.05 * (8 * 0.3 + 0.1))
