"""What every fitted table must keep, whatever the day, the grid and the lamp."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from photoperiod.curves.curve import Curve, Profile, Segment
from photoperiod.drive.replay import play
from photoperiod.setpoints.fit import fit
from tests.conftest import drawn
from tests.setpoints.any_day import Case, cases, slow_ones
from tests.setpoints.days import (
    COLUMN,
    DARK,
    DAY,
    EVER,
    FOLLOWS,
    HOUR,
    LIGHT_TOLERANCE,
    LINEAR,
    LOW_PORT,
    NEVER,
    NIGHT,
    NONE,
    NOON,
    SQUARE,
    STANDBY,
    assert_dark_where_the_plan_is_dark,
    assert_errors_are_measured_right,
    assert_lit_where_the_plan_is_lit,
    assert_rows_are_well_formed,
    bounded,
    grid,
    one,
    path,
    ramps,
    target,
)


def keeps_what_it_must(case: Case) -> None:
    (found,) = fit([case.aim], case.times, case.limit)
    assert_rows_are_well_formed(found, case.aim, case.times, case.limit)
    assert_dark_where_the_plan_is_dark(found, case.aim, case.times)
    assert_lit_where_the_plan_is_lit(found, case.aim, case.times)
    assert_errors_are_measured_right(found, case.aim, case.times)
    again = play(found.rows, case.times, case.aim.path.levels, case.aim.path)
    assert (again.light == found.replay.light).all()


@settings(slow_ones, max_examples=8)
@given(case=cases())
def test_a_table_keeps_what_it_must(case: Case) -> None:
    keeps_what_it_must(case)


@pytest.mark.slow
@settings(slow_ones, max_examples=drawn(40))
@given(case=cases())
def test_many_tables_keep_what_they_must(case: Case) -> None:
    keeps_what_it_must(case)


@settings(slow_ones, max_examples=3)
@given(case=cases())
def test_the_same_input_gives_the_same_rows(case: Case) -> None:
    (first,) = fit([case.aim], case.times, case.limit)
    fresh = replace(case.aim, reachable=case.aim.reachable.copy())
    (second,) = fit([fresh], case.times, case.limit)
    assert first.rows == second.rows
    assert first.worst_light_error == second.worst_light_error


def is_not_exceeded(case: Case) -> None:
    aim = replace(case.aim, may_exceed=False)
    (found,) = fit([aim], case.times, case.limit)
    assert_rows_are_well_formed(found, aim, case.times, case.limit)
    assert_dark_where_the_plan_is_dark(found, aim, case.times)
    if found.method == "exact" and case.times.between == "line":
        at = np.arange(0, DAY, found.certificate.sample_s)
        most = np.maximum(aim.reachable[at], aim.path.ballast.floor_light)
        if aim.path.dark_by_level:
            # A line to the level at which the lamp lights passes through all levels below it.
            for before, after in itertools.pairwise([*found.rows, found.rows[0]]):
                if before.count == 0 < after.count:
                    rising = (at - before.second) % DAY < (after.second - before.second) % DAY
                    light = aim.path.burning_light[after.count]
                    most[rising] = np.maximum(most[rising], light)
        given_light = found.replay.light[at]
        assert (given_light <= most + LIGHT_TOLERANCE).all()


@settings(slow_ones, max_examples=5)
@given(case=cases())
def test_a_plan_that_must_not_be_exceeded_is_not(case: Case) -> None:
    is_not_exceeded(case)


@pytest.mark.slow
@settings(slow_ones, max_examples=drawn(25))
@given(case=cases())
def test_many_plans_that_must_not_be_exceeded_are_not(case: Case) -> None:
    is_not_exceeded(case)


# Few rows, many rows, coarse grids ----------------------------------------------------------------


LAMPS = {
    "relay": (SQUARE, COLUMN),
    "follows": (SQUARE, FOLLOWS),
    "standby": (STANDBY, NONE),
    "never": (NEVER, NONE),
}
DAYS = {"noon": NOON, "night": NIGHT, "ever": EVER, "dark": DARK}


def every_fifth(*kinds: Iterable[object]) -> list:
    """All combinations; but for every fifth they are slow. Each pair of kinds is in the others."""
    return [
        pytest.param(*combination, marks=[pytest.mark.slow] if number % 5 else [])
        for number, combination in enumerate(itertools.product(*kinds))
    ]


@pytest.mark.parametrize(
    ("day", "lamp", "after", "between", "limit"),
    every_fifth(DAYS, LAMPS, ["wrap", "hold"], ["line", "hold"], [1, 2]),
)
def test_one_or_two_rows(day: str, lamp: str, after: str, between: str, limit: int) -> None:
    aim = target(DAYS[day], path(*LAMPS[lamp]))
    times = bounded(aim.path, grid(60, between, after))
    (found,) = fit([aim], times, limit)
    assert_rows_are_well_formed(found, aim, times, limit)
    assert_dark_where_the_plan_is_dark(found, aim, times)


def test_rows_that_darkness_needs_are_there_even_if_they_are_too_many() -> None:
    lunch = Curve((Profile((Segment(8 * HOUR, 11 * HOUR, 0.5, 0.5),)),
                   Profile((Segment(13 * HOUR, 20 * HOUR, 0.5, 0.5),))))  # fmt: skip
    found = one(lunch, path(), grid(), 2)
    assert [(row.second, row.relay) for row in found.rows] == [
        (8 * HOUR, True), (11 * HOUR, False), (13 * HOUR, True), (20 * HOUR, False),
    ]  # fmt: skip
    assert found.rows_needed == 4


@pytest.mark.parametrize(
    ("rounding", "steps", "lamp"),
    every_fifth(
        ["half-up", "down", "toward-last-row"],
        [(15, "code"), (15, "percent"), (60, "percent")],
        ["relay", "follows", "never"],
    ),
)
def test_no_row_stands_above_the_top_of_the_port(
    rounding: str, steps: tuple[int, str], lamp: str
) -> None:
    # 80 % of the light is out of reach: from 09:04 to 20:56 the plan stands at the top of the port.
    step_s, unit = steps
    ballast, relay = LAMPS[lamp] if lamp != "follows" else (LINEAR, FOLLOWS)
    aim = target(NOON, path(ballast, relay, unit, "1", rounding, LOW_PORT))
    times = grid(step_s, after="hold")
    (found,) = fit([aim], times, 6)
    assert_rows_are_well_formed(found, aim, times, 6)
    assert aim.path.volts[found.replay.counts].max() <= 2.0


@pytest.mark.parametrize("step_s", [1, 60, 3600, 43_200])
@pytest.mark.parametrize("between", ["line", "hold"])
def test_more_rows_than_anyone_needs(step_s: int, between: str) -> None:
    for curve in (NOON, NIGHT) if between == "line" else (NIGHT,):
        aim = target(curve, path(unit="percent", step="5"))
        (found,) = fit([aim], grid(step_s, between), 1440)
        assert_rows_are_well_formed(found, aim, grid(step_s, between), 1440)
        assert_dark_where_the_plan_is_dark(found, aim, grid(step_s, between))


def test_many_fine_rows_come_close() -> None:
    # One count of 0.1 % of level is at most 0.2 % of light; half of that, and half a minute of a
    # ramp of 80 % an hour is within the tolerance in time.
    found = one(NOON, path(unit="millivolts", step="10"), grid(), 1440)
    assert found.worst_light_error <= 0.004
    held = one(NOON, path(unit="millivolts", step="10"), grid(between="hold"), 150)
    assert held.worst_light_error <= 0.01


@pytest.mark.parametrize("between", ["line", "hold"])
def test_a_top_that_must_not_be_exceeded_is_rounded_down(between: str) -> None:
    # 89 % of level gives 79.21 %, 88 % gives 77.44 %; 79 % is nearer to the first.
    day = ramps(9 * HOUR, HOUR, 0.79, HOUR, 21 * HOUR)
    (free,) = fit([target(day, path())], grid(between=between), 60)
    (kept,) = fit([target(day, path(), may_exceed=False)], grid(between=between), 60)
    assert free.replay.light.max() == pytest.approx(0.7921)
    assert kept.replay.light.max() == pytest.approx(0.7744)
    assert (kept.replay.lit == free.replay.lit).all()
