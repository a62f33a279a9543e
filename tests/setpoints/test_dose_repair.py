"""Levels that hold a dose where the second objective took too much work, against rows by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.drive.grid import Row
from photoperiod.setpoints import single_fit
from photoperiod.setpoints.certificate import Certificate, Fit
from photoperiod.setpoints.channel_rows import ChannelRows
from photoperiod.setpoints.dose_repair import most_error, with_dose_held
from photoperiod.setpoints.fit import Target, fit
from photoperiod.setpoints.problem import ChannelProblem
from tests.setpoints.days import HOUR, LINEAR, grid, path, ramps, steady, target

#: Light that rounds to nothing.
SLACK = 1e-9

#: On LINEAR, light equals level: 50 % from 08:00 to 18:00, levels of 0.1 %.
FLAT = target(steady(8 * HOUR, 18 * HOUR, 0.5), path(LINEAR, step="0.1"))


def proof(error: float, bound: float, joint: tuple[float, float] | None = None) -> Certificate:
    return Certificate(
        error=error,
        bound=bound,
        floor=0.0,
        floor_rows=None,
        half_rows=None,
        sample_s=60,
        tolerance_s=30,
        joint_error=joint and joint[0],
        joint_bound=joint and joint[1],
    )


def flat_table(count: int, aim: Target = FLAT, *, is_closest: bool = False) -> Fit:
    """A table that stays at one level until the minute before the lamp goes dark."""
    rows = (
        Row(8 * HOUR, count, True),
        Row(18 * HOUR - 60, count, True),
        Row(18 * HOUR, 0, False),
    )
    channel = ChannelRows(ChannelProblem(aim, grid()))
    error = channel.error_at_samples(rows)
    found = channel.fit(rows, "best-found", 3, proof(error, error))
    return replace(found, certificate=replace(found.certificate, is_closest=is_closest))


def repaired(found: Fit, aim: Target = FLAT) -> Fit:
    (held,) = with_dose_held([ChannelProblem(aim, grid())], [found])
    return held


def dose_error(found: Fit, aim: Target) -> float:
    return float(found.replay.light.sum() / aim.reachable.sum()) - 1.0


@pytest.mark.parametrize(("count", "wanted"), [(485, 495), (515, 505)])
def test_a_flat_day_is_moved_until_its_dose_is_off_by_a_hundredth(count: int, wanted: int) -> None:
    # 48.5 % or 51.5 % in place of 50 %: the dose is off by 3 %, and may be off by 1 %.
    held = repaired(flat_table(count))
    assert abs(dose_error(held, FLAT)) <= 0.01
    assert min(abs(row.count - 500) for row in held.rows[:2]) <= abs(wanted - 500)
    assert [row.second for row in held.rows] == [8 * HOUR, 18 * HOUR - 60, 18 * HOUR]
    assert held.certificate.error <= 0.015 + SLACK
    assert not held.certificate.is_closest


def test_what_the_second_objective_has_chosen_stays() -> None:
    found = flat_table(485, is_closest=True)
    assert repaired(found) is found
    problem = ChannelProblem(FLAT, grid())
    stays, moved = with_dose_held([problem, problem], [found, flat_table(485)])
    assert stays is found
    assert abs(dose_error(moved, FLAT)) <= 0.01


def test_a_dose_within_its_limit_stays() -> None:
    found = flat_table(497)
    assert repaired(found) is found


def test_light_above_the_plan_is_not_given_for_a_dose() -> None:
    # A plan with a dip: a level over the whole day that holds the dose is above the plan in the dip.
    light = FLAT.reachable.copy()
    light[12 * HOUR : 13 * HOUR] = 0.4
    aim = replace(FLAT, reachable=light, may_exceed=False)
    dip = slice(12 * HOUR + 60, 13 * HOUR - 60)
    held = repaired(flat_table(400, aim), aim)
    assert held.replay.light[dip].max() <= 0.4 + SLACK
    free = replace(aim, may_exceed=True)
    assert repaired(flat_table(400, free), free).replay.light[dip].max() > 0.402


def test_the_error_may_grow_by_a_twentieth_of_the_least_error() -> None:
    problem = ChannelProblem(FLAT, grid())
    assert most_error(problem, proof(0.0102, 0.01)) == pytest.approx(0.0105)
    # Not proven to be the best: a twentieth of what was found.
    assert most_error(problem, proof(0.02, 0.01)) == pytest.approx(0.021)
    # A joint error is a share of the peak, 0.5 here, times the weight, 2: 0.0105 x 0.5 / 2.
    heavy = ChannelProblem(replace(FLAT, weight=2.0), grid())
    assert most_error(heavy, proof(0.001, 0.0, (0.0102, 0.01))) == pytest.approx(0.0105 * 0.5 / 2)


def test_a_fit_without_its_second_objective_holds_the_dose(monkeypatch: pytest.MonkeyPatch) -> None:
    day = target(ramps(9 * HOUR, 4 * HOUR, 0.8, 4 * HOUR, 21 * HOUR), path(step="0.1"))
    aim = replace(day, dose_within=0.002)
    monkeypatch.setattr(single_fit, "REFINEMENT_WORK", 1000)
    monkeypatch.setattr("photoperiod.setpoints.fit.with_dose_held", lambda problems, fits: fits)
    (plain,) = fit([aim], grid(), 5)
    monkeypatch.undo()
    monkeypatch.setattr(single_fit, "REFINEMENT_WORK", 1000)
    (held,) = fit([aim], grid(), 5)
    assert abs(dose_error(plain, aim)) > 0.005
    assert abs(dose_error(held, aim)) <= 0.002
    assert held.certificate.error <= 1.05 * plain.certificate.error
    assert held.certificate.error == pytest.approx(
        ChannelRows(ChannelProblem(aim, grid())).error_at_samples(held.rows)
    )
    assert np.isclose(held.certificate.bound, plain.certificate.bound)
