"""Held levels against trying every way to cut a run."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.held import closest_held
from tests.setpoints.test_segments import ladder


def test_the_closest_held_levels_are_those_of_trying_everything() -> None:
    chance = random.Random(3)
    for _ in range(60):
        length, top = chance.randint(2, 7), 10
        wanted = np.array([chance.uniform(0, 1) for _ in range(length)])
        low = np.array([max(0, round(w * top) - chance.randint(0, 3)) for w in wanted])
        high = np.array([min(top, round(w * top) + chance.randint(0, 3)) for w in wanted])
        run = Corridor(low=low, high=high, grid=1, first=0, end=0, rounding="half-up")
        best: dict[int, float] = {}

        def held(begin: int, cost: float, rows: int, run: Corridor = run, best: dict = best,
                 wanted: np.ndarray = wanted, top: int = top) -> None:  # fmt: skip
            if begin == run.length:
                best[rows] = min(best.get(rows, math.inf), cost)
                return
            for stop in range(begin + 1, run.length + 1):
                for count in range(run.low[begin:stop].max(), run.high[begin:stop].min() + 1):
                    more = float(((count / top - wanted[begin:stop]) ** 2).sum())
                    held(stop, cost + more, rows + 1)

        held(0, 0.0, 0)
        found = closest_held(run, length, ladder(top), wanted)
        assert found[0][1].pieces == min(best)
        assert found[0][0] == pytest.approx(best[min(best)], abs=1e-9)
        assert found[-1][0] == pytest.approx(min(best.values()), abs=1e-9)
