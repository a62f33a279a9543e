"""Tables on a grid of seconds: the coarser grid, switchings that move, and a bound that holds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.drive.replay import play
from photoperiod.setpoints.fine_times import coarser, switchings_moved
from photoperiod.setpoints.fit import fit
from photoperiod.setpoints.problem import ChannelProblem
from tests.setpoints.days import (
    DARK,
    FOLLOWS,
    HOUR,
    LINEAR,
    NONE,
    NOON,
    STANDBY,
    grid,
    path,
    ramps,
    steady,
    target,
)  # fmt: skip


@pytest.mark.parametrize(("step_s", "wanted"), [(1, 60), (5, 60), (32, 64), (45, 90), (8, 64)])
def test_the_coarser_grid_is_the_next_of_a_minute_or_more(step_s: int, wanted: int) -> None:
    # All of its times are on the finer grid, and it divides the day.
    assert coarser(grid(step_s)) == grid(wanted)


def problems(step_s: int, *lit: tuple[int, int], lamp: object = None) -> list[ChannelProblem]:
    return [
        ChannelProblem(target(steady(*times, 0.5), lamp or path(LINEAR)), grid(step_s))
        for times in lit
    ]


def test_switchings_move_to_their_second() -> None:
    lit = (8 * HOUR + 7, 20 * HOUR - 11)
    moved = switchings_moved(problems(60, lit), problems(1, lit))
    assert moved == {8 * HOUR: 8 * HOUR + 7, 20 * HOUR: 20 * HOUR - 11}


def test_a_lamp_dark_by_its_level_moves_the_row_before_it_lights_too() -> None:
    lit = (8 * HOUR + 7, 20 * HOUR - 11)
    for lamp in (path(STANDBY, NONE), path(LINEAR, FOLLOWS)):
        moved = switchings_moved(problems(60, lit, lamp=lamp), problems(1, lit, lamp=lamp))
        assert moved is not None
        assert moved[8 * HOUR - 60] == 8 * HOUR + 6


def test_switchings_that_meet_on_the_coarse_grid_do_not_move() -> None:
    two = ((8 * HOUR + 7, 20 * HOUR), (8 * HOUR + 9, 20 * HOUR))
    assert switchings_moved(problems(60, *two), problems(1, *two)) is None
    # a gap of ten seconds is no switching on the coarse grid
    gap = replace(problems(1, (8 * HOUR, 20 * HOUR))[0].target)
    light = gap.reachable.copy()
    light[12 * HOUR : 12 * HOUR + 10] = 0.0
    gap = replace(gap, reachable=light)
    rough, fine = ChannelProblem(gap, grid(60)), ChannelProblem(gap, grid(1))
    assert switchings_moved([rough], [fine]) is None


def test_a_grid_of_seconds_gets_a_table_and_a_bound_that_no_table_on_minutes_beats() -> None:
    aim, seconds = target(ramps(9 * HOUR, HOUR, 0.7, 2 * HOUR, 20 * HOUR, "sine"), path()), grid(1)
    (fine,) = fit([aim], seconds, 6)
    assert fine.method in ("coarser-times", "simplification")
    proof = fine.certificate
    assert 0.001 < proof.bound <= proof.error
    # Whatever stands on whole minutes stands on whole seconds too: measured there, it is no better.
    (minutes,) = fit([aim], grid(60), 6)
    light = play(minutes.rows, seconds, aim.path.levels, aim.path).light
    assert float(np.abs(light - aim.reachable).max()) >= proof.bound
    assert proof.error <= float(np.abs(light - aim.reachable).max()) + 1e-9


def test_a_dark_day_on_seconds_is_one_dark_row() -> None:
    (found,) = fit([target(DARK, path())], grid(1), 4)
    assert not found.replay.lit.any()
    assert found.certificate.error == found.certificate.bound == 0.0


def test_channels_on_seconds_share_their_times() -> None:
    aims = [target(NOON, path()), target(ramps(7 * HOUR + 13, HOUR, 0.4, HOUR, 22 * HOUR), path())]
    found = fit(aims, grid(1), 10)
    assert len({tuple(row.second for row in each.rows) for each in found}) == 1
    assert all(len(each.rows) <= 10 for each in found)
    lit = np.flatnonzero(found[1].replay.lit)
    wanted = np.flatnonzero(aims[1].reachable)
    assert (lit[0], lit[-1]) == (wanted[0], wanted[-1])
