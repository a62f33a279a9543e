"""Which days share a table: longest runs, breaks kept, numbers kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from photoperiod.program.season_days import SeasonDays
from photoperiod.program.season_runs import (
    changes_fast,
    fewest_possible,
    longest_run,
    runs_of_number,
    seasons,
)
from tests.program.season_bench import DAY, Measured, span_of, sun


@pytest.fixture(scope="module")
def spring() -> SeasonDays:
    return span_of([sun(day) for day in range(60, 100)])


def test_every_day_is_served_within_both_errors(spring: SeasonDays) -> None:
    found = seasons(spring, light_error=0.05, dose_error=0.05)
    assert [s.first for s in found] == [0, *(s.last + 1 for s in found[:-1])]
    assert found[-1].last == spring.days - 1
    assert 2 <= len(found) <= 12
    measured = Measured(spring, 300)
    for season in found:
        light = season.fits["blue"].replay.light
        for day in range(season.first, season.last + 1):
            assert measured.error_of(light, day) <= 0.05 + 1e-6


def test_there_are_hardly_more_tables_than_any_choice_needs(spring: SeasonDays) -> None:
    for error in (0.03, 0.05, 0.1):
        least = fewest_possible(spring, error, error)
        found = seasons(spring, light_error=error, dose_error=error)
        assert least <= len(found) <= 1.5 * least + 1


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


@pytest.mark.parametrize("error", [0.03, 0.05, 0.1])
def test_no_run_could_be_a_date_longer(spring: SeasonDays, error: float) -> None:
    found = seasons(spring, light_error=error, dose_error=error)
    measured = Measured(spring, 300)
    assert any(season.last > season.first for season in found)
    for season in found[:-1]:
        own = season.fits["blue"].replay.light
        assert measured.error_of(own, season.last + 1) > error - 1e-6
        longer = spring.fit(season.first, season.last + 1)["blue"].replay.light
        days = range(season.first, season.last + 2)
        assert max(measured.error_of(longer, day) for day in days) > error - 1e-6


@dataclass(frozen=True)
class Run:
    """As much of a season as the search looks at."""

    last: int


@given(
    st.lists(st.integers(-1, 12), min_size=1, max_size=12),
    st.integers(-3, 20),
)
@example([0, 2, -1, -1, 7, -1, -1, -1, -1, -1], 9)  # beyond an end that is refused one is kept
def test_a_run_is_found_that_could_not_be_longer_whatever_is_kept(
    goes_on: list[int], guess: int
) -> None:
    # goes_on[n]: how many days beyond day n the table of days 0 to n is kept, -1 if it is not.
    longest = len(goes_on) - 1
    tried: list[int] = []

    def attempt(last: int) -> Run | None:
        tried.append(last)
        return None if goes_on[last] < 0 else Run(min(last + goes_on[last], longest))

    found = longest_run(attempt, 0, longest, guess)
    assert len(tried) == len(set(tried)) and all(0 <= last <= longest for last in tried)
    if found is None:
        assert goes_on[0] < 0
    else:
        assert found.last == longest or goes_on[found.last + 1] < 0


@given(st.integers(0, 400), st.integers(0, 400), st.integers(0, 400))
def test_a_run_is_found_in_few_tries(kept: int, more: int, guess: int) -> None:
    # Where every shorter run is kept too, the leaps and the halvings are those of a bisection.
    tried = []

    def attempt(last: int) -> Run | None:
        tried.append(last)
        return Run(last) if last <= kept else None

    found = longest_run(attempt, 0, kept + more, guess)
    assert found == Run(kept)
    off = abs(min(guess, kept + more) - kept)
    assert len(tried) <= 2 * off.bit_length() + 2
