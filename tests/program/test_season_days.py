"""Days compared with each other, and the errors of a table on them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from photoperiod.program.season_days import SeasonDays
from photoperiod.program.season_runs import seasons
from tests.program.season_bench import DAY, span_of, sun


@pytest.fixture(scope="module")
def spring() -> SeasonDays:
    return span_of([sun(day) for day in range(60, 100)])


def test_near_light_is_that_of_the_minutes_around(spring: SeasonDays) -> None:
    wanted = spring.samples["blue"][7]
    for reach_s in (60, 300, 7200):
        span = span_of([sun(67)], tolerance_s=reach_s)
        low, high = span.bounds("blue", 0)
        reach = reach_s // 60
        for minute in range(0, 1440, 37):
            near = [wanted[(minute + move) % 1440] for move in range(-reach, reach + 1)]
            assert (low[minute], high[minute]) == (min(near), max(near))


def test_errors_are_kept_at_every_second_and_not_only_at_whole_minutes() -> None:
    # On at 06:00 less 77 s a day. Four days from the middle are 308 s, more than five minutes, although
    # they are five minutes from minute to minute.
    lights = []
    for day in range(12):
        light = np.zeros(DAY)
        light[6 * 3600 - 77 * day : 18 * 3600] = 0.5
        lights.append(light)
    span = span_of(lights)
    for season in seasons(span, light_error=0.05, dose_error=0.5):
        given = season.fits["blue"].replay.light
        for day in range(season.first, season.last + 1):
            wanted = span.targets[day]["blue"].reachable
            most = ndimage.maximum_filter1d(wanted, 601, mode="wrap")
            least = ndimage.minimum_filter1d(wanted, 601, mode="wrap")
            off = np.maximum(given - most, least - given).max() / wanted.max()
            assert off <= 0.05 + 1e-6
            assert season.errors["blue"].light >= off - 1e-6


def test_what_is_known_of_a_season_goes_over_to_the_same_days_elsewhere(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lights = [sun(day) for day in range(80, 84)]
    here, there = span_of(lights), span_of(lights)
    season = there.season(0, 3)
    other = there.season(1, 2)
    known = there.looked_at(season)
    assert {(channel, day) for channel, day, _, _ in known} == {("blue", day) for day in range(4)}
    assert len(there.looked_at(other)) == 2
    here.learn(season, known)
    monkeypatch.setattr(SeasonDays, "_error_of", None)  # nothing is looked at again
    assert here.errors(season.fits, 0, 3) == season.errors
    with pytest.raises(TypeError):
        here.errors(other.fits, 1, 2)
