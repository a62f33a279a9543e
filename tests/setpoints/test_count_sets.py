"""Sets of counts in words of bits, against sets of Python."""

from __future__ import annotations

import random
import tracemalloc

import numpy as np
import pytest

from photoperiod.arrays import Words
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.count_sets import CountSets, begin_counts, undominated


def corridor(low: list[int], high: list[int], first: int = 0, stride: int = 1) -> Corridor:
    return Corridor(low=np.array(low), high=np.array(high), grid=1, first=first, end=None,
                    rounding="half-up", stride=stride)  # fmt: skip


def members(words: Words, least: int, stride: int = 1) -> set[int]:
    """The counts of a set, bit by bit in whole numbers."""
    number = sum(int(word) << (64 * place) for place, word in enumerate(words))
    return {least + stride * bit for bit in range(number.bit_length()) if number >> bit & 1}


def test_a_set_of_its_own_for_each_count_and_all_in_one() -> None:
    run = corridor([3] * 4, [90] * 4)  # 88 counts: two words
    sets = CountSets(run, 2, 3)
    each = sets.each(np.array([3, 66, 67]))
    assert [members(row, 3) for row in each] == [{3}, {66}, {67}]
    assert members(sets.all_begins()[0], 3) == set(range(3, 91))


def test_rows_stand_above_the_first_count_and_on_the_stride() -> None:
    run = corridor([1] * 4, [20] * 4, first=5, stride=4)
    assert begin_counts(run).tolist() == [8, 12, 16, 20]
    sets = CountSets(run, 1, 1)
    assert members(sets.all_begins()[0], 8, 4) == {8, 12, 16, 20}


def test_all_counts_of_a_wide_gate_take_the_memory_of_one_set() -> None:
    # 100,000 counts are 1,563 words; a set of its own for each of them would take 1,250 MB.
    wide = corridor([0] * 2, [99_999] * 2)
    sets = CountSets(wide, 1563, 1)
    every = np.full((1, 1, 1563), ~np.uint64(0))
    tracemalloc.start()
    try:
        begun, held = sets.all_begins(), sets.holds(0, every)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert int(np.bitwise_count(begun).sum()) == 100_000
    assert held.tolist() == [True]
    assert peak < 30e6  # the counts themselves, as a list and as an array


def test_counts_outside_the_last_gate_end_nothing() -> None:
    sets = CountSets(corridor([0, 2], [9, 4]), 1, 3)
    assert [members(row, 2) for row in sets.at_end(np.array([1, 3, 5]))] == [set(), {3}, set()]


def test_one_piece_moves_a_set_to_all_that_its_counts_reach() -> None:
    # Gates 0..9, then 4..5, then 0..9. Halves go up: from count 1 a line to 6 is at 3.5 halfway, which
    # is put out as 4, and one to 9 is at 5; from count 9 a line to 0 is at 4.5, put out as 5, one to 1
    # is at 5, and one to 2 at 5.5, put out as 6.
    sets = CountSets(corridor([0, 4, 0], [9, 5, 9]), 1, 1)
    useful = np.array([True, True, True, False])
    assert not sets.is_prepared(0, 1)
    sets.prepare(np.array([0]), useful, 1)
    assert sets.is_prepared(0, 1)
    assert sets.is_prepared(0, 2)  # fewer places are useful then
    assert not sets.is_prepared(0, 0)
    assert sets.room(0, useful) == (10, 2)
    assert sets.room(0, np.array([True, True, False, False])) == (10, 1)
    reach = sets.reach_of(0, 2)
    assert (sets.reach_of(0, 1) == reach[:, :1]).all()
    for counts, wanted in (([1], {6, 7, 8, 9}), ([9], {0, 1}), ([1, 9], {0, 1, 6, 7, 8, 9})):
        label = np.bitwise_or.reduce(sets.each(np.array(counts)), axis=0).reshape(1, 1, 1)
        moved = sets.moved(label, reach)
        assert members(moved[0, 0], 4) == {4, 5}
        assert members(moved[0, 1], 0) == wanted


def test_a_count_can_be_held_if_all_later_gates_let_it() -> None:
    sets = CountSets(corridor([0, 3, 0], [9, 5, 9]), 1, 1)
    labels = sets.each(np.array([2, 3, 5, 6])).reshape(4, 1, 1)
    assert sets.holds(0, labels).tolist() == [False, True, True, False]


@pytest.mark.parametrize("seed", range(20))
def test_only_sets_that_no_other_contains_are_kept(seed: int) -> None:
    chance = random.Random(seed)
    group = [chance.randrange(16) for _ in range(8)]
    archive = [chance.randrange(16) for _ in range(chance.randrange(3))]
    known = np.array(archive, dtype=np.uint64).reshape(-1, 1) if archive else None
    kept = undominated(np.array(group, dtype=np.uint64).reshape(-1, 1), known).tolist()
    for number, mine in enumerate(group):
        is_in_known = any(mine & ~other == 0 for other in archive)
        is_in_other = any(mine & ~other == 0 and mine != other for other in group)
        is_first = group.index(mine) == number
        assert (number in kept) is (not is_in_known and not is_in_other and is_first)
