"""What a playable table gives, reckoned by hand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from photoperiod.drive.grid import Row
from photoperiod.player.outputs import at_moment, of_set, on_day, output_state, ppfd, zones
from photoperiod.player.reference import Status
from tests.player.tables import table

ANY = dt.date(2000, 1, 1)
HOUR = 3600

#: Lit at 50 % from 9 to 21 h, with steps of a second.
STEADY = table(
    {None: [Row(9 * HOUR, 50, True), Row(21 * HOUR - 1, 50, True), Row(21 * HOUR, 0, False)]}
)


def square_law(volts: float) -> float:
    """Light of a lamp whose root rises evenly from √0.01 at 1 V to 1 at 10 V."""
    return float((0.1 + 0.9 * (volts - 1) / 9) ** 2)


def test_a_moment_by_hand() -> None:
    """50 % of 12 bits and 10 V is code 2048, 5 V; the root of light is 0.1 + 0.9 · 4/9 = 0.5."""
    status, states = at_moment(STEADY, ANY, 12 * HOUR)
    (state,) = states.values()
    assert status == Status.FINE
    assert (state.count, state.code, state.relay) == (50, 2048, True)
    assert (state.level_percent, state.volts) == (50.0, 5.0)
    assert state.light == pytest.approx(0.25, abs=1e-9)
    _, dark = at_moment(STEADY, ANY, 22 * HOUR)
    assert (dark["blue"].relay, dark["blue"].light) == (False, 0.0)


def test_a_day_is_the_same_as_each_of_its_moments() -> None:
    day = on_day(STEADY, ANY)["blue"]
    assert day.counts.shape == day.relay_on.shape == day.lit.shape == day.light.shape == (86_400,)
    for second in (0, 9 * HOUR - 1, 9 * HOUR, 15 * HOUR, 21 * HOUR - 1, 21 * HOUR, 86_399):
        _, states = at_moment(STEADY, ANY, second)
        state = states["blue"]
        assert (day.counts[second], day.relay_on[second]) == (state.count, state.relay)
        assert day.light[second] == state.light
    assert day.lit.sum() == 12 * HOUR
    # 12 hours of a quarter of full light are 3 full-light hours
    assert day.light.sum() / HOUR == pytest.approx(3.0, abs=1e-3)


def test_light_between_two_rows_is_that_of_the_level_between() -> None:
    """Half way from 20 to 80 % is 50 %."""
    slope = table({None: [Row(6 * HOUR, 20, True), Row(18 * HOUR, 80, True)]})
    light = on_day(slope, ANY)["blue"].light
    for hour, volts in ((6, 2.0), (12, 5.0), (18, 8.0)):
        assert light[hour * HOUR] == pytest.approx(square_law(volts), abs=2e-3)


def test_each_date_plays_its_own_rows_and_the_last_go_on() -> None:
    first, second = dt.date(2027, 3, 1), dt.date(2027, 3, 5)
    dated = table({first: [Row(0, 30, True)], second: [Row(0, 60, True)]}, last=dt.date(2027, 3, 9))
    cases = [(1, 30, Status.FINE), (4, 30, Status.FINE), (5, 60, Status.FINE),
             (9, 60, Status.FINE), (10, 60, Status.EXPIRED)]  # fmt: skip
    for day, count, status in cases:
        found, states = at_moment(dated, dt.date(2027, 3, day), 0)
        assert (found, states["blue"].count) == (status, count)
        assert on_day(dated, dt.date(2027, 3, day))["blue"].counts[0] == count
    assert at_moment(dated, dt.date(2027, 2, 28), 0)[0] == Status.EARLY
    assert of_set(dated, "blue", 1).counts[0] == 60


def test_ppfd_is_full_ppfd_times_light() -> None:
    """130 µmol m⁻² s⁻¹ at full: a quarter of the light gives 32.5."""
    assert zones(STEADY) == ("crest",)
    assert float(ppfd(STEADY, {"blue": 0.25})["crest"]) == 32.5
    light = np.array([0.0, 0.5, 1.0])
    assert ppfd(STEADY, {"blue": light})["crest"].tolist() == [0.0, 65.0, 130.0]


def test_an_open_relay_gives_no_light_whatever_the_level() -> None:
    path = STEADY.paths["blue"]
    assert output_state(path, 100, 4095, relay=False).light == 0.0
    assert output_state(path, 100, 4095, relay=True).light == pytest.approx(1.0, abs=1e-3)
