"""What ballasts take from the mains, by hand; most of it where a part is out."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.dated_tables import compile_program
from photoperiod.upkeep.power_use import power_use
from tests.changes.bench import scheduled, span
from tests.program.test_part_losses import BALLAST, OUT, STOPS, TUBED

#: Two ballasts of 100 W at full, 25 W at the floor, 3 W in the dark with mains.
TWO = TUBED.replace("    ballast_count: 1\n    tubes", "    ballast_count: 2\n    tubes").replace(
    "    below_floor: nearest\n",
    "    below_floor: nearest\n    watts: {full: 100, floor: 25, dark: 3}\n",
    1,
)
DATES = "2027-05-02", "2027-05-03"


def days(*changes: str) -> tuple[ChannelDay, ChannelDay]:
    """Blue on the date before a part goes out, and on that on which it does."""
    program = compile_program(scheduled(*changes, text=TWO), span(*DATES))
    before, after = program.tables
    assert after.span is not None and after.span.first == dt.date(2027, 5, 3)
    return before.channels["blue"], after.channels["blue"]


def test_the_whole_channel() -> None:
    """The line between floor and full, 1 % of light at 25 W: all of two ballasts while they burn."""
    whole, _ = days(BALLAST)
    light = whole.replay.light[whole.replay.lit]
    watts = 2 * (25 + 75 * (light - 0.01) / 0.99)
    assert whole.energy_kwh == pytest.approx(watts.sum() / 3.6e6)


def test_a_ballast_that_is_out_takes_nothing() -> None:
    whole, half = days(BALLAST)
    assert whole.energy_kwh and half.energy_kwh
    assert half.energy_kwh == pytest.approx(whole.energy_kwh / 2)
    assert half.mains_watts is not None and whole.mains_watts is not None
    assert half.mains_watts.sum() == pytest.approx(whole.mains_watts.sum() / 2)


def test_a_ballast_that_stops_takes_its_dark_watts_while_it_has_mains() -> None:
    whole, half = days(STOPS)
    assert whole.energy_kwh and half.energy_kwh
    mains_h = float(whole.replay.relay_on.sum()) / 3600
    assert mains_h > 5
    assert half.energy_kwh == pytest.approx(whole.energy_kwh / 2 + 3 * mains_h / 1000)


def test_a_ballast_that_goes_on_takes_less_by_the_share_of_its_tube() -> None:
    """36 W of 54 W and 36 W are out."""
    whole, less = days(OUT)
    assert whole.energy_kwh and less.energy_kwh
    assert less.energy_kwh == pytest.approx(whole.energy_kwh * 54 / 90)


def test_hours_of_a_tariff_price_what_is_left() -> None:
    """All hours at 0.5, told by the hour: one of two ballasts is out on the second two dates."""
    costs = (
        "costs:\n  currency: EUR\n  tariff:\n    kind: hours\n    clock: standard\n    hours:\n"
        "      - {start: 00:00, end: 12:00, per_kwh: 0.5}\n"
        "      - {start: 12:00, end: 24:00, per_kwh: 0.5}\n"
    )
    schedule = scheduled(BALLAST, text=f"{costs}{TWO}")
    use = power_use(compile_program(schedule, span("2027-05-01", "2027-05-04"))).channels["blue"]
    assert use.cost == pytest.approx(use.kwh * 0.5)


def test_energy_of_the_dates_and_its_price_follow() -> None:
    costs = "costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.5}}\n"
    text = f"{costs}{TWO}"
    program = compile_program(scheduled(BALLAST, text=text), span("2027-05-01", "2027-05-04"))
    whole = program.tables[0].channels["blue"].energy_kwh
    use = power_use(program).channels["blue"]
    assert whole and use.kwh == pytest.approx(whole * (1 + 1 + 0.5 + 0.5))
    assert use.cost == pytest.approx(use.kwh * 0.5)
