"""Rows round a day that is never dark, against trying everything, and against the search of columns."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import numpy as np
import pytest

from photoperiod.setpoints.circle import _Circle, fewest_around
from photoperiod.setpoints.column_search import fewest_times
from photoperiod.setpoints.columns import Column, ColumnChannel
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.tolerance import ToleranceBand
from photoperiod.setpoints.work import WorkSpent
from tests.kernel.comparing import rolling_day
from tests.setpoints.test_column_search import keeps
from tests.setpoints.test_segments import ROUNDINGS, emitted

PLENTY = 10**9


def circle(low: list[int], high: list[int], *, rounding: str = "half-up", first: int = 0,
           stride: int = 1, grid: int = 1, cut: int = 0) -> Column:  # fmt: skip
    """A channel that is never dark, with a band for each sample of its day."""
    channel = ColumnChannel(
        band=ToleranceBand(np.array(low), np.array(high)),
        lit=np.ones(len(low) // grid, dtype=bool),
        first=first,
        stride=stride,
    )
    return Column(channels=[channel], forced=(cut,), grid=grid, rounding=rounding,
                  between="line", wraps=True)  # fmt: skip


def random_circle(chance: random.Random) -> Column:
    steps, top = chance.randint(2, 6), chance.choice([2, 4])
    middle = [chance.randint(0, top) for _ in range(steps)]
    return circle(
        [max(m - chance.randint(0, 2), 0) for m in middle],
        [m + chance.randint(0, 2) for m in middle],
        rounding=chance.choice(ROUNDINGS),
        first=chance.randint(0, 1),
        cut=chance.randrange(steps),
    )


def fewest_of_all(column: Column) -> float:
    (channel,) = column.channels
    free = [n for n in range(column.steps) if column.places is None or column.places[n]]
    for number in range(1, column.steps + 1):
        for times in itertools.combinations(free, number):
            if keeps(column, channel, times):
                return number
    return math.inf


def around(column: Column, most: int | None = None) -> tuple[int, ...] | None:
    """Search with a window of the whole day: some row stands in it, whatever the gates are."""
    return fewest_around(column, column.steps, most or column.steps, WorkSpent(PLENTY))


@pytest.mark.parametrize("seed", range(6))
def test_no_table_has_fewer_rows_than_the_search_finds(seed: int) -> None:
    chance = random.Random(seed)
    answers = set()
    for _ in range(60):
        column = random_circle(chance)
        wanted = fewest_of_all(column)
        answers.add(wanted)
        found = around(column)
        assert (math.inf if found is None else len(found)) == wanted
        if found is not None:
            assert keeps(column, column.channels[0], tuple(sorted(found)))
            assert len(found) == 1 or around(column, len(found) - 1) is None
    assert {math.inf, 1, 2, 3} <= answers


@pytest.mark.parametrize("seed", range(3))
def test_rows_stand_at_some_places_only(seed: int) -> None:
    chance = random.Random(seed)
    more = 0
    for _ in range(40):
        free = random_circle(chance)
        places = np.array([chance.random() < 0.6 for _ in range(free.steps)])
        column = replace(free, places=places)
        wanted = fewest_of_all(column)
        more += wanted > fewest_of_all(free)
        found = around(column)
        assert (math.inf if found is None else len(found)) == wanted
        assert all(places[step] for step in found or ())
    assert more > 2


@pytest.mark.parametrize("grid", [1, 3])
def test_a_longer_day_takes_as_many_rows_as_the_search_of_columns_finds(grid: int) -> None:
    chance = random.Random(grid)
    answers = set()
    for _ in range(12):
        column = rolling_day(chance, 24, grid)
        most = 9
        others = [
            fewest_times(replace(column, forced=(cut,)), most, WorkSpent(PLENTY))
            for cut in range(column.steps)
        ]
        wanted = min((len(each) for each in others if each is not None), default=None)
        found = around(column, most)
        assert (None if found is None else len(found)) == wanted
        answers.add(wanted)
        if found is not None:  # times that the other search finds as good, with rows at them alone
            places = np.zeros(column.steps, dtype=bool)
            places[list(found)] = True
            only = replace(column, forced=(found[0],), places=places)
            assert fewest_times(only, len(found), WorkSpent(PLENTY)) is not None
    assert len(answers) > 2


@pytest.mark.parametrize("seed", [59, 68, 92, 95, 211, 259, 280, 285, 312])
def test_every_row_leads_to_the_next_one(seed: int) -> None:
    # Days on which the way forward and the way back could meet in several states: they take the same one.
    column = rolling_day(random.Random(seed), 24)
    search = _Circle(column, column.steps, WorkSpent(PLENTY))
    rows = len(around(column) or ())
    assert rows
    chains = []
    for begin, stop in search.parts():
        meeting = search._met(begin, stop, rows)
        chains.append(None if meeting is None else search._closed(meeting, 0))
    states = next(chain for chain in chains if chain is not None)
    (channel,), steps, cut = column.channels, column.steps, column.forced[0]
    corners = [
        (state // search.width, int(search.forward.base[state // search.width])
         + state % search.width * channel.stride)
        for state in states
    ]  # fmt: skip
    corners.append((corners[0][0] + steps, corners[0][1]))
    for (begin, a), (end, b) in itertools.pairwise(corners):
        assert end > begin
        for at in range(begin, end):
            given = emitted(a, b, at - begin, end - begin, column.rounding)
            sample = (cut + at) % steps
            assert channel.band.low[sample] <= given <= channel.band.high[sample]


def test_a_window_is_enough_if_no_line_passes_it() -> None:
    # From 3 to 5 no line passes the gates of 0 and 9: a row stands at 4, and the window of one step finds it.
    low, high = [2, 0, 0, 0, 9, 0, 0, 2], [4, 9, 9, 0, 9, 0, 9, 4]
    column = circle(low, high, cut=4)
    found = fewest_around(column, 1, 8, WorkSpent(PLENTY))
    assert found is not None
    assert found[0] == 4
    assert len(found) == fewest_of_all(column)


def test_rows_are_told_from_the_first_of_them_on() -> None:
    column = circle([0, 4, 0, 4, 0, 4], [0, 4, 0, 4, 0, 4], cut=2)
    assert around(column) == (2, 3, 4, 5, 0, 1)


def test_one_level_that_suits_all_day_is_one_row() -> None:
    found = fewest_around(circle([1, 2, 3], [5, 4, 3], cut=1), 1, 3, WorkSpent(PLENTY))
    assert found == (1,)


def test_a_shut_gate_lets_nothing_through() -> None:
    assert around(circle([1, 3, 1], [2, 2, 2])) is None


def test_the_work_is_bounded() -> None:
    column = rolling_day(random.Random(1), 24)
    with pytest.raises(WorkSpent.Exhausted):
        fewest_around(column, column.steps, 9, WorkSpent(10))


def test_pieces_are_counted_before_they_are_held(monkeypatch: pytest.MonkeyPatch) -> None:
    column = rolling_day(random.Random(1), 24)
    monkeypatch.setattr("photoperiod.setpoints.work.MOST_HELD", 20)
    with pytest.raises(WorkSpent.Exhausted):
        around(column, 9)


def test_read_backward_a_line_reaches_where_it_comes_from() -> None:
    run = Corridor(low=np.array([0, 1, 2]), high=np.array([1, 2, 4]), grid=1, first=0, end=None,
                   rounding="toward-last-row")  # fmt: skip
    backward = run.backward()
    assert backward.low.tolist() == [2, 1, 0]
    assert [sign for sign, _, _ in backward.lines()] == [-1, 1]
    assert [sign for sign, _, _ in backward.backward().lines()] == [1, -1]
