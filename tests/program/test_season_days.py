"""Few tables for many days: errors kept on every day, breaks kept, and against all ways to cut."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping

import numpy as np
import pytest
from scipy import ndimage

from photoperiod.program.season_days import (
    LEAST_DOSE_H,
    Season,
    SeasonDays,
    changes_fast,
    fewest_possible,
    runs_of_number,
    seasons,
)
from photoperiod.setpoints.fit import Fit, fit
from photoperiod.setpoints.problem import Target
from tests.conftest import SCHEDULE, compiled

DAY = 86_400
MINUTES = np.arange(0, DAY, 60)
ROWS = 10

PROGRAM = compiled(SCHEDULE).program
assert PROGRAM is not None
SCHEDULE_PATH = PROGRAM.channels["blue"].path
TIMES = PROGRAM.schedule.controller.times


def sun(day: int, latitude: float = 38.5, peak: float = 0.8) -> np.ndarray:
    """Light by the sine of the sun's altitude, by hand: declination of a circular orbit."""
    declination = math.radians(23.44) * math.sin(2 * math.pi * (day - 80) / 365)
    angle = 2 * math.pi * (np.arange(DAY) - DAY / 2) / DAY
    phi = math.radians(latitude)
    sine = math.sin(phi) * math.sin(declination)
    sine = sine + math.cos(phi) * math.cos(declination) * np.cos(angle)
    return np.asarray(peak * np.maximum(sine, 0.0))


def target(light: np.ndarray) -> Target:
    reachable = SCHEDULE_PATH.ballast.reachable(light, SCHEDULE_PATH.most_light)
    return Target(name="blue", reachable=reachable, corners=(), path=SCHEDULE_PATH)


def fitted(targets: Mapping[str, Target]) -> dict[str, Fit]:
    return {id: fit([each], TIMES, ROWS)[0] for id, each in targets.items()}


def span_of(
    lights: list[np.ndarray], tolerance_s: int = 300, breaks: frozenset[int] = frozenset()
) -> SeasonDays:
    targets = [target(light) for light in lights]
    samples = np.array([each.reachable[::60] for each in targets], dtype=np.float32)
    return SeasonDays(
        {"blue": samples}, [{"blue": each} for each in targets], fitted, tolerance_s, breaks
    )


def errors(
    season: Season, span: SeasonDays, day: int, tolerance_s: int = 300
) -> tuple[float, float]:
    """Light and dose error of a table on a day, measured here: no roll, no shared code."""
    wanted = span.targets[day]["blue"].reachable
    given = season.fits["blue"].replay.light
    peak = max(float(span.samples["blue"].max()), 1e-9)
    worst = 0.0
    reach = tolerance_s // 60
    minutely = wanted[::60]
    for index, minute in enumerate(MINUTES):
        near = [minutely[(index + move) % 1440] for move in range(-reach, reach + 1)]
        light = float(given[minute])
        worst = max(worst, min(near) - light, light - max(near))
    hours = max(float(minutely.mean()) * 24, LEAST_DOSE_H)
    dose = abs(max(float(given.sum()) / 3600, LEAST_DOSE_H) - hours) / hours
    return worst / peak, dose


@pytest.fixture(scope="module")
def spring() -> SeasonDays:
    return span_of([sun(day) for day in range(60, 100)])


def test_every_day_is_served_within_both_errors(spring: SeasonDays) -> None:
    found = seasons(spring, light_error=0.05, dose_error=0.05)
    assert [s.first for s in found] == [0, *(s.last + 1 for s in found[:-1])]
    assert found[-1].last == spring.days - 1
    assert 2 <= len(found) <= 12
    for season in found:
        for day in range(season.first, season.last + 1):
            light, dose = errors(season, spring, day)
            assert light <= 0.05 + 1e-6 and dose <= 0.05 + 1e-6


def test_there_are_hardly_more_tables_than_any_choice_needs(spring: SeasonDays) -> None:
    for error in (0.03, 0.05, 0.1):
        least = fewest_possible(spring, error, error)
        found = seasons(spring, light_error=error, dose_error=error)
        assert least <= len(found) <= 1.5 * least + 1


def test_no_choice_of_runs_beats_the_number_that_is_proven() -> None:
    # All ways to cut nine days, with the tables that these cuts give: none with fewer tables keeps
    # the errors.
    lights = [sun(day) for day in range(60, 96, 4)]
    span = span_of(lights)
    error = 0.05
    least = fewest_possible(span, error, error)
    tables = {(a, b): span.fit(a, b) for a in range(len(lights)) for b in range(a, len(lights))}

    def keeps(a: int, b: int) -> bool:
        found, _ = span.errors(tables[a, b], a, b)
        return all(each.light <= error and each.dose <= error for each in found.values())

    good = {(a, b) for a, b in tables if keeps(a, b)}
    best = next(
        number
        for number in range(1, len(lights) + 1)
        if any(
            all((a, b - 1) in good for a, b in itertools.pairwise((0, *cuts, len(lights))))
            for cuts in itertools.combinations(range(1, len(lights)), number - 1)
        )
    )  # fmt: skip
    assert least <= best
    found = seasons(span, light_error=error, dose_error=error)
    assert best <= len(found) <= best + 1


def test_tables_begin_at_breaks_and_equal_days_share_one() -> None:
    lights = [sun(80)] * 9
    assert len(seasons(span_of(lights), light_error=0.01, dose_error=0.01)) in (1, 9)
    found = seasons(span_of(lights, breaks=frozenset({3, 4})), light_error=0.05, dose_error=0.05)
    assert [(s.first, s.last) for s in found] == [(0, 2), (3, 3), (4, 8)]


def test_a_number_of_tables_is_kept_and_more_of_them_err_less(spring: SeasonDays) -> None:
    worst = []
    for number in (1, 2, 4):
        runs = runs_of_number(spring, number)
        assert [first for first, _ in runs] == [0, *(last + 1 for _, last in runs[:-1])]
        assert len(runs) <= number and runs[-1][1] == spring.days - 1
        found = [spring.season(*run).worst for run in runs]
        worst.append(max(max(each.light, each.dose) for each in found))
    assert worst[0] > worst[1] > worst[2]


def test_a_number_of_tables_is_used_up_however_coarse_the_tables_are() -> None:
    # what four rows can't do must not decide how many tables are made
    span = span_of([sun(day) for day in range(60, 67)])
    for number in range(1, 8):
        assert len(runs_of_number(span, number)) == number


def test_near_light_is_that_of_the_minutes_around(spring: SeasonDays) -> None:
    wanted = spring.samples["blue"][7]
    for reach_s in (60, 300, 7200):
        span = span_of([sun(67)], tolerance_s=reach_s)
        low, high = span.bounds("blue", 0)
        reach = reach_s // 60
        for minute in range(0, 1440, 37):
            near = [wanted[(minute + move) % 1440] for move in range(-reach, reach + 1)]
            assert (low[minute], high[minute]) == (min(near), max(near))


def test_a_night_that_is_dark_on_every_day_stays_dark(spring: SeasonDays) -> None:
    for season in seasons(spring, light_error=0.1, dose_error=0.1):
        wanted = [spring.targets[day]["blue"].reachable > 0
                  for day in range(season.first, season.last + 1)]  # fmt: skip
        ever = np.flatnonzero(np.any(wanted, axis=0))
        lit = np.flatnonzero(season.fits["blue"].replay.lit)
        assert ever[0] - 60 <= lit[0] and lit[-1] <= ever[-1] + 60


def test_a_moon_that_rises_later_each_night_changes_fast_and_a_sun_does_not() -> None:
    moon = np.zeros((20, 1440), dtype=np.float32)
    for night in range(20):
        moon[night, 50 * night % 700 : 700] = 0.02
    assert changes_fast(moon, 0.05, 0.05, 300)
    spring_days = np.array([sun(day)[::60] for day in range(80, 100)], dtype=np.float32)
    assert not changes_fast(spring_days, 0.05, 0.05, 300)


def test_a_step_of_the_sun_is_followed_within_the_tolerance_in_time() -> None:
    # on at 06:00 less two minutes a day: within five minutes of the middle day for five days
    lights = []
    for day in range(12):
        light = np.zeros(DAY)
        light[6 * 3600 - 120 * day : 18 * 3600] = 0.5
        lights.append(light)
    found = seasons(span_of(lights), light_error=0.05, dose_error=0.5)
    assert max(s.last - s.first for s in found) + 1 == 5
    daily = seasons(span_of(lights, tolerance_s=60), light_error=0.05, dose_error=0.5)
    assert max(s.last - s.first for s in daily) + 1 <= 2


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
