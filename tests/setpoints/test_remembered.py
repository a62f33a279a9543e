"""A fit that was made before is given again, equal and as an object of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
import pytest

from photoperiod.drive.grid import TimeGrid
from photoperiod.setpoints.fit import Fit, Target, fit_anew
from photoperiod.setpoints.remembered import Remembered
from tests.conftest import own_tables
from tests.setpoints.days import LINEAR, NIGHT, NOON, SQUARE, grid, path, target

TIMES = grid(900)
AIM = target(NOON, path(SQUARE))


class Counted:
    """A fitter that counts how often it is asked."""

    def __init__(self) -> None:
        self.asked = 0

    def __call__(self, targets: Sequence[Target], times: TimeGrid, row_limit: int) -> list[Fit]:
        self.asked += 1
        return fit_anew(targets, times, row_limit)


def test_what_was_fitted_is_not_fitted_again() -> None:
    counted = Counted()
    remembered = Remembered(counted)
    (first,) = remembered([AIM], TIMES, 8)
    again = replace(AIM, name="other", reachable=AIM.reachable.copy(), path=path(SQUARE))
    (second,) = remembered([again], TIMES, 8)
    assert counted.asked == 1
    assert second is not first
    assert second.path is again.path
    for each in fields(Fit):
        assert getattr(second, each.name) == getattr(first, each.name)
    assert np.array_equal(second.replay.light, first.replay.light)
    remembered.forget()
    remembered([AIM], TIMES, 8)
    assert counted.asked == 2


def test_a_test_that_changes_the_code_gets_no_table_of_others_and_leaves_none() -> None:
    counted = Counted()
    remembered = Remembered(counted)
    other = target(NIGHT, path(SQUARE))
    remembered([AIM], TIMES, 8)
    with own_tables(remembered):
        remembered([AIM], TIMES, 8)
        remembered([other], TIMES, 8)
        assert counted.asked == 3
    remembered([AIM], TIMES, 8)
    assert counted.asked == 3
    remembered([other], TIMES, 8)
    assert counted.asked == 4


@pytest.mark.parametrize(
    ("aim", "times", "rows"),
    [
        (target(NIGHT, path(SQUARE)), TIMES, 8),
        (replace(AIM, reachable=np.roll(AIM.reachable, 900)), TIMES, 8),  # the same light, later
        (target(NOON, path(LINEAR)), TIMES, 8),
        (target(NOON, path(SQUARE, step="2")), TIMES, 8),
        (replace(AIM, may_exceed=False), TIMES, 8),
        (replace(AIM, corners=AIM.corners[1:]), TIMES, 8),
        (replace(AIM, weight=2.0), TIMES, 8),
        (replace(AIM, dose_within=0.5), TIMES, 8),
        (replace(AIM, is_guarded=True), TIMES, 8),
        (AIM, grid(1800), 8),
        (AIM, grid(900, after="hold"), 8),
        (AIM, TIMES, 9),
    ],
)
def test_whatever_a_fit_hangs_on_makes_another_question(
    aim: Target, times: TimeGrid, rows: int
) -> None:
    asked: list[int] = []

    def fitter(targets: Sequence[Target], times: TimeGrid, row_limit: int) -> list[Fit]:
        asked.append(row_limit)
        return []

    remembered = Remembered(fitter)
    remembered([AIM], TIMES, 8)
    remembered([aim], times, rows)
    remembered([AIM, aim], times, rows)
    assert len(asked) == 3


def test_light_that_stays_as_it_is_for_hours_is_told_apart_by_when_and_how_bright() -> None:
    counted = Counted()
    remembered = Remembered(counted)
    lit = np.zeros(AIM.reachable.size)
    lit[30_000:60_000] = 0.5
    brighter, longer, split = lit.copy(), lit.copy(), lit.copy()
    brighter[30_000:60_000] = 0.6
    longer[60_000:60_900] = 0.5
    split[40_000:40_900] = 0.6
    days = [lit, np.roll(lit, 900), brighter, longer, split, np.roll(split, 900)[::-1]]
    for number, light in enumerate([*days, *days]):
        remembered([replace(AIM, reachable=light.copy())], TIMES, 8)
        assert counted.asked == min(number + 1, len(days))


def test_so_many_are_kept_and_the_oldest_goes() -> None:
    (table,) = fit_anew([AIM], TIMES, 8)
    asked: list[int] = []

    def fitter(targets: Sequence[Target], times: TimeGrid, row_limit: int) -> list[Fit]:
        asked.append(row_limit)
        return [table]

    remembered = Remembered(fitter, most=2)
    for rows in (1, 2, 1, 3, 1, 2):
        remembered([AIM], TIMES, rows)
    assert asked == [1, 2, 3, 2]
