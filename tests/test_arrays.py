"""Runs of True, on a line and on a circle."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.arrays import runs_of_true


@pytest.mark.parametrize(
    ("text", "in_line", "on_circle"),
    [
        ("....", [], []),
        ("####", [(0, 4)], [(0, 4)]),
        (".##.", [(1, 3)], [(1, 3)]),
        ("##..", [(0, 2)], [(0, 2)]),
        ("..##", [(2, 4)], [(2, 4)]),
        ("#..#", [(0, 1), (3, 4)], [(3, 5)]),
        ("#.#.##", [(0, 1), (2, 3), (4, 6)], [(2, 3), (4, 7)]),
        ("", [], []),
    ],
)
def test_runs_of_true(
    text: str, in_line: list[tuple[int, int]], on_circle: list[tuple[int, int]]
) -> None:
    mask = np.array([sign == "#" for sign in text], dtype=bool)
    assert runs_of_true(mask, repeats=False) == in_line
    assert runs_of_true(mask, repeats=True) == on_circle


@given(st.lists(st.booleans(), min_size=1, max_size=40), st.booleans())
def test_runs_hold_exactly_what_is_true_and_do_not_touch(
    answers: list[bool], repeats: bool
) -> None:
    size = len(answers)
    runs = runs_of_true(np.array(answers), repeats=repeats)
    inside = [index % size for begin, end in runs for index in range(begin, end)]
    assert sorted(inside) == [index for index in range(size) if answers[index]]
    for begin, end in runs:
        if repeats and end - begin < size:
            assert not answers[begin - 1]
            assert not answers[end % size]
