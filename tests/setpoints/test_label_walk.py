"""Labels that wait and are dropped, against plain sets; whole walks are in test_column_search.py."""

from __future__ import annotations

import random

import numpy as np
import pytest

from photoperiod.setpoints.label_walk import Labels, Packing, Trail, _Waiting


def labels(*each: tuple[int, int, int]) -> Labels:
    """Labels of one word, by pieces, row before and set."""
    pieces, rows, sets = zip(*each, strict=True)
    packed = np.array(sets, dtype=np.uint64).reshape(-1, 1)
    return Labels(np.array(pieces), np.array(rows), packed)


def plain(found: Labels) -> list[tuple[int, int, int]]:
    packed = found.packed[:, 0].tolist()
    return list(zip(found.pieces.tolist(), found.rows.tolist(), packed, strict=True))


def worth_keeping(each: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Those that no other label makes needless, one by one; rising in pieces, else as they came."""
    kept = [
        label
        for n, label in enumerate(each)
        if not any(
            (label[2] & ~other[2] == 0 and other[0] <= label[0])
            and (other[:1] + other[2:] != label[:1] + label[2:] or m < n)
            for m, other in enumerate(each)
            if m != n
        )
    ]
    return sorted(kept, key=lambda label: label[0])


@pytest.mark.parametrize("seed", range(20))
def test_a_label_that_another_makes_needless_is_dropped(seed: int) -> None:
    chance = random.Random(seed)
    each = [(chance.randrange(3), n, chance.randrange(16)) for n in range(chance.randint(1, 12))]
    assert plain(labels(*each).undominated()) == worth_keeping(each)


@pytest.mark.parametrize("seed", range(10))
def test_what_waits_is_found_at_its_place_in_the_order_in_which_it_came(seed: int) -> None:
    chance = random.Random(seed)
    waiting, wanted = _Waiting(), dict[int, list[tuple[int, int, int]]]()
    held = 0
    for place in range(200):
        batch = [
            (chance.randrange(3), chance.randrange(99), chance.randrange(16)) for _ in range(4)
        ]
        goals = sorted(chance.randrange(place, 200) for _ in batch)
        waiting.add(labels(*batch), np.array(goals))
        for goal, label in zip(goals, batch, strict=True):
            wanted.setdefault(goal, []).append(label)
        if seed % 2 and chance.random() < 0.1:  # in between what is needless goes
            waiting.drop_dominated()
            wanted = {goal: worth_keeping(some) for goal, some in wanted.items()}
        held = sum(map(len, wanted.values()))
        assert waiting.held == held
        found = waiting.taken_at(place)
        assert (None if found is None else plain(found)) == wanted.pop(place, None)
    assert held


def test_a_label_is_traced_back_to_the_cut() -> None:
    trail = Trail()
    first = trail.add([-1, -1], 0)
    second = trail.add([int(first[1])], 7)
    last = trail.add([int(second[0]), int(first[0])], 12)
    assert trail.back_from(int(last[0])) == [0, 7, 12]
    assert trail.back_from(int(last[1])) == [0, 12]


def test_sets_lie_side_by_side() -> None:
    packing = Packing({4: (2, 3), 1: (1, 1)})
    sets = {4: np.arange(6, dtype=np.uint64).reshape(2, 3), 1: np.full((1, 1), 9, dtype=np.uint64)}
    packed = packing.pack(sets)
    assert packed.tolist() == [0, 1, 2, 3, 4, 5, 9]
    assert {n: each.tolist() for n, each in packing.unpack(packed).items()} == {
        4: [[0, 1, 2], [3, 4, 5]],
        1: [[9]],
    }
    assert packing.of_channel(packed[None], 1).tolist() == [[[9]]]
    assert packing.are_alive(packed)
    packed[6] = 0
    assert not packing.are_alive(packed)
