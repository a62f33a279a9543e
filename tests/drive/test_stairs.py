"""Stairs against the formula of the player, second by second."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.replay import levels_of
from photoperiod.drive.stairs import MOST_STEPS, stairs_of
from tests.conftest import drawn
from tests.drive.test_replay import DAY, LINE_WRAP, ROUNDINGS, tables

ALL = np.arange(DAY, dtype=np.int64)


@settings(max_examples=drawn(60))
@given(
    table=tables(),
    between=st.sampled_from(["line", "hold"]),
    after=st.sampled_from(["wrap", "hold"]),
    rounding=st.sampled_from(ROUNDINGS),
    every=st.sampled_from([1, 7, 60, 3600]),
)
def test_stairs_are_what_the_formula_gives_in_every_second(
    table: tuple[list[Row], int], between: str, after: str, rounding: str, every: int
) -> None:
    rows, step = table
    times = TimeGrid(step_s=step, between=between, after_last_row=after)
    seconds, counts = (
        np.array(part) for part in zip(*((r.second, r.count) for r in rows), strict=True)
    )
    relays = np.array([row.relay is not False for row in rows])
    stairs = stairs_of(seconds, counts, relays, times, every, rounding)
    if stairs is None:
        return
    assert stairs.lengths.sum() == DAY
    assert stairs.lengths.min() >= 0
    by_formula, relay_on = levels_of(rows, times, every, rounding, ALL)
    assert np.repeat(stairs.counts, stairs.lengths).tolist() == by_formula.tolist()
    assert np.repeat(stairs.relay_on, stairs.lengths).tolist() == relay_on.tolist()


def test_a_table_of_very_many_steps_has_no_stairs() -> None:
    counts = np.array([0, MOST_STEPS])
    on = np.ones(2, dtype=bool)
    assert stairs_of(np.array([0, 7200]), counts, on, LINE_WRAP, 1, "half-up") is None
    few = stairs_of(np.array([0, 7200]), counts // 100, on, LINE_WRAP, 1, "half-up")
    assert few is not None
    assert few.counts.max() == MOST_STEPS // 100
