"""Dated tables against all ways to share tables among a few dates, gone through one by one.

Errors are measured with SciPy's filters. First with all tables that the fit makes for any run of the dates,
each of them for any dates that it suits; then with every table that a coarse controller can hold.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from photoperiod.drive.grid import Row
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import play
from photoperiod.program.season_days import SeasonDays
from photoperiod.program.season_runs import fewest_possible, seasons
from tests.program.season_bench import DAY, SCHEDULE_PATH, TIMES, Measured, span_of, sun

TOLERANCE_S = 300

Suits = list[set[int]]


def fewest(days: int, suits: Suits) -> int:
    """The fewest runs of days that make up all days, each a single day or kept by some table."""
    best = [0]
    for after in range(1, days + 1):
        best.append(
            min(
                best[first] + 1
                for first in range(after)
                if after - first == 1 or any(set(range(first, after)) <= kept for kept in suits)
            )
        )
    return best[days]


def errors_of(lights: Iterable[np.ndarray], span: SeasonDays, tolerance_s: int) -> np.ndarray:
    """The error of each table on each day, shape (tables, days)."""
    measured = Measured(span, tolerance_s)
    return np.array([[measured.error_of(each, day) for day in range(span.days)] for each in lights])


def kept_days(errors: np.ndarray, error: float) -> Suits:
    """The days on which each table keeps an error."""
    return [set(np.flatnonzero(kept).tolist()) for kept in np.unique(errors <= error, axis=0)]


def step(day: int, seconds_a_day: int) -> np.ndarray:
    """On at 06:00, earlier each day, until 18:00."""
    light = np.zeros(DAY)
    light[6 * 3600 - seconds_a_day * day : 18 * 3600] = 0.5
    return light


SEASONS = {
    "spring": ([sun(day) for day in range(60, 96, 4)], 0.05),
    "spring, small errors": ([sun(day) for day in range(60, 87, 3)], 0.03),
    "to midsummer": ([sun(day) for day in range(120, 180, 6)], 0.04),
    "midwinter": ([sun(day, 45.0) for day in range(-30, 40, 7)], 0.05),
    "far north": ([sun(day, 62.0) for day in range(70, 79)], 0.08),
    "a step": ([step(day, 120) for day in range(10)], 0.3),
    "a step between minutes": ([step(day, 77) for day in range(10)], 0.3),
    "up and down": ([sun(80 + move) for move in (0, 3, 6, 3, 0, 9, 12, 9, 6)], 0.03),
}


@pytest.mark.parametrize("name", list(SEASONS))
def test_no_sharing_of_the_tables_that_are_fitted_needs_fewer(name: str) -> None:
    lights, error = SEASONS[name]
    span = span_of(lights, TOLERANCE_S)
    runs = [(a, b) for a in range(span.days) for b in range(a, span.days)]
    tables = [span.fit(*run)["blue"].replay.light for run in runs]
    best = fewest(span.days, kept_days(errors_of(tables, span, TOLERANCE_S), error))
    found = seasons(span, light_error=error, dose_error=error)
    assert fewest_possible(span, error, error) <= best
    assert 1 < best < span.days  # the dates ask for something
    assert len(found) == best


#: Levels of a coarse controller: off, or one of so many counts.
COARSE = replace(SCHEDULE_PATH.levels, step=Fraction(25))


def coarse_path() -> LightPath:
    path = SCHEDULE_PATH
    return LightPath(
        levels=COARSE, converter=path.converter, ballast=path.ballast, relay=path.relay
    )


def all_tables(path: LightPath, seconds: tuple[int, ...]) -> Iterator[np.ndarray]:
    """The light of each table with rows at some seconds: dark, or lit at any count."""
    states = [(0, False), *((count, True) for count in range(path.top_count + 1))]
    for chosen in itertools.product(states, repeat=len(seconds)):
        rows = [Row(at, *state) for at, state in zip(seconds, chosen, strict=True)]
        yield play(rows, TIMES, path.levels, path).light


def test_no_table_that_a_controller_can_hold_beats_the_number_that_is_proven() -> None:
    path = coarse_path()
    lights = [sun(day, peak=0.5 + 0.04 * n) for n, day in enumerate(range(60, 108, 8))]
    span = span_of(lights, 3600, path=path)
    errors = errors_of(all_tables(path, (7 * 3600, 10 * 3600, 14 * 3600, 17 * 3600)), span, 3600)
    proven = {}
    for error in (0.08, 0.12, 0.2, 0.25, 0.3, 0.4):
        proven[error] = fewest_possible(span, error, error)
        assert proven[error] <= fewest(span.days, kept_days(errors, error))
    assert len(set(proven.values())) > 2  # a number that says something
    assert proven[0.3] == fewest(span.days, kept_days(errors, 0.3)) == 2


def test_a_level_that_no_controller_gives_is_counted() -> None:
    # Two days at 0.30 and 0.34 of full: within a tenth of both is 0.31 to 0.33 (tenths of 0.34 are 0.034),
    # and each has a level of its own within a tenth. Levels in steps of 25 % give no such light.
    path = coarse_path()
    given = path.burning_light.tolist()
    near = [light for light in given if 0.306 <= light <= 0.334]
    assert not near
    lights = [np.full(DAY, light) for light in (0.30, 0.34)]
    for light in lights:
        light[: 6 * 3600] = light[18 * 3600 :] = 0.0
    assert fewest_possible(span_of(lights, 300, path=path), 0.1, 0.5) == 2
    assert fewest_possible(span_of(lights, 300), 0.1, 0.5) == 1
