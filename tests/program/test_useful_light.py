"""Photosynthesis beside dose, against arithmetic and the formula of Jassby & Platt."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from photoperiod.program.useful_light import USEFUL_LIGHT, UsefulLight, useful_light
from tests.conftest import drawn

DAY, HOUR = 86_400, 3600

#: Sums of 86,400 doubles, and seconds of a triangle.
TOLERANCE = 1e-4

quick = settings(max_examples=drawn(60))


def triangle(peak: float, begin_s: int, length_s: int) -> np.ndarray:
    """A day that rises in a line to its peak and falls again, in the middles of seconds."""
    time = (np.arange(DAY) - begin_s) % DAY + 0.5
    rise = np.minimum(time, length_s - time) / (length_s / 2)
    return peak * np.clip(rise, 0, None)


def useful(day: np.ndarray, ek: float) -> UsefulLight:
    return useful_light(day, day, ek)


def test_half_of_the_most_is_where_the_formula_says() -> None:
    # P/Pmax = tanh(I/Ek): Jassby & Platt, Limnology and Oceanography 21:540-547, 1976
    by_scipy = brentq(lambda ratio: math.tanh(ratio) - 0.5, 0, 2)
    assert pytest.approx(by_scipy, rel=1e-9) == USEFUL_LIGHT


def test_a_triangle_by_hand() -> None:
    # A triangle of 12 h to 400, Ek 200: half of the time above Ek, 6 h. Above it stands a triangle of half
    # the height and half the base: a quarter of the area. 0.5493 × 200 = 109.9 is passed after
    # 109.9/400 × 6 h = 1.648 h = 5,932.6 s.
    found = useful(triangle(400, 8 * HOUR, 12 * HOUR), 200)
    assert found.hours_above_ek == pytest.approx(6, abs=2 / HOUR)
    assert found.share_above_ek == pytest.approx(0.25, abs=TOLERANCE)
    assert found.begin_s == pytest.approx(8 * HOUR + 5932.6, abs=1)
    assert found.end_s == pytest.approx(20 * HOUR - 5932.6, abs=1)


def test_a_day_that_never_helps_and_one_that_always_does() -> None:
    dim = useful(np.full(DAY, 10.0), 200)
    assert (dim.begin_s, dim.end_s, dim.hours_above_ek, dim.share_above_ek) == (None, None, 0, 0)
    dark = useful(np.zeros(DAY), 200)
    assert (dark.begin_s, dark.share_above_ek) == (None, 0)
    bright = useful(np.full(DAY, 400.0), 200)
    assert (bright.begin_s, bright.end_s, bright.hours_above_ek) == (0, DAY, 24)
    assert bright.share_above_ek == pytest.approx(0.5)


def test_a_cloud_at_noon_does_not_end_the_day() -> None:
    day = np.zeros(DAY)
    day[8 * HOUR : 20 * HOUR] = 300
    day[12 * HOUR : 13 * HOUR] = 0
    found = useful(day, 200)
    assert (found.begin_s, found.end_s) == (8 * HOUR, 20 * HOUR)
    assert found.hours_above_ek == 11


@quick
@given(st.integers(0, DAY - 1), st.integers(1, 20 * HOUR), st.floats(20, 900))
def test_the_day_moves_with_its_light(begin: int, length: int, peak: float) -> None:
    still, moved = triangle(peak, 0, length), triangle(peak, begin, length)
    a, b = useful(still, 100), useful(moved, 100)
    assert b.hours_above_ek == a.hours_above_ek
    assert b.share_above_ek == pytest.approx(a.share_above_ek, abs=TOLERANCE)
    if a.begin_s is None or a.end_s is None:
        assert b.begin_s is b.end_s is None
    else:
        assert b.begin_s == (a.begin_s + begin) % DAY
        assert b.end_s in ((a.end_s + begin) % DAY, DAY)


def test_hours_are_those_that_pass() -> None:
    day = np.full(DAY, 400.0)
    found = useful_light(day, day[: 23 * HOUR], 200)
    assert found.hours_above_ek == 23
