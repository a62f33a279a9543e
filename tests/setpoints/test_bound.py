"""The lower bound on pieces against trying everything."""

from __future__ import annotations

import random

import numpy as np
import pytest

from photoperiod.setpoints.bound import RealGates, farthest, pieces_needed
from tests.setpoints.test_segments import least_pieces, small_runs


@pytest.mark.parametrize("seed", range(4))
def test_the_bound_never_asks_for_more_pieces_than_are_needed(seed: int) -> None:
    for run, most in small_runs(100 + seed, 100):
        wanted = least_pieces(run, range(20), most)
        if wanted is not None:
            assert pieces_needed(run)[0] <= wanted


def passes(low: list[float], high: list[float], begin: int, stop: int) -> bool:
    """Whether a line passes all gates: if one does, one through two gate ends does."""
    span = range(begin, stop + 1)
    if begin == stop:
        return low[begin] <= high[begin]
    ends = [(x, y) for x in span for y in (low[x], high[x])]
    for x0, y0 in ends:
        for x1, y1 in ends:
            if x1 > x0:
                slope = (y1 - y0) / (x1 - x0)
                if all(low[x] - 1e-9 <= y0 + slope * (x - x0) <= high[x] + 1e-9 for x in span):
                    return True
    return False


def test_farthest_is_how_far_a_single_line_reaches() -> None:
    chance = random.Random(7)
    for _ in range(300):
        length = chance.randint(2, 9)
        low = [chance.uniform(0, 4) for _ in range(length)]
        high = [value + chance.uniform(0, 3) for value in low]
        begin = farthest(low, high, length - 1)
        assert passes(low, high, begin, length - 1)
        assert begin == 0 or not passes(low, high, begin - 1, length - 1)
        gates = RealGates(np.array(low), np.array(high))
        assert gates.farthest(gates.last) == begin
