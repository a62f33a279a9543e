"""Samples of days that are kept where they are lit, against the arrays that were put in."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.program.day_samples import DaySamples, NearSamples

DAYS, SIZE = 70, 48

#: Means of a few dozen singles, summed as doubles.
TOLERANCE = 1e-12


@pytest.fixture(scope="module")
def days() -> np.ndarray:
    """Days that are lit in the middle, over midnight, all day, never, and for one sample."""
    drawn = np.random.default_rng(20270302).random((DAYS, SIZE)).astype(np.float32)
    for day, light in enumerate(drawn):
        begin, end = day % 20, SIZE - day % 15
        if day % 4 == 0:
            light[:begin], light[end:] = 0, 0
        elif day % 4 == 1:
            light[begin:end] = 0
    drawn[9] = 0
    drawn[10], drawn[10, 31] = 0, 0.25
    return drawn


def test_days_come_back_as_they_were_put_in(days: np.ndarray) -> None:
    kept = DaySamples(days)
    assert len(kept) == DAYS
    assert np.array_equal(np.array(list(kept)), days)
    assert np.array_equal(kept.rows(5, 12), days[5:12])
    assert kept.rows(60, 99).shape == (10, SIZE)
    assert kept.max() == float(days.max())
    assert kept.means() == pytest.approx(days.mean(axis=1, dtype=np.float64), abs=TOLERANCE)


def test_a_dark_day_takes_no_memory_and_no_day_has_no_light() -> None:
    kept = DaySamples([np.zeros(SIZE, dtype=np.float32)])
    assert sum(light.nbytes for _, light in kept._lit) == 0
    assert kept.max() == 0.0
    assert DaySamples().max() == 0.0


def test_rows_that_are_samples_already_are_not_copied(days: np.ndarray) -> None:
    kept = DaySamples(days)
    assert DaySamples.of(kept) is kept
    assert np.array_equal(DaySamples.of(days)[3], days[3])


def test_near_samples_are_those_around_each_on_a_day_that_repeats(days: np.ndarray) -> None:
    near = NearSamples(DaySamples(days), 3)
    for day in (0, 31, 32, 69, 9, 10, 33):  # back and forth over the days that are kept together
        low, high = near.bounds(day)
        for index in range(SIZE):
            around = [days[day][(index + move) % SIZE] for move in range(-3, 4)]
            assert (low[index], high[index]) == (min(around), max(around))
