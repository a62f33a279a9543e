"""Channels that share one column of times: what their tables must keep, and tables by hand."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.curves.curve import Curve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.setpoints import shared_fit
from photoperiod.setpoints.fine_times import FineTimesFitting
from photoperiod.setpoints.fit import fit
from photoperiod.setpoints.problem import ChannelProblem
from tests.conftest import drawn
from tests.setpoints.any_day import curves, light_paths, slow_ones, time_grids
from tests.setpoints.days import (
    COLUMN,
    FOLLOWS,
    HOUR,
    LINEAR,
    NEARLY_BEST,
    NEVER,
    SLACK,
    SQUARE,
    assert_dark_where_the_plan_is_dark,
    assert_errors_are_measured_right,
    assert_rows_are_well_formed,
    error_of,
    grid,
    path,
    ramps,
    target,
)


def share_their_times(days: list[Curve], p: LightPath, times: TimeGrid, limit: int) -> None:
    aims = [target(day, p) for day in days]
    aims[0] = target(days[0], path())  # lamps of two kinds
    fits = fit(aims, times, limit)
    assert len(fits) == len(aims)
    assert len({tuple(row.second for row in found.rows) for found in fits}) == 1
    for found, aim in zip(fits, aims, strict=True):
        assert_rows_are_well_formed(found, aim, times, limit)
        assert_dark_where_the_plan_is_dark(found, aim, times)
        assert_errors_are_measured_right(found, aim, times)


DAYS = st.lists(curves(), min_size=2, max_size=3)


@settings(slow_ones, max_examples=4)
@given(days=DAYS, p=light_paths(), times=time_grids(), limit=st.integers(1, 24))
def test_channels_of_one_column_of_times_share_it(
    days: list[Curve], p: LightPath, times: TimeGrid, limit: int
) -> None:
    share_their_times(days, p, times, limit)


@pytest.mark.slow
@settings(slow_ones, max_examples=drawn(20))
@given(days=DAYS, p=light_paths(), times=time_grids(), limit=st.integers(1, 24))
def test_many_channels_of_one_column_of_times_share_it(
    days: list[Curve], p: LightPath, times: TimeGrid, limit: int
) -> None:
    share_their_times(days, p, times, limit)


def test_channels_that_share_times_keep_the_corners_of_all() -> None:
    # Two plain days whose corners fit into eight rows, a quarter of an hour apart. On LINEAR light
    # equals level; what is lost are the ends of the ramps, where the plan waits at its floor.
    lamp = path(replace(LINEAR, below_floor="floor"), FOLLOWS)
    times = grid(900, "line", "hold")
    aims = [target(ramps(10 * HOUR, r * HOUR, 0.6, r * HOUR, 20 * HOUR), lamp) for r in (1, 2)]
    found = fit(aims, times, 8)
    for aim, one_of_two, at_11, at_19 in zip(aims, found, (60, 35), (60, 30), strict=True):
        by_hand = [
            Row(0, 0), Row(10 * HOUR - 900, 0), Row(10 * HOUR, 10), Row(11 * HOUR, at_11),
            Row(12 * HOUR, 60), Row(18 * HOUR, 60), Row(19 * HOUR, at_19), Row(20 * HOUR, 0),
        ]  # fmt: skip
        wanted = error_of(by_hand, aim, times)
        assert wanted < 0.1
        assert one_of_two.worst_light_error <= NEARLY_BEST * wanted + SLACK


SINES = [ramps(9 * HOUR, 2 * HOUR, 0.8, 2 * HOUR, 21 * HOUR, "sine"),
         ramps(10 * HOUR, 3 * HOUR, 0.5, HOUR, 20 * HOUR, "sine")]  # fmt: skip


def joint_error_of_codes(step: str) -> float:
    p = path(replace(SQUARE, kind="log-law"), COLUMN, "code", step,
             converter=Converter.nominal(16, 10.0, 10.0))  # fmt: skip
    error = fit([target(day, p) for day in SINES], grid(), 12)[0].certificate.joint_error
    assert error is not None
    return error


def test_fine_levels_of_a_column_are_no_worse_than_a_few_of_them() -> None:
    # Every column of whole 256ths of the range is a column of 16-bit codes, too.
    assert joint_error_of_codes("1") <= NEARLY_BEST * joint_error_of_codes("256")


@pytest.mark.slow  # memory is traced at a tenth of the speed
def test_fine_levels_of_a_column_need_little_memory() -> None:
    tracemalloc.start()
    joint_error_of_codes("1")
    _, most_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most_bytes < 400e6


def test_on_fine_time_steps_rows_are_sought_near_those_of_coarser_ones(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(shared_fit, "SHARED_WORK", 10_000_000)
    aims, times = [target(day, path()) for day in SINES], grid(10)
    problems = [ChannelProblem(aim, times) for aim in aims]
    coarse = FineTimesFitting(problems, fit).best(8)
    assert coarse[0].method == "coarser-times"
    shares = [
        f.certificate.error / aim.reachable.max() for f, aim in zip(coarse, aims, strict=True)
    ]
    fits = fit(aims, times, 8)
    assert any(row.second % 60 for row in fits[0].rows)  # rows of the fine grid
    assert fits[0].certificate.joint_error < 0.9 * max(shares)
    assert fits[0].certificate.joint_bound <= fits[0].certificate.joint_error
    for found, aim in zip(fits, aims, strict=True):
        assert_rows_are_well_formed(found, aim, times, 8)
        assert_errors_are_measured_right(found, aim, times)
    # no channel stands at its floor, so the joint error is that of the worst share of a peak
    shares = [f.certificate.error / aim.reachable.max() for f, aim in zip(fits, aims, strict=True)]
    assert fits[0].certificate.joint_error == pytest.approx(max(shares), abs=1e-9)


def test_no_table_is_sought_that_is_worse_than_one_that_was_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # The exact search finds a table and runs out of work; what follows tries only few counts in a gate.
    problem = ChannelProblem(
        target(ramps(9 * HOUR, HOUR, 0.8, HOUR, 21 * HOUR), path(NEVER)), grid()
    )
    found = shared_fit.SharedSolution((0, 720), ({0: 30, 720: 60},), 0.05, 0.01)
    nothing = shared_fit.SharedSolution((), (), 1.0, 0.01)
    asked, answers = [], [found, nothing]

    def solve(shared: object, rows: int, evaluate: object, known: float, work: int) -> object:
        asked.append(known)
        return answers[len(asked) - 1]

    monkeypatch.setattr(shared_fit, "solve_shared", solve)
    (table,) = shared_fit.SharedFitting([problem]).best(4)
    assert [row.second for row in table.rows] == [0, 720 * 60]
    assert len(asked) == 2 and asked[0] > asked[1] == 0.05
