"""The search against trying everything: no code of the search, a player of its own."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterable

import numpy as np
import pytest

from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.segments import fewest, marked
from photoperiod.setpoints.tolerance import Ladder
from photoperiod.setpoints.work import WorkSpent

ROUNDINGS = ("half-up", "down", "toward-last-row")
PLENTY = 10**9


def emitted(a: int, b: int, elapsed: int, span: int, rounding: str) -> int:
    """What a controller puts out between two rows, by the definition of its rounding."""
    change = (b - a) * elapsed
    if rounding == "half-up":
        return a + (2 * change + span) // (2 * span)
    if rounding == "down":
        return a + change // span
    return a + math.trunc(change / span)


def corners_after(run: Corridor, index: int, count: int) -> Iterable[tuple[int, int]]:
    """Every corner that one piece reaches, by trying all of them at every sample."""
    low, high = run.low.tolist(), run.high.tolist()
    for stop in range(index + 1, run.length + 1):
        if stop == run.length:
            if run.end is None:
                return
            ends: Iterable[int] = [run.end]
        elif stop % run.grid:
            continue
        else:
            ends = range(max(low[stop], run.first), high[stop] + 1)
        for end in ends:
            span = stop - index
            if all(
                low[s] <= emitted(count, end, s - index, span, run.rounding) <= high[s]
                for s in range(index, stop)
            ):
                yield stop, end


def least_pieces(run: Corridor, starts: Iterable[int], most: int) -> int | None:
    low, high = run.low.tolist(), run.high.tolist()
    layer = {(0, c) for c in starts if low[0] <= c <= high[0] and c >= run.first}
    seen = set(layer)
    for pieces in range(1, most + 1):
        if run.end is None and any(
            all(low[s] <= count <= high[s] for s in range(index, run.length))
            for index, count in layer
        ):
            return pieces
        following = set()
        for index, count in layer:
            for corner in corners_after(run, index, count):
                if corner[0] == run.length:
                    return pieces
                following.add(corner)
        layer = following - seen
        seen |= layer
    return None


def small_runs(seed: int, number: int) -> Iterable[tuple[Corridor, int]]:
    chance = random.Random(seed)
    for _ in range(number):
        length, top = chance.randint(2, 13), chance.choice([3, 6, 12])
        wave = chance.uniform(0.2, 1.0)
        middle = [
            chance.randint(0, top)
            if chance.random() < 0.2
            else int(top * abs(math.sin(i * wave + chance.random())))
            for i in range(length)
        ]
        slack = chance.choice([0, 1, 2, 3])
        yield (
            Corridor(
                low=np.array([max(0, m - chance.randint(0, slack)) for m in middle]),
                high=np.array([m + chance.randint(0, slack) for m in middle]),
                grid=chance.choice([1, 1, 2, 3]),
                first=chance.choice([0, 0, 1]),
                end=chance.choice([None, 0, 0, 2]),
                rounding=chance.choice(ROUNDINGS),
            ),
            chance.randint(1, 6),
        )


@pytest.mark.parametrize("seed", range(8))
def test_the_fewest_pieces_are_those_of_trying_everything(seed: int) -> None:
    answers = set()
    for run, most in small_runs(seed, 150):
        starts = range(20)
        wanted = least_pieces(run, starts, most)
        found = fewest(run, starts, most, WorkSpent(PLENTY))
        assert (found.pieces if found else None) == wanted, (run, most)
        answers.add(wanted)
        if found is None:
            continue
        for (index, count), following in itertools.pairwise(found.corners):
            assert following in set(corners_after(run, index, count))
    assert {None, 1, 2, 3} <= answers


def test_work_is_bounded() -> None:
    run = Corridor(low=np.zeros(500, int), high=np.full(500, 50), grid=1, first=0, end=0,
              rounding="half-up")  # fmt: skip
    with pytest.raises(WorkSpent.Exhausted):
        fewest(run, range(51), 3, WorkSpent(1000))


def ladder(top: int) -> Ladder:
    """Light that is even in counts, so that squares in counts are squares in light."""
    return Ladder(np.arange(top + 1) / top, 0, top)


def test_marked_states_are_the_different_ones_and_no_flag_stays() -> None:
    flags = np.zeros(50, dtype=bool)
    states = np.array([7, 3, 49, 3, 7, 0], dtype=np.int32)
    assert marked(flags, states).tolist() == [0, 3, 7, 49]
    assert marked(flags, states[:0]).tolist() == []
    assert not flags.any()
