"""The fewest rows of a column against trying all sets of times and all counts at them."""

from __future__ import annotations

import itertools
import math
import random
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from photoperiod.setpoints.column_search import fewest_times
from photoperiod.setpoints.columns import Column, ColumnChannel
from photoperiod.setpoints.tolerance import ToleranceBand
from photoperiod.setpoints.work import WorkSpent
from tests.setpoints.test_segments import ROUNDINGS, emitted

PLENTY = 10**9


def random_column(chance: random.Random) -> Column:
    """One or two channels on a day of a few steps, each lit in one stretch or all day."""
    steps, top, wraps = chance.randint(3, 6), 4, chance.random() < 0.6
    channels, forced = [], set() if wraps else {0}
    for _ in range(chance.randint(1, 2)):
        lit = np.ones(steps, dtype=bool)
        if chance.random() < 0.8:
            begin, length = chance.randrange(steps), chance.randint(1, steps - 1)
            lit[:] = False
            lit[np.arange(begin, begin + length) % steps] = True
            forced |= {begin, (begin + length) % steps}
        middle = [chance.randint(0, top) for _ in range(steps)]
        band = ToleranceBand(
            np.array([max(m - chance.randint(0, 2), 0) for m in middle]),
            np.array([m + chance.randint(0, 2) for m in middle]),
        )
        channels.append(ColumnChannel(band=band, lit=lit, first=chance.randint(0, 1)))
    return Column(channels=channels, forced=tuple(sorted(forced or {0})), grid=1,
                  rounding=chance.choice(ROUNDINGS), between="line", wraps=wraps)  # fmt: skip


def keeps(column: Column, channel: ColumnChannel, times: tuple[int, ...]) -> bool:
    """Whether some counts of a channel at given times keep its bands, by trying all of them."""
    low, high, steps = channel.band.low.tolist(), channel.band.high.tolist(), column.steps
    choices = [
        range(max(low[time], channel.first), high[time] + 1) if channel.lit[time] else [0]
        for time in times
    ]
    for counts in itertools.product(*choices):
        pairs = zip(zip(times, counts, strict=True),
                    [*zip(times[1:], counts[1:], strict=True), (times[0] + steps, counts[0])],
                    strict=True)  # fmt: skip
        if all(
            low[at % steps] <= put_out(column, begin, a, end, b, at) <= high[at % steps]
            for (begin, a), (end, b) in pairs
            for at in range(begin, end)
            if channel.lit[at % steps]
        ):
            return True
    return False


def put_out(column: Column, begin: int, a: int, end: int, b: int, at: int) -> int:
    if end >= column.steps and not column.wraps:  # the last row is held
        return a
    return emitted(a, b, at - begin, end - begin, column.rounding)


def fewest_of_all(column: Column) -> float:
    free = [
        step
        for step in range(column.steps)
        if step not in column.forced and (column.places is None or column.places[step])
    ]
    for number in range(len(free) + 1):
        for more in itertools.combinations(free, number):
            times = tuple(sorted({*column.forced, *more}))
            if all(keeps(column, channel, times) for channel in column.channels):
                return len(times)
    return math.inf


@pytest.mark.parametrize("seed", range(6))
def test_no_column_has_fewer_rows_than_the_search_finds(seed: int) -> None:
    chance = random.Random(seed)
    answers = set()
    for _ in range(40):
        column = random_column(chance)
        wanted = fewest_of_all(column)
        answers.add(wanted)
        found = fewest_times(column, column.steps, WorkSpent(PLENTY))
        assert (math.inf if found is None else len(found)) == wanted
        if found is None:
            continue
        times = tuple(sorted(found))
        assert set(column.forced) <= set(times)
        assert all(keeps(column, channel, times) for channel in column.channels)
        assert fewest_times(column, len(times) - 1, WorkSpent(PLENTY)) is None
    assert {math.inf, 2, 3} <= answers


@pytest.mark.parametrize("seed", range(3))
def test_rows_stand_at_some_places_only(seed: int) -> None:
    chance = random.Random(seed)
    more = 0
    for _ in range(40):
        free = random_column(chance)
        places = np.array([chance.random() < 0.5 for _ in range(free.steps)])
        column = replace(free, places=places)
        wanted = fewest_of_all(column)
        more += wanted > fewest_of_all(free)
        found = fewest_times(column, column.steps, WorkSpent(PLENTY))
        assert (math.inf if found is None else len(found)) == wanted
        assert all(places[step] or step in column.forced for step in found or ())
    assert more > 2


def test_a_channel_that_lights_again_may_begin_with_any_count() -> None:
    # The first channel is lit at the cut, step 1, goes dark at 2 and lights at 4. There 2 or 3 will do,
    # from step 5 to the cut only 3: with 3 from the first the four forced rows are enough.
    around = ColumnChannel(
        band=ToleranceBand(np.array([3, 3, 0, 0, 2, 3]), np.array([3, 3, 0, 0, 3, 3])),
        lit=np.array([True, True, False, False, True, True]),
        first=1,
    )
    beside = ColumnChannel(
        band=ToleranceBand(np.array([0, 2, 2, 0, 0, 0]), np.array([0, 2, 2, 0, 0, 0])),
        lit=np.array([False, True, True, False, False, False]),
        first=1,
    )
    column = Column(channels=[around, beside], forced=(1, 2, 3, 4), grid=1, rounding="down",
                    between="line", wraps=True)  # fmt: skip
    assert fewest_of_all(column) == 4
    assert fewest_times(column, 6, WorkSpent(PLENTY)) == (1, 2, 3, 4)


def test_the_work_is_bounded() -> None:
    column = random_column(random.Random(1))
    with pytest.raises(WorkSpent.Exhausted):
        fewest_times(column, column.steps, WorkSpent(10))


def test_sets_for_all_beginnings_are_counted_before_memory_is_taken_for_them() -> None:
    # Lit all day, with 30,000 counts in each gate: as many sets of 469 words, 113 MB.
    wide = ColumnChannel(band=ToleranceBand(np.zeros(4, dtype=np.int64), np.full(4, 29_999)),
                         lit=np.ones(4, dtype=bool), first=0)  # fmt: skip
    column = Column(channels=[wide], forced=(0,), grid=1, rounding="half-up", between="line",
                    wraps=True)  # fmt: skip
    tracemalloc.start()
    try:
        with pytest.raises(WorkSpent.Exhausted):
            fewest_times(column, 4, WorkSpent(PLENTY))
        assert tracemalloc.get_traced_memory()[1] < 20e6
    finally:
        tracemalloc.stop()
