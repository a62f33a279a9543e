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


def test_targets_are_made_again_once_samples_have_gone() -> None:
    lights = [sun(day) for day in range(70, 110)]
    span, other = span_of(lights), span_of(lights)
    runs = [(0, 5), (30, 39), (7, 7), (20, 38)]
    asked: list[int] = []

    def light_on(id: str, day: int) -> np.ndarray:
        asked.append(day)
        return np.asarray(other.targets[day][id].reachable[::60])

    season = span.season(0, 5)
    span.let_go(light_on)
    assert not span.looked_at(season)
    for first, last in runs:
        found, before = (each.middle(first, last)["blue"] for each in (span, other))
        assert np.array_equal(found.reachable, before.reachable)
    assert set(asked) == set(range(40))


@pytest.mark.parametrize("begin_s", [0, 21_623, 21_660])
def test_a_run_is_fitted_to_its_middle_day_moved_at_each_minute(begin_s: int) -> None:
    # Three steady days, each brighter, with a dark hour at the same time: the middle of what they want.
    lights = []
    for level in (0.4, 0.5, 0.54):
        light = np.zeros(DAY)
        light[begin_s:72_011] = level
        light[40_007:43_607] = 0.0
        lights.append(light)
    span = span_of(lights)
    wanted = [span.samples["blue"][day].astype(np.float64) for day in range(3)]
    near = [[np.array(each) for each in zip(*_near(day, 5), strict=True)] for day in wanted]
    low = np.max([each[0] for each in near], axis=0)
    high = np.min([each[1] for each in near], axis=0)
    right = np.where(low <= high, np.clip(wanted[1], low, high), (low + high) / 2)
    change = np.append(right - wanted[1], right[0] - wanted[1][0])
    moved = lights[1] + np.interp(np.arange(DAY), np.arange(1441) * 60.0, change)
    ballast = span.targets[0]["blue"].path.ballast
    expected = np.where(lights[1] > 0, np.clip(moved, ballast.floor_light, 1.0), 0.0)
    found = span.middle(0, 2)["blue"].reachable
    assert found == pytest.approx(expected, abs=1e-12)
    assert found[60_000] == pytest.approx(0.47, abs=1e-6)  # half way from 0.4 to 0.54
    assert (found[40_007:43_607] == 0).all()


def _near(samples: np.ndarray, reach: int) -> list[tuple[float, float]]:
    """The least and the most within so many samples of each."""
    found = [np.roll(samples, move) for move in range(-reach, reach + 1)]
    return [(min(each), max(each)) for each in zip(*found, strict=True)]
