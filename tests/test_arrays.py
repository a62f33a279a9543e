"""Runs of True, on a line and on a circle; and numpy, which comes when something is computed."""

from __future__ import annotations

import platform
import subprocess
import sys
from pathlib import Path

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.arrays import np, runs_of_true, stretch_of_true, where_true
from tests.conftest import SCHEDULE


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


@given(st.lists(st.booleans(), max_size=12))
def test_a_stretch_reaches_from_the_first_true_to_the_last(answers: list[bool]) -> None:
    true = [index for index, answer in enumerate(answers) if answer]
    expected = slice(true[0], true[-1] + 1) if true else slice(0, 0)
    assert stretch_of_true(np.array(answers, dtype=bool)) == expected


def test_a_stretch_of_an_array_that_is_not_flat_is_everywhere() -> None:
    assert stretch_of_true(np.array([[False, True], [False, False]])) == slice(None)


def test_it_is_numpy() -> None:
    assert np.zeros is numpy.zeros
    assert np.int64 is numpy.int64
    with pytest.raises(AttributeError, match="no_such_name"):
        np.no_such_name  # noqa: B018


@pytest.mark.parametrize(
    ("written", "instead", "is_loaded"),
    [
        ("between: line", "betwen: line", False),  # the shape is wrong
        ("full_volts: 10.0", "full_volts: 0.5", False),  # the meaning is wrong
        ("title: Test bench", "title: Test bench", True),  # nothing is wrong: tables are fitted
    ],
)
def test_a_schedule_with_a_fault_is_answered_without_numpy(
    tmp_path: Path, written: str, instead: str, is_loaded: bool
) -> None:
    file = tmp_path / "test.yaml"
    assert SCHEDULE.count(written) == 1
    file.write_text(SCHEDULE.replace(written, instead), encoding="utf-8")
    program = (
        "import atexit, sys\n"
        "atexit.register(lambda: print('numpy' in sys.modules))\n"
        f"sys.argv = ['photoperiod', 'check', {str(file)!r}]\n"
        "from photoperiod.cli import main\n"
        "main()\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert run.returncode == (0 if is_loaded else 1), run.stderr
    assert run.stdout.splitlines()[-1] == str(is_loaded)


@pytest.mark.parametrize(
    ("answers", "picked"),
    [
        ([0, 1, 1, 0], slice(1, 3)),
        ([1, 1], slice(0, 2)),
        ([0, 0], slice(0, 0)),
        ([], slice(0, 0)),
        ([1, 0, 1], [0, 2]),
        ([0, 1, 0, 1, 1], [1, 3, 4]),
    ],
)
def test_where_true_picks_what_lies_side_by_side_without_a_copy(
    answers: list[int], picked: slice | list[int]
) -> None:
    found = where_true(np.array(answers, dtype=bool))
    if isinstance(picked, slice):
        assert found == picked
    else:
        assert np.flatnonzero(found).tolist() == picked


def test_where_true_of_more_than_one_dimension_is_the_mask_itself() -> None:
    mask = np.array([[True, False], [True, True]])
    assert where_true(mask) is mask


#: The arrays of eight channels on a day, fifty times; what is printed is how often a page was new.
DAYS = """
import resource, sys
import numpy as np
from photoperiod.arrays import keep_freed_memory
if sys.argv[1] == "kept":
    keep_freed_memory()
for _ in range(50):
    arrays = [np.ones(86_400) for _ in range(8)]
    del arrays
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt)
"""


def test_freed_memory_is_used_again() -> None:
    def new_pages(how: str) -> int:
        command = [sys.executable, "-c", DAYS, how]
        return int(subprocess.run(command, capture_output=True, check=True).stdout)

    # By hand: 50 days of 8 arrays of 169 pages of 4 KiB are 67,600 pages, one day's are 1,352.
    assert new_pages("usual") - new_pages("kept") > 30_000


GIVES_BACK = """
from photoperiod.arrays import give_back_freed_memory, keep_freed_memory
import numpy as np

def held():
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1])

keep_freed_memory()
rooms = [np.ones(8_000) for _ in range(1_000)]
last = np.ones(8_000)
del rooms
before = held()
give_back_freed_memory()
print(before - held())
"""


@pytest.mark.skipif(sys.platform != "linux", reason="memory is given back on Linux only")
def test_freed_memory_is_given_back_to_the_system() -> None:
    if platform.libc_ver()[0] != "glibc":
        pytest.skip("this C library gives memory back by itself, or never")
    found = subprocess.run([sys.executable, "-c", GIVES_BACK], capture_output=True, check=True)
    # A thousand arrays of 64,000 bytes are 15,600 pages of 4 KiB; most of them go back.
    assert int(found.stdout) > 12_000
