"""A shift of the plan that holds the dose, with doses that are plain functions of the shift."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from photoperiod.setpoints.hold_dose import DOSE_TRIES, hold_dose

Attempt = Callable[[float], tuple[float | None, float]]


def linear(dose_at_none: float, per_shift: float) -> tuple[Attempt, list[float]]:
    """Found is the shift itself; its dose error is a straight line in it."""
    tried: list[float] = []

    def attempt(shift: float) -> tuple[float | None, float]:
        tried.append(shift)
        return shift, dose_at_none + per_shift * shift

    return attempt, tried


def test_a_dose_within_its_limit_needs_no_shift() -> None:
    attempt, tried = linear(0.009, 1.0)
    assert hold_dose(attempt, 0.05, 0.01) == 0.0
    assert tried == [0.0]


@pytest.mark.parametrize("too_much", [0.03, -0.03])
def test_the_plan_is_moved_against_the_error_of_the_dose(too_much: float) -> None:
    attempt, tried = linear(too_much, 1.0)
    found = hold_dose(attempt, 0.1, 0.01)
    assert found is not None
    assert abs(too_much + found) <= 0.01
    assert len(tried) <= DOSE_TRIES + 1


def test_if_the_largest_shift_is_not_enough_it_is_taken_all_the_same() -> None:
    attempt, tried = linear(0.5, 1.0)
    assert hold_dose(attempt, 0.1, 0.01) == -0.1
    assert tried == [0.0, -0.1]


def test_of_attempts_that_miss_the_dose_the_nearest_is_taken() -> None:
    # Rows make doses jump: below a shift of -0.04 the dose is 2 % short, above it 3 % over.
    def attempt(shift: float) -> tuple[float | None, float]:
        return shift, -0.02 if shift < -0.04 else 0.03

    found = hold_dose(attempt, 0.1, 0.01)
    assert found is not None
    assert found < -0.04


def test_without_any_table_there_is_none() -> None:
    assert hold_dose(lambda shift: (None, 0.0), 0.1, 0.01) is None
