"""The counts at given times against trying all of them."""

from __future__ import annotations

import itertools
import math
import random

import numpy as np
import pytest

from photoperiod.setpoints.column_levels import levels_of
from photoperiod.setpoints.shared_problem import SharedChannel, SharedProblem
from photoperiod.setpoints.tolerance import Ladder, Wanted
from photoperiod.setpoints.work import WorkSpent
from tests.setpoints.test_segments import ROUNDINGS, emitted, ladder

PLENTY = 10**9
STEPS, TOP = 6, 8


def problem_of(plan: list[float], lit: list[bool], rounding: str, between: str, wraps: bool,
               light: Ladder | None = None) -> SharedProblem:  # fmt: skip
    """One channel whose joint error is its error, on a day of six steps of one sample each."""
    middle = np.array(plan)
    channel = SharedChannel(
        wanted=Wanted(least=middle, most=middle, middle=middle),
        ladder=light or ladder(TOP),
        lit=np.array(lit),
        scale=1.0,
        floor=0.0,
    )
    edges = [step for step in range(STEPS) if lit[step] != lit[step - 1]]
    forced = frozenset(edges if wraps else {0, *edges})
    return SharedProblem(channels=[channel], forced=forced, grid=1, rounding=rounding,
                         between=between, wraps=wraps)  # fmt: skip


def squares(
    problem: SharedProblem, times: list[int], counts: dict[int, int], error: float
) -> float:
    """The sum of squares of a table by hand; infinite if a sample is off by more than the error."""
    (channel,) = problem.channels
    total = 0.0
    for begin, end in zip(times, [*times[1:], times[0] + STEPS], strict=True):
        if not channel.lit[begin]:
            continue
        a = counts[begin]
        b = counts[end % STEPS] if channel.lit[end % STEPS] else 0
        if problem.between == "hold" or (end >= STEPS and not problem.wraps):
            b = a
        for at in range(begin, end):
            wanted = float(channel.wanted.middle[at % STEPS])
            put_out = emitted(a, b, at - begin, end - begin, problem.rounding) / TOP
            if abs(put_out - wanted) > error + 1e-7:
                return math.inf
            total += ((a + (b - a) * (at - begin) / (end - begin)) / TOP - wanted) ** 2
    return total


@pytest.mark.parametrize("between", ["line", "hold"])
@pytest.mark.parametrize("seed", range(4))
def test_the_counts_are_those_with_the_least_squares(seed: int, between: str) -> None:
    chance = random.Random(seed)
    compared = 0
    for _ in range(60):
        wraps = chance.random() < 0.5
        length = chance.choice([3, 4, STEPS])
        lit = [step < length for step in range(STEPS)]
        plan = [chance.randint(1, TOP) / TOP if on else 0.0 for on in lit]
        problem = problem_of(plan, lit, chance.choice(ROUNDINGS), between, wraps)
        free = [step for step in range(STEPS) if step not in problem.forced]
        times = sorted(problem.forced | set(chance.sample(free, min(len(free), 2))))
        error = chance.choice([0.15, 0.3, 0.5])
        lit_times = [time for time in times if lit[time]]
        found = levels_of(problem, 0, times, error, WorkSpent(PLENTY))
        best = min(
            squares(problem, times, dict(zip(lit_times, counts, strict=True)), error)
            for counts in itertools.product(range(TOP + 1), repeat=len(lit_times))
        )
        assert (found is None) is math.isinf(best)
        if found is not None:
            assert sorted(found) == lit_times
            assert squares(problem, times, found, error) == pytest.approx(best, abs=1e-9)
            compared += 1
    assert compared > 15


def test_a_shift_moves_the_counts() -> None:
    problem = problem_of([0.5] * STEPS, [True] * STEPS, "half-up", "line", True)
    for shift, count in ((0.0, 4), (0.125, 5), (-0.125, 3)):
        found = levels_of(problem, 0, [0], 0.25, WorkSpent(PLENTY), shift)
        assert found == {0: count}


def test_a_dark_channel_has_no_counts() -> None:
    problem = problem_of([0.0] * STEPS, [False] * STEPS, "half-up", "line", True)
    assert levels_of(problem, 0, [0, 3], 0.1, WorkSpent(PLENTY)) == {}
