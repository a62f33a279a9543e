"""Stretches of light. The formulas of the shapes are tested in test_shapes.py, by quadrature."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.curves.segment import Segment, corners_of, ramps
from photoperiod.curves.shapes import Shape


@pytest.mark.parametrize("shape", Shape)
def test_a_falling_segment_is_a_rising_one_seen_backwards(shape: Shape) -> None:
    rising, falling = Segment(0, 100, 0.2, 0.9, shape), Segment(0, 100, 0.9, 0.2, shape)
    times = np.array([1.0, 10.0, 50.0, 80.0, 99.0])
    assert rising.light(times) == pytest.approx(falling.light(100.0 - times), rel=1e-12)
    assert rising.integral(10, 30) == pytest.approx(falling.integral(70, 90), rel=1e-12)


def test_a_straight_ramp_by_hand() -> None:
    ramp = Segment(100, 200, 0.0, 0.8)
    assert ramp.light(np.array([125.0])) == pytest.approx([0.2])
    assert ramp.integral(0, 1000) == pytest.approx(40.0)  # half of 100 s × 0.8
    assert ramp.integral(150, 200) == pytest.approx(30.0)  # 50 s at 0.6 on average
    assert ramp.integral(200, 300) == 0.0


def test_corners_are_the_ends_of_what_lasts() -> None:
    assert corners_of([Segment(1, 5, 0, 1), Segment(6, 6, 1, 0), Segment(7, 9, 1, 1)]) == {
        1,
        5,
        7,
        9,
    }
    assert corners_of([]) == frozenset()


def test_ramps_and_what_is_held_between_them() -> None:
    assert ramps(10, [(10, 5, 0.5, "linear"), (20, 10, 0.8, "sine")], 60, 20, "smooth") == (
        Segment(10, 15, 0.0, 0.5),
        Segment(15, 20, 0.5, 0.5),
        Segment(20, 30, 0.5, 0.8, Shape.SINE),
        Segment(30, 40, 0.8, 0.8),
        Segment(40, 60, 0.8, 0.0, Shape.SMOOTH),
    )


def test_ramps_of_no_length_are_steps() -> None:
    assert ramps(10, [(10, 0, 0.5, "linear")], 60, 0, "linear") == (Segment(10, 60, 0.5, 0.5),)


def test_a_day_may_have_no_peak_that_lasts() -> None:
    found = ramps(0, [(0, 30, 1.0, "sine")], 60, 30, "sine")
    assert [(s.start_s, s.end_s) for s in found] == [(0, 30), (30, 60)]
