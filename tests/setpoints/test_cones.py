"""What one piece reaches, against trying every corner at every sample."""

from __future__ import annotations

import random

import numpy as np
import pytest

from photoperiod.setpoints.cones import Reach
from photoperiod.setpoints.work import WorkSpent
from tests.setpoints.test_segments import PLENTY, corners_after, small_runs


@pytest.mark.parametrize("seed", range(3))
def test_all_corners_of_one_piece_are_found_and_no_others(seed: int) -> None:
    chance, compared = random.Random(seed), 0
    for run, _ in small_runs(300 + seed, 80):
        if (run.low > run.high).any():
            continue
        begins = [
            (i, count)
            for i in range(0, run.length, run.grid)
            for count in range(max(int(run.low[i]), run.first), int(run.high[i]) + 1)
        ]
        if not begins:
            continue
        useful = run.places() & (np.array([chance.random() for _ in range(run.length + 1)]) < 0.8)
        index, count = np.array(begins).T
        source, at, reached = Reach(run, WorkSpent(PLENTY)).corners(index, count, useful)
        found = {
            (begins[s], (i, c))
            for s, i, c in zip(source.tolist(), at.tolist(), reached.tolist(), strict=True)
        }
        wanted = {
            (begin, corner)
            for begin in begins
            for corner in corners_after(run, *begin)
            if useful[corner[0]]
        }
        assert found == wanted
        compared += len(wanted)
    assert compared > 1000
