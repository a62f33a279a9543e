"""Targets of channels that burn in, stay dark or give way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.days.day_curves import DayCurves
from photoperiod.drive.grid import Between
from photoperiod.program.burn_in_targets import (
    FULL_WEIGHT,
    target_at_full,
    target_giving_way,
    target_in_the_dark,
)
from photoperiod.program.day_fit import plan_targets
from photoperiod.setpoints.fit import Target
from tests.program.bench import DAY, HOUR, WORKED, scheduled


@pytest.fixture(scope="module")
def by_plan() -> Target:
    """An hour's ramp from 09:00 to 80 % and one down to 21:00; the floor is 1 %."""
    found = scheduled(WORKED)
    return plan_targets(found, DayCurves(found).by_clock)["blue"]


def test_a_channel_at_full_is_full_in_its_window_and_dark_outside(by_plan: Target) -> None:
    target = target_at_full(by_plan, (-HOUR, 2 * HOUR))  # over midnight
    full = by_plan.path.top_light
    assert target.reachable[0] == target.reachable[2 * HOUR - 1] == full
    assert target.reachable[2 * HOUR] == 0.0
    assert target.reachable[23 * HOUR] == full and target.reachable[23 * HOUR - 1] == 0.0
    assert target.corners == (2 * HOUR, 23 * HOUR)
    assert target.may_exceed and target.weight == FULL_WEIGHT


def test_a_channel_that_stays_dark_has_no_light_and_no_corner(by_plan: Target) -> None:
    target = target_in_the_dark(by_plan)
    assert not target.reachable.any() and target.corners == ()


def scale_of(left: float, start_h: int, stop_h: int) -> np.ndarray:
    scale = np.ones(1440)
    scale[start_h * 60 : stop_h * 60] = left
    return scale


@pytest.mark.parametrize("between", [Between.LINE, Between.HOLD])
@pytest.mark.parametrize("step_s", [60, 900])
def test_what_is_left_is_never_above_the_scale(
    by_plan: Target, between: Between, step_s: int
) -> None:
    times = replace(scheduled(WORKED).controller.times, between=between, step_s=step_s)
    scale = scale_of(0.5, 12, 15)
    target = target_giving_way(by_plan, scale, times)
    assert (target.reachable <= by_plan.reachable * np.repeat(scale, 60) + 1e-12).all()
    assert target.reachable[13 * HOUR] == pytest.approx(0.4)  # half of 80 %
    assert target.reachable[18 * HOUR] == pytest.approx(0.8)
    assert not target.may_exceed
    # lines go down within the step before, and up within the step after
    edge = 0 if between is Between.HOLD else step_s
    assert target.reachable[12 * HOUR - edge - 1] == pytest.approx(0.8)
    assert target.reachable[15 * HOUR + edge] == pytest.approx(0.8)


def test_a_corner_stands_where_the_scale_bends(by_plan: Target) -> None:
    times = scheduled(WORKED).controller.times
    target = target_giving_way(by_plan, scale_of(0.5, 12, 15), times)
    assert set(by_plan.corners) < set(target.corners)
    assert {12 * HOUR - 60, 12 * HOUR, 15 * HOUR, 15 * HOUR + 60} <= set(target.corners)


def test_below_its_floor_a_lamp_that_gives_way_goes_dark_if_it_can(by_plan: Target) -> None:
    times = scheduled(WORKED).controller.times
    target = target_giving_way(
        by_plan, scale_of(0.01, 12, 15), times
    )  # 0.8 %, below the floor of 1 %
    assert not target.reachable[12 * HOUR : 15 * HOUR].any()
    assert (target.reachable[15 * HOUR + 60 : 20 * HOUR] > 0).all()
    assert target.reachable.shape == (DAY,)
