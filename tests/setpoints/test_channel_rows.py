"""The rows that switchings fix and the lit runs between them, by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.curves.curve import Curve
from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.setpoints.certificate import Certificate, Method
from photoperiod.setpoints.channel_rows import ChannelRows, method_within
from photoperiod.setpoints.problem import ChannelProblem
from tests.setpoints.days import (
    DARK,
    DAY,
    EVER,
    FOLLOWS,
    HOUR,
    LINEAR,
    NEVER,
    NONE,
    NOON,
    STANDBY,
    grid,
    path,
    steady,
    target,
)  # fmt: skip


def rows_of(curve: Curve, lamp: LightPath, times: TimeGrid) -> ChannelRows:
    return ChannelRows(ChannelProblem(target(curve, lamp), times))


DAYTIME, NIGHTTIME = steady(8 * HOUR, 20 * HOUR, 0.5), steady(20 * HOUR, 30 * HOUR, 0.5)


@pytest.mark.parametrize(
    ("curve", "lamp", "after", "fixed", "runs"),
    [
        # a relay in the row: off at the row that switches off; the first lit row is free
        (DAYTIME, path(LINEAR), "wrap", [Row(20 * HOUR, 0, False)], [(32, 48, 0)]),
        # dark by its level: a row of level 0 one step before it lights, too
        (DAYTIME, path(STANDBY, NONE), "wrap", [Row(8 * HOUR - 900, 0), Row(20 * HOUR, 0)],
         [(32, 48, 0)]),
        # a table that does not wrap begins at midnight
        (DAYTIME, path(LINEAR), "hold", [Row(0, 0, False), Row(20 * HOUR, 0, False)],
         [(32, 48, 0)]),
        # over midnight in one run, or in two that break there
        (NIGHTTIME, path(LINEAR), "wrap", [Row(6 * HOUR, 0, False)], [(80, 40, 0)]),
        (NIGHTTIME, path(LINEAR), "hold", [Row(6 * HOUR, 0, False)], [(0, 24, 0), (80, 16, None)]),
        (DARK, path(LINEAR), "wrap", [Row(0, 0, False)], []),
        (EVER, path(NEVER, NONE), "hold", [], [(0, 96, None)]),
        (EVER, path(LINEAR, FOLLOWS), "wrap", [], [(0, 96, None)]),
    ],
    ids=["row", "level", "no wrap", "night", "night, no wrap", "dark", "never", "ever"],
)  # fmt: skip
def test_what_is_fixed_and_what_is_free(
    curve: Curve, lamp: LightPath, after: str, fixed: list[Row], runs: list[tuple]
) -> None:
    rows = rows_of(curve, lamp, grid(900, "line", after))
    assert [rows.fixed[second] for second in sorted(rows.fixed)] == fixed
    every = 900 // rows.sample_s
    assert [(run.start // every, run.length // every, run.end) for run in rows.runs] == runs
    assert rows.is_circle is (curve is EVER and after == "wrap")


def test_corners_become_rows_among_the_fixed_ones() -> None:
    rows = rows_of(DAYTIME, path(LINEAR), grid())
    table = rows.rows([((8 * 60, 50), (19 * 60, 40))])
    assert table == (
        Row(8 * HOUR, 50, True), Row(19 * HOUR, 40, True), Row(20 * HOUR, 0, False),
    )  # fmt: skip


@pytest.mark.parametrize("between", ["line", "hold"])
def test_the_error_is_that_of_the_worst_sample(between: str) -> None:
    # On LINEAR light is level: 70 % where 50 % is wanted. The last quarter of an hour may fall.
    rows = rows_of(DAYTIME, path(LINEAR), grid(900, between))
    table = (Row(8 * HOUR, 50, True), Row(12 * HOUR, 70, True), Row(20 * HOUR - 900, 50, True),
             Row(20 * HOUR, 0, False))  # fmt: skip
    assert rows.error_at_samples(table) == pytest.approx(0.2)
    assert rows.proven_every_s == (60 if between == "line" else 1)


def test_what_is_held_must_suit_all_seconds_of_a_sample() -> None:
    # From 09:04 to 10:00 the plan of NOON rises by 80 % in 3,600 s; half a step is 450 s either way.
    line = rows_of(NOON, path(LINEAR), grid(900))
    hold = rows_of(NOON, path(LINEAR), grid(900, "hold"))
    at = (9 * HOUR + 1800) // 60
    rise = 0.8 / 3600
    assert line.wanted.least[at] == pytest.approx(0.4 - 450 * rise)
    assert line.wanted.most[at] == pytest.approx(0.4 + 450 * rise)
    assert hold.wanted.least[at] == pytest.approx(0.4 + (59 - 450) * rise)
    assert hold.wanted.most[at] == pytest.approx(0.4 + 450 * rise)


def test_a_table_that_needs_more_rows_than_there_are_is_forced() -> None:
    assert method_within(4, 4) == Method.EXACT
    assert method_within(4, 5) == Method.FORCED
    assert method_within(4, 4, Method.SIMPLIFICATION) == Method.SIMPLIFICATION


def test_the_errors_of_a_fit_are_those_of_every_second() -> None:
    rows = rows_of(DAYTIME, path(LINEAR), grid())
    table = (Row(8 * HOUR, 50, True), Row(20 * HOUR - 60, 50, True), Row(20 * HOUR, 0, False))
    problem = rows.problem
    proven = Certificate(error=0.0, bound=0.0, floor=0.0, floor_rows=2, half_rows=2, sample_s=60,
                         tolerance_s=30)  # fmt: skip
    found = rows.fit(table, Method.EXACT, 2, proven)
    assert found.method is Method.EXACT
    assert rows.fit(table, Method.EXACT, 2, replace(proven, error=0.5)).method is Method.BEST_FOUND
    assert (
        found.worst_light_error == 0.0
    )  # the last minute may fall toward the row that switches off
    # A second before 20:00 the level 50/60 is put out as 1: the lamp burns at its floor of 10 %.
    assert found.strict_light_error == pytest.approx(0.4)
    assert np.array_equal(problem.target.reachable > 0, found.replay.lit)
    assert found.replay.lit.sum() == 12 * HOUR
    assert found.replay.lit.size == DAY
