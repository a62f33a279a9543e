"""Days with other lights and ends, against hand arithmetic."""

from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.schedule.day_plan import ClockTime, Dawn, Dusk, Peak, Ramps
from photoperiod.solve.moved_day import (
    bounds_of,
    longer,
    profile_of,
    scaled,
    steps_that_fit,
    with_lights,
)

HOUR = 3600

#: 9:00 to 21:00 with ramps of an hour, 80 %: 0.8 × 11 h.
DAY = Ramps(
    dawn=Dawn(start=ClockTime(9 * HOUR), length_s=HOUR),
    peaks=(Peak(light=0.8),),
    dusk=Dusk(end=ClockTime(21 * HOUR), start=ClockTime(20 * HOUR)),
)
#: Two peaks: 80 % until 13:00, 40 % from 13:30.
TWO = replace(
    DAY, peaks=(Peak(light=0.8), Peak(light=0.4, ramp_start=ClockTime(13 * HOUR), ramp_s=1800))
)
#: 22:00 to 04:00.
NIGHT = Ramps(
    dawn=Dawn(start=ClockTime(22 * HOUR), end=ClockTime(23 * HOUR)),
    peaks=(Peak(light=0.5),),
    dusk=Dusk(end=ClockTime(4 * HOUR), length_s=HOUR),
    ends_next_day=True,
)


def hours(day: Ramps) -> float:
    profile = profile_of(day)
    assert profile is not None
    return profile.integral() / HOUR


def test_the_day_itself_by_hand() -> None:
    assert hours(DAY) == pytest.approx(0.8 * 11)
    assert bounds_of(DAY) == (9 * HOUR, 21 * HOUR)


def test_a_longer_day_keeps_its_ramps() -> None:
    day = longer(DAY, HOUR)
    assert day is not None
    assert bounds_of(day) == (8 * HOUR, 22 * HOUR)
    assert hours(day) == pytest.approx(0.8 * 13)
    shorter = longer(TWO, -2 * HOUR)
    assert shorter is not None


def test_a_day_across_midnight_moves_too() -> None:
    day = longer(NIGHT, HOUR)
    assert day is not None
    assert bounds_of(day) == (21 * HOUR, 29 * HOUR)
    assert day.dawn.end == ClockTime(22 * HOUR)
    assert longer(NIGHT, -5 * HOUR) is None


@pytest.mark.parametrize("by_h", [-4, 4, 10])
def test_there_is_no_day_beyond_another_peak_or_midnight(by_h: int) -> None:
    assert longer(TWO, by_h * HOUR) is None


def test_steps_stop_at_another_peak_and_at_midnight() -> None:
    # the first peak of TWO is held for 3 h, and 21:00 is 3 h before midnight
    assert steps_that_fit(TWO, 60, (-999, 999)) == (-180, 180)
    assert steps_that_fit(TWO, 60, (-10, 20)) == (-10, 20)
    low, high = steps_that_fit(TWO, 60, (200, 300))
    assert low > high


def test_light_is_scaled() -> None:
    assert hours(scaled(TWO, 0.5)) == pytest.approx(hours(TWO) / 2)


def test_each_peak_has_its_own_light() -> None:
    # 10 h of peak and half of both ramps of an hour: 0.7 × 11
    assert hours(with_lights(DAY, [0.7])) == pytest.approx(7.7)
    two = with_lights(TWO, [0.8, 0.4])
    assert [peak.light for peak in two.peaks] == [0.8, 0.4]
    assert two.peaks[0] == TWO.peaks[0]
