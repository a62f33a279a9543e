"""Held levels against trying every way to cut a run."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.held import HeldRun, closest_held
from photoperiod.setpoints.work import WorkSpent
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


def fewest_by_trying(low: list[int], high: list[int], grid: int) -> float:
    """Return the fewest levels that pass all gates from the first to the last, each held in whole steps."""
    if not low:
        return 0
    return min(
        (
            1 + fewest_by_trying(low[stop:], high[stop:], grid)
            for stop in range(grid, len(low) + 1, grid)
            if max(low[:stop]) <= min(high[:stop])
        ),
        default=math.inf,
    )


@pytest.mark.parametrize("grid", [1, 2])
def test_the_fewest_held_rows_are_those_of_trying_everything(grid: int) -> None:
    chance = random.Random(4 + grid)
    top = 10
    for _ in range(60):
        size = grid * chance.randint(2, 6)
        wanted = np.array([chance.uniform(0, 1) for _ in range(size)])
        low = np.array([max(0, round(w * top) - chance.randint(0, 4)) for w in wanted])
        high = np.array([min(top, round(w * top) + chance.randint(0, 4)) for w in wanted])
        run = HeldRun(low, high, wanted, ladder(top), grid)
        for is_circle in (False, True):
            shifts = range(0, size, grid) if is_circle else (0,)
            best = min(
                fewest_by_trying([*low[n:], *low[:n]], [*high[n:], *high[:n]], grid) for n in shifts
            )
            work = WorkSpent(10**9)
            found = run.fewest_around(size, work) if is_circle else run.fewest(size, work)
            assert work.spent > 0
            if math.isinf(best):
                assert found is None
                continue
            assert found is not None and len(found) == best
            assert run.fewest(len(found) - 1, work) is None
            ends = [*(at for at, _ in found[1:]), found[0][0] + size]
            assert found[0][0] < size and (is_circle or found[0][0] == 0)
            for (at, count), end in zip(found, ends, strict=True):
                seconds = np.arange(at, end) % size
                assert at % grid == 0
                assert low[seconds].max() <= count <= high[seconds].min()
