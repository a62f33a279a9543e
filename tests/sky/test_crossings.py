"""Passages through a threshold, on curves whose passages are known in closed form."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.arrays import Floats
from photoperiod.sky.crossings import Crossing, crossings

#: How near to the true moment a passage is found, where the curve isn't level. [s]
A_TENTH = 0.1

DAY_S = 86_400.0


def daily(unix_s: Floats) -> Floats:
    return np.sin(2 * math.pi * unix_s / DAY_S)


def test_a_sine_passes_half_where_it_should() -> None:
    # sin 30° = sin 150° = 1/2: at 1/12 and 5/12 of the day.
    found = crossings(daily, 0.0, 3 * DAY_S, 0.5)
    times = [day * DAY_S + part * DAY_S for day in range(3) for part in (1 / 12, 5 / 12)]
    assert [each.unix_s for each in found] == pytest.approx(times, abs=A_TENTH)
    assert [each.is_rising for each in found] == [True, False] * 3


@pytest.mark.parametrize("shift_s", [0.0, 1.0, 150.0, 299.0, 300.0, 301.0, 599.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("half_s", [1.0, 30.0, 200.0, 299.9])
def test_a_graze_between_two_grid_points_is_found_once(
    shift_s: float, sign: float, half_s: float
) -> None:
    # A parabola is on the other side for half_s before and after its vertex, wherever that lies on
    # the grid of 600 s.
    vertex = 6_000.0 + shift_s

    def parabola(unix_s: Floats) -> Floats:
        return sign * (half_s**2 - (unix_s - vertex) ** 2)

    found = crossings(parabola, 0.0, 12_000.0, 0.0)
    assert [each.unix_s for each in found] == pytest.approx(
        [vertex - half_s, vertex + half_s], abs=A_TENTH
    )
    assert [each.is_rising for each in found] == [sign > 0, sign < 0]


@pytest.mark.parametrize("shift_s", [0.0, 1.0, 299.0, 300.0, 301.0, 599.0])
def test_a_near_miss_is_none(shift_s: float) -> None:
    def parabola(unix_s: Floats) -> Floats:
        return -1.0 - (unix_s - 6_000.0 - shift_s) ** 2

    assert crossings(parabola, 0.0, 12_000.0, 0.0) == []


def test_a_level_curve_passes_nothing() -> None:
    assert crossings(lambda t: np.zeros_like(t), 0.0, DAY_S, 0.0) == []
    assert crossings(lambda t: np.zeros_like(t), 0.0, DAY_S, 1.0) == []


def test_start_belongs_to_the_interval_and_stop_does_not() -> None:
    at = crossings(daily, 0.0, DAY_S, 0.5)[0].unix_s
    assert [each.unix_s for each in crossings(daily, at, DAY_S / 4, 0.5)] == [at]
    assert crossings(daily, 0.0, at, 0.5) == []
    assert crossings(daily, at, at, 0.5) == []
    assert crossings(daily, DAY_S, 0.0, 0.5) == []


@given(
    start=st.floats(-10 * DAY_S, 10 * DAY_S),
    lengths=st.lists(st.floats(0.0, 2 * DAY_S), min_size=2, max_size=5),
    threshold=st.floats(-1.1, 1.1),
)
def test_parts_of_an_interval_have_the_passages_of_the_whole(
    start: float, lengths: list[float], threshold: float
) -> None:
    edges = [start]
    for length in lengths:
        edges.append(edges[-1] + length)
    parts: list[Crossing] = []
    for begin, end in itertools.pairwise(edges):
        parts += crossings(daily, begin, end, threshold)
    assert parts == crossings(daily, start, edges[-1], threshold)


@given(
    height=st.floats(-1.5, 1.5),
    step_s=st.floats(60.0, 3_600.0),
    shift_s=st.floats(0.0, DAY_S),
)
def test_rising_and_falling_alternate_and_lie_on_the_threshold(
    height: float, step_s: float, shift_s: float
) -> None:
    def moved(unix_s: Floats) -> Floats:
        return daily(unix_s + shift_s)

    found = crossings(moved, 0.0, 5 * DAY_S, height, step_s)
    directions = [each.is_rising for each in found]
    assert all(a != b for a, b in itertools.pairwise(directions))
    values = moved(np.array([each.unix_s for each in found]))
    assert values == pytest.approx(np.full(len(found), height), abs=1e-5)
    expected = 0 if abs(height) > 1 else 2 * 5
    if abs(abs(height) - 1) > 1e-9:
        assert len(found) in (expected - 1, expected, expected + 1) if expected else not found
