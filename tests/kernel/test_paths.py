"""The compiled kernel gives the bytes of numpy, and refuses buffers that do not fit."""

from __future__ import annotations

import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from photoperiod.drive.converter import Converter
from photoperiod.kernel import paths, which
from photoperiod.schedule.controller import MAX_COUNTS
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.fit import fit
from tests.conftest import ROOT
from tests.kernel.comparing import assert_same, assert_same_bands, assert_same_circles, build, using
from tests.setpoints.days import NIGHT, NOON, SQUARE, STANDBY, grid, path, target
from tests.targets.tools import tool


@pytest.mark.parametrize("seed", range(4))
def test_every_number_is_that_of_numpy(kernel: ModuleType, seed: int) -> None:
    assert assert_same(kernel, seed, 25) > 8


def test_gates_and_bounds_are_those_of_numpy(kernel: ModuleType) -> None:
    assert assert_same_bands(kernel, 5, 120) == {True, False}


@pytest.mark.parametrize("seed", range(3))
def test_every_way_round_a_day_without_darkness_is_that_of_numpy(
    kernel: ModuleType, seed: int
) -> None:
    assert assert_same_circles(kernel, seed, 40) == {"True", "False", "exhausted"}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 104))
def test_every_number_is_that_of_numpy_in_many_runs(kernel: ModuleType, seed: int) -> None:
    assert_same(kernel, seed, 100)


@pytest.mark.parametrize("rows", [5, 9])
@pytest.mark.parametrize("rounding", ["half-up", "down", "toward-last-row"])
def test_tables_and_certificates_are_those_of_numpy(
    kernel: ModuleType, rounding: str, rows: int
) -> None:
    aims = [
        target(NOON, path(SQUARE, rounding=rounding)),
        target(NIGHT, path(STANDBY, rounding=rounding)),
    ]
    for some in ([aims[0]], [aims[1]], aims):
        found = []
        for each in (None, kernel):
            with using(each):
                found.append(fit(some, grid(900), rows))
        by_numpy, compiled = found
        assert [(f.rows, f.certificate, f.method) for f in compiled] == [
            (f.rows, f.certificate, f.method) for f in by_numpy
        ]


@pytest.mark.parametrize(("step_s", "rows"), [(900, 4), (43_200, 6)])
def test_the_finest_levels_of_a_schedule_are_searched(
    kernel: ModuleType, step_s: int, rows: int
) -> None:
    fine = path(
        SQUARE, step=str(Fraction(100, MAX_COUNTS)), converter=Converter.nominal(16, 10, 10)
    )
    assert fine.top_count > 99_000
    found = []
    for each in (None, kernel):
        with using(each):
            found += fit([target(NOON, fine)], grid(step_s), rows)
    by_numpy, compiled = found
    assert (compiled.rows, compiled.certificate) == (by_numpy.rows, by_numpy.certificate)


@pytest.mark.slow(in_each_part=True)
def test_nothing_is_undefined(tmp_path: Path) -> None:
    flags = ("-O1", "-g", "-ffp-contract=off", "-fno-omit-frame-pointer",
             "-fsanitize=address,undefined,float-cast-overflow", "-fno-sanitize-recover=all")  # fmt: skip
    built = build(tmp_path, flags)
    libraries = [
        subprocess.run(
            [tool("gcc"), f"-print-file-name={name}"], capture_output=True, text=True, check=True
        ).stdout.strip()
        for name in ("libasan.so", "libubsan.so")
    ]
    environment = {
        **os.environ,
        "LD_PRELOAD": " ".join(libraries),
        "ASAN_OPTIONS": "detect_leaks=0",  # of Python itself
        "PYTHONMALLOC": "malloc",  # so that every array has its own guarded memory
    }
    done = subprocess.run(
        [sys.executable, "-m", "tests.kernel.comparing", str(built), "7", "60"],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-4000:]


def test_the_version_is_the_one_that_is_called(kernel: ModuleType) -> None:
    assert kernel.VERSION == which.VERSION


# Buffers that do not fit --------------------------------------------------------------------------

RUN = Corridor(
    low=np.zeros(20, dtype=np.int64),
    high=np.full(20, 9),
    grid=1,
    first=0,
    end=0,
    rounding="half-up",
)
WORK = (0, 10**6, 10**6)


def search(**other: Any) -> paths.Search:
    parts = {
        "gates": RUN.gates(),
        "needed": np.ones(21, dtype=np.int64),
        "places": RUN.places(),
        "width": 11,
    }
    return paths.Search(**{**parts, **other})


def fewest(kernel: ModuleType, begin: Any = (3,), **other: Any) -> paths.Status:
    start = np.array(begin, dtype=np.int32)
    return paths.fewest(kernel, search(**other), start, 3, WORK, RUN.held_to_end())[0]


def gates(**other: Any) -> paths.Gates:
    plain = RUN.gates()
    parts = {
        name: getattr(plain, name) for name in ("low", "high", "first", "end", "stride", "lines")
    }
    return paths.Gates(**{**parts, **other})


def test_a_search_that_fits_is_answered(kernel: ModuleType) -> None:
    assert fewest(kernel) == paths.Status.FOUND


@pytest.mark.parametrize(
    "other",
    [
        {"needed": np.ones(20, dtype=np.int64)},
        {"places": np.ones(22, dtype=bool)},
        {"width": 9},  # too few states for the counts
        {"width": 0},
        {"begin": (20 * 11,)},  # the end is no place to begin
        {"begin": (-1,)},
        {"begin": (10**9,)},
        {"gates": gates(high=np.full(19, 9))},
        {"gates": gates(high=np.full(20, 1 << 20)), "width": (1 << 20) + 2},  # more than 20 bits
        {"gates": gates(first=-1)},
        {"gates": gates(stride=0)},
        {"gates": gates(end=2**40)},
        {"gates": gates(lines=((0, np.zeros(20), np.ones(21)),))},
        {"gates": gates(lines=((2, np.zeros(21), np.ones(21)),))},
    ],
)
def test_what_does_not_fit_is_refused(kernel: ModuleType, other: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"do not fit|is not from|too big"):
        fewest(kernel, **other)


@pytest.mark.parametrize(
    "other",
    [
        {"needed": np.ones(21)},
        {"places": np.ones(21, dtype=np.int64)},
        {"gates": gates(low=np.zeros(20, dtype=np.int32))},
        {"gates": gates(lines=())},
        {"gates": gates(lines=((0, np.zeros(21, dtype=np.float32), np.ones(21)),))},
    ],
)
def test_other_numbers_are_refused(kernel: ModuleType, other: dict[str, Any]) -> None:
    with pytest.raises(TypeError):
        fewest(kernel, **other)


def test_gates_of_no_number_are_no_danger(kernel: ModuleType) -> None:
    for odd in (np.nan, np.inf, -np.inf, 1e300):
        lines = ((0, np.full(21, odd), np.full(21, odd)),)
        assert fewest(kernel, gates=gates(lines=lines)) in set(paths.Status)


# States of a day without darkness -------------------------------------------------------------------

ROUND = Corridor(low=np.zeros(21, dtype=np.int64), high=np.full(21, 9), grid=2, first=0, end=None,
                 rounding="half-up")  # fmt: skip


def onward(kernel: ModuleType, **other: Any) -> tuple[paths.Status, int, Any]:
    useful = np.arange(22) % 2 == 0
    useful[0] = useful[21] = False
    parts = {
        "base": np.zeros(11, dtype=np.int64),
        "source": np.array([3], dtype=np.int32),
        "index": np.array([0], dtype=np.int64),
        "count": np.array([3], dtype=np.int64),
        "before": None,
        "grid": 2,
        "width": 10,
    }
    calls = {"gates": ROUND.gates(), "useful": useful, "block": 100, "work": WORK}
    calls |= {name: other.pop(name) for name in tuple(other) if name in calls}
    begins = paths.Begins(**{**parts, **other})
    return paths.onward(
        kernel, calls["gates"], begins, calls["useful"], calls["block"], calls["work"]
    )


def test_states_that_fit_go_on(kernel: ModuleType) -> None:
    status, _, pieces = onward(kernel)
    assert status == paths.Status.FOUND
    # From count 3 all counts of all ten places are within reach.
    assert pieces.tolist() == [[3] * 10, list(range(10, 110, 10)), [10] * 10]


def test_pieces_that_end_at_no_wanted_state_are_left_out(kernel: ModuleType) -> None:
    before = np.zeros(111, dtype=np.int32)
    before[45:] = 1  # state 44 alone
    assert onward(kernel, before=before)[2].tolist() == [[3], [40], [10]]


def test_more_pieces_than_there_is_room_for_at_first_are_found(
    kernel: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = onward(kernel)[2].tolist()
    monkeypatch.setattr(paths, "FEW_SPANS", 4)
    assert onward(kernel)[2].tolist() == whole
    two = {"source": np.array([3, 4], dtype=np.int32), "index": np.zeros(2, dtype=np.int64),
           "count": np.array([3, 4]), "block": 1}  # fmt: skip
    assert onward(kernel, work=(0, 10**6, 29), **two)[0] == paths.Status.EXHAUSTED
    status, _, pieces = onward(
        kernel, work=(0, 10**6, 30), **two
    )  # 20 pieces are held as 30 numbers
    assert (status, pieces[0].tolist()) == (paths.Status.FOUND, [3] * 10 + [4] * 10)


@pytest.mark.parametrize(
    "other",
    [
        {"base": np.zeros(10, dtype=np.int64)},
        {"base": np.full(11, -1)},
        {"width": 9},  # too few states for the counts
        {"width": 0},
        {"grid": 0},
        {"grid": 3},
        {"source": np.zeros(2, dtype=np.int32)},
        {"index": np.array([21])},
        {"index": np.array([-1])},
        {"count": np.array([-1])},
        {"count": np.array([1 << 20])},
        {"before": np.zeros(110, dtype=np.int32)},
        {"useful": np.zeros(21, dtype=bool)},
        {"useful": np.ones(22, dtype=bool)},  # between places, and beyond the last gate
        {"block": 0},
        {"gates": RUN.gates()},  # a run with an end
    ],
)
def test_states_that_do_not_fit_are_refused(kernel: ModuleType, other: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"do not fit|is not from"):
        onward(kernel, **other)


# A graph of pieces --------------------------------------------------------------------------------

SUMS = tuple(np.zeros(21) for _ in range(6))
BEGIN = np.array([3], dtype=np.int32)


def graph(kernel: ModuleType) -> paths.Graph:
    status, _, found = paths.Graph.of(kernel, search(), BEGIN, 3, 10**6, WORK)
    assert status != paths.Status.EXHAUSTED
    return found


def test_a_graph_that_fits_is_answered(kernel: ModuleType) -> None:
    found = graph(kernel)
    best = found.costs(kernel, BEGIN, 4, SUMS, 0.0)
    end = found.states.size - 1
    assert found.trace(kernel, best, end, 1, SUMS, 0.0).tolist() == [3, 20 * 11]


@pytest.mark.parametrize(
    ("part", "place", "number"),
    [
        ("spans", (0, 1), 0),  # back to where it begins
        ("spans", (0, 1), 21),
        ("spans", (0, 2), -1),
        ("spans", (0, 3), 0),
        ("spans", (0, 3), 12),  # more counts than a sample has
        ("head", 3, 10**6),
        ("states", 0, -1),
        ("states", 0, 10**6),
        ("rank", slice(None), 0),  # to a state that was before
        ("rank", slice(4, None), 10**6),
        ("rank", slice(4, None), -1),
    ],
)
def test_a_graph_that_does_not_fit_is_refused(
    kernel: ModuleType, part: str, place: Any, number: int
) -> None:
    found = graph(kernel)
    best = found.costs(kernel, BEGIN, 4, SUMS, 0.0)
    getattr(found, part)[place] = number
    with pytest.raises(ValueError, match="do not fit"):
        kernel.closest(found._packed(SUMS, 0.0), found.search.needed, best, 4)


@pytest.mark.parametrize(
    ("part", "place", "number"),
    [
        ("spans", (slice(None), 0), -1),
        ("spans", (slice(None), 0), 10**6),
        ("spans", (slice(None), 1), 0),
        ("order", slice(None), -1),
        ("order", slice(None), 10**6),
        ("heads", -1, 10**6),
        ("rank", slice(None), 0),
        ("rank", 3, 10**6),
    ],
)
def test_a_way_back_through_a_graph_that_does_not_fit_is_refused(
    kernel: ModuleType, part: str, place: Any, number: int
) -> None:
    found = graph(kernel)
    best = found.costs(kernel, BEGIN, 4, SUMS, 0.0)
    end = found.states.size - 1
    getattr(found, part)[place] = number
    with pytest.raises(ValueError, match="do not fit"):
        found.trace(kernel, best, end, 1, SUMS, 0.0)


def test_what_is_read_only_is_not_written(kernel: ModuleType) -> None:
    result = np.zeros(21, dtype=np.int64)
    result.flags.writeable = False
    with pytest.raises(ValueError, match="read-only"):
        kernel.needed(np.zeros(21), np.ones(21), result, np.empty(100))


def test_large_rooms_are_given_back_and_small_ones_stay() -> None:
    rooms = type(paths.rooms)()
    small = rooms.of("small", 1000)
    rooms.of("numbers", paths.MOST_KEPT_BYTES // 4 + 1)
    rooms.words("words", paths.MOST_KEPT_BYTES // 8 + 1)
    rooms.give_back()
    assert np.shares_memory(rooms.of("small", 1000), small)
    assert list(rooms.numbers) == ["small"] and not rooms.sets


def test_nothing_large_is_held_when_shared_times_are_found(
    kernel: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    def held() -> int:
        rooms = (*paths.rooms.numbers.values(), *paths.rooms.sets.values())
        return sum(room.nbytes for room in rooms if room.nbytes > paths.MOST_KEPT_BYTES)

    before: list[int] = []
    give_back = paths.rooms.give_back

    def noted() -> None:
        before.append(held())
        give_back()

    monkeypatch.setattr(paths.rooms, "give_back", noted)
    with using(kernel):
        fit([target(NOON, path(SQUARE)), target(NIGHT, path(STANDBY))], grid(900), 8)
    assert max(before) > 100_000_000  # room for six million words and more, twice
    assert held() == 0
