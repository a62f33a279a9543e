"""The second objective against trying every path."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterable

import numpy as np
import pytest

from photoperiod.drive.grid import Rounding
from photoperiod.kernel import which
from photoperiod.setpoints import least_squares
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.least_squares import Pieces
from photoperiod.setpoints.work import WorkSpent
from tests.setpoints.test_segments import PLENTY, corners_after, ladder, small_runs


def square(run: Corridor, corners: list[tuple[int, int]], wanted: np.ndarray, top: int) -> float:
    """The weighted squares of a path, line by line; weights are 1/top² all over."""
    path = list(corners)
    path.append((run.length, run.end if run.end is not None else path[-1][1]))
    total = 0.0
    for (i, a), (j, b) in itertools.pairwise(path):
        for s in range(i, j):
            total += ((a + (b - a) * (s - i) / (j - i)) / top - wanted[s]) ** 2
    return total


def all_paths(run: Corridor, starts: Iterable[int], most: int) -> Iterable[list[tuple[int, int]]]:
    low, high = run.low.tolist(), run.high.tolist()
    open_paths = [[(0, c)] for c in starts if low[0] <= c <= high[0] and c >= run.first]
    while open_paths:
        path = open_paths.pop()
        index, count = path[-1]
        if run.end is None and all(low[s] <= count <= high[s] for s in range(index, run.length)):
            yield path
        for corner in corners_after(run, index, count):
            if corner[0] == run.length:
                yield path
            elif len(path) < most:
                open_paths.append([*path, corner])


@pytest.mark.parametrize("seed", range(4))
def test_the_closest_path_is_that_of_trying_everything(seed: int) -> None:
    chance = random.Random(seed)
    compared = 0
    for run, most in small_runs(200 + seed, 60):
        top = 20
        wanted = np.array([chance.uniform(0, 0.8) for _ in range(run.length)])
        paths = [p for p in all_paths(run, range(top), min(most, 3)) if len(p) <= most]
        pieces = Pieces(run, range(top), min(most, 3), ladder(top), WorkSpent(PLENTY))
        found = pieces.closest(wanted)
        assert bool(paths) == bool(found)
        if paths:
            best = min(square(run, path, wanted, top) for path in paths)
            corners = list(found[-1][1].corners)
            assert square(run, corners, wanted, top) == pytest.approx(best, abs=1e-9)
            compared += 1
    assert compared > 10


@pytest.mark.parametrize("kernel", ["compiled", "numpy"])
def test_the_last_bits_of_a_plan_do_not_choose_between_ways_that_cost_the_same(
    kernel: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Level 10.5 of 20 all the time, with two rows that can't say so: a way and its mirror image are best.
    if kernel == "numpy":
        monkeypatch.setattr(which, "compiled", lambda: None)
    run = Corridor(low=np.full(12, 9), high=np.full(12, 12), grid=3, first=1, end=None,
                   rounding=Rounding.HALF_UP)  # fmt: skip
    wanted = np.full(12, 10.5 / 20)
    costs = {tuple(path): square(run, path, wanted, 20) for path in all_paths(run, range(20), 2)}
    least = min(costs.values())
    best = {path for path, cost in costs.items() if cost < least + 1e-12}
    assert best == {((0, 10), (9, 11)), ((0, 11), (9, 10))}
    found, chance = set(), np.random.default_rng(7)
    for _ in range(40):
        moved = wanted * (1 + chance.uniform(-1, 1, 12) * 2.0**-50)
        pieces = Pieces(run, range(20), 2, ladder(20), WorkSpent(PLENTY))
        found.add(pieces.closest(moved)[-1][1].corners)
    assert len(found) == 1 and found <= best


def test_costs_are_counted_before_they_are_held(monkeypatch: pytest.MonkeyPatch) -> None:
    run, _ = next((run, most) for run, most in small_runs(200, 60) if run.end == 0)
    states = Pieces(run, range(20), 3, ladder(20), WorkSpent(PLENTY)).graph.states.size
    monkeypatch.setattr(least_squares, "MOST_COSTS", 4 * states)
    Pieces(run, range(20), 3, ladder(20), WorkSpent(PLENTY))
    monkeypatch.setattr(least_squares, "MOST_COSTS", 4 * states - 1)
    with pytest.raises(WorkSpent.Exhausted):
        Pieces(run, range(20), 3, ladder(20), WorkSpent(PLENTY))
