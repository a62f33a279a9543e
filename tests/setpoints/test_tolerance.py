"""Bands of counts by hand, and the distance of samples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.setpoints.tolerance import Ladder, Wanted, sample_step, sliding
from tests.conftest import drawn
from tests.setpoints.days import FOLLOWS, LINEAR, NONE, STANDBY, grid, path


@pytest.mark.parametrize(
    ("step_s", "every_s", "wanted"),
    [(60, 1, 60), (900, 1, 60), (90, 1, 45), (7, 1, 7), (3600, 1800, 1800), (300, 25, 50)],
)
def test_samples_divide_the_step_and_are_whole_moves_of_the_output(
    step_s: int, every_s: int, wanted: int
) -> None:
    levels = replace(path().levels, every_seconds=every_s)
    assert sample_step(grid(step_s), levels) == wanted


def test_an_error_is_the_distance_from_what_is_wanted_within_the_tolerance_in_time() -> None:
    wanted = Wanted(
        least=np.array([0.2, 0.2]), most=np.array([0.4, 0.4]), middle=np.array([0.3, 0.3])
    )
    assert wanted.errors(np.array([0.15, 0.3])) == pytest.approx([0.05, 0.0])
    assert wanted.errors(np.array([0.2, 0.5])) == pytest.approx([0.0, 0.1])


def test_extremes_slide_over_a_repeating_day() -> None:
    values = np.array([0.0, 1.0, 5.0, 2.0, 0.0, 3.0])
    assert sliding(values, 1, np.maximum).tolist() == [3.0, 5.0, 5.0, 5.0, 3.0, 3.0]
    assert sliding(values, 2, np.minimum).tolist() == [0.0] * 6
    assert sliding(values, 0, np.minimum).tolist() == values.tolist()


@settings(max_examples=drawn(200))
@given(
    values=st.lists(st.sampled_from([0.0, 0.0, 0.0, 0.1, 0.5, 0.9]), min_size=15, max_size=40),
    reach=st.integers(0, 7),
)
def test_extremes_slide_as_a_slow_loop_has_them(values: list[float], reach: int) -> None:
    near = [
        [values[(at + off) % len(values)] for off in range(-reach, reach + 1)]
        for at in range(len(values))
    ]
    day = np.array(values)
    assert sliding(day, reach, np.minimum).tolist() == [min(each) for each in near]
    assert sliding(day, reach, np.maximum).tolist() == [max(each) for each in near]


def test_a_band_holds_the_counts_whose_light_is_within_the_error() -> None:
    # On LINEAR light is level: counts are percents, and below 10 % the floor of 10 % burns.
    ladder = Ladder.of(path(LINEAR), None)
    wanted = Wanted(least=np.array([0.3]), most=np.array([0.4]), middle=np.array([0.35]))
    band = ladder.band(wanted, 0.02)
    assert (band.low.tolist(), band.high.tolist()) == ([28], [42])
    kept = ladder.band(replace(wanted, may_exceed=False), 0.02)
    assert (kept.low.tolist(), kept.high.tolist()) == ([28], [40])
    floor = ladder.band(
        Wanted(least=np.array([0.1]), most=np.array([0.1]), middle=np.array([0.1])), 0
    )
    assert (floor.low.tolist(), floor.high.tolist()) == ([0], [10])


def test_counts_at_which_the_lamp_is_dark_are_in_no_band_but_where_dark_is_no_error() -> None:
    edge_then_lit = Wanted(least=np.array([0.0, 0.1]), most=np.array([0.1, 0.1]),
                           middle=np.array([0.1, 0.1]))  # fmt: skip
    for lamp, first in ((path(STANDBY, NONE), 10), (path(LINEAR, FOLLOWS), 5)):
        assert Ladder.of(lamp, None).band(edge_then_lit, 0.0).low.tolist() == [0, first]


def test_a_ceiling_ends_the_ladder() -> None:
    assert Ladder.of(path(LINEAR), 40).top == 40
    assert Ladder.of(path(LINEAR), None).top == 100
