"""The compiled walk of shared columns gives the bytes of numpy, and refuses buffers that do not fit."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import numpy as np
import pytest

from photoperiod.kernel import labels, paths
from photoperiod.kernel.labels import LitChannel, LitStretch, through_stretch
from photoperiod.setpoints.columns import Column, ColumnChannel
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.fit import fit
from photoperiod.setpoints.tolerance import ToleranceBand
from photoperiod.setpoints.work import MOST_HELD, WorkSpent
from tests.kernel.comparing import all_at_once, assert_same_columns, spent, using
from tests.setpoints.days import NIGHT, NOON, SQUARE, STANDBY, grid, path, target

ENDS = {"True", "False", "exhausted"}


@pytest.mark.parametrize("seed", range(4))
def test_every_column_is_that_of_numpy(kernel: ModuleType, seed: int) -> None:
    assert assert_same_columns(kernel, seed, 40) == ENDS


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 103))
def test_every_column_is_that_of_numpy_in_many_columns(kernel: ModuleType, seed: int) -> None:
    assert assert_same_columns(kernel, seed, 200) == ENDS


@pytest.mark.parametrize("rounding", ["half-up", "down", "toward-last-row"])
def test_tables_of_shared_times_are_those_of_numpy(kernel: ModuleType, rounding: str) -> None:
    aims = [target(NOON, path(SQUARE, rounding=rounding)), target(NIGHT, path(STANDBY))]
    found = []
    for each in (None, kernel):
        with using(each):
            found.append(fit(aims, grid(900), 9))
    by_numpy, compiled = found
    assert [(f.rows, f.certificate, f.method) for f in compiled] == [
        (f.rows, f.certificate, f.method) for f in by_numpy
    ]


def test_more_room_is_taken_where_there_is_too_little(
    kernel: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(labels, "FEW_ROWS", 1)
    monkeypatch.setattr(labels, "FEW_ENDED", 1)
    assert assert_same_columns(kernel, 0, 30) == ENDS


def test_a_level_that_is_held_from_later_on_may_take_fewer_rows(kernel: ModuleType) -> None:
    # From 0 the level may rise to 1 at the first step and to 10 at the second, and stay: three rows. Or in
    # one line to 10 at the seventh step, which is at 10/7 at the first and puts out 1: two rows. A line to
    # the sixth would be at 10/6 there, and put out 2.
    high = np.array([0, 1, *[10] * 12])
    band = ToleranceBand(np.where(np.arange(14) < 9, 0, 10), high)
    channel = ColumnChannel(band=band, lit=np.ones(14, dtype=bool), first=0)
    column = Column(channels=[channel], forced=(0,), grid=1, rounding="half-up", between="line",
                    wraps=False)  # fmt: skip
    found = []
    for each in (None, kernel):
        with using(each):
            found.append(spent(10**9, lambda work: all_at_once(column, 8, work)))
    assert found[0][0] == [0, 7]
    assert found[0] == found[1]


# Buffers that do not fit --------------------------------------------------------------------------

PLENTY = WorkSpent(10**9).left()


def corridor(**other: Any) -> Corridor:
    parts = {"low": np.zeros(20, dtype=np.int64), "high": np.full(20, 9), "grid": 1, "first": 0,
             "end": 0, "rounding": "half-up"}  # fmt: skip
    return Corridor(**{**parts, **other})


def walked(kernel: ModuleType, run: Corridor | None = None, **other: Any) -> paths.Status:
    """Bring one label, which may have any count, through a run of ten counts that goes dark."""
    run = corridor() if run is None else run
    channel = {"gates": run.gates(), "words": 1, "held": None}
    stretch = {"needed": np.zeros(21, dtype=np.int64), "may_stand": run.places(), "most": 3,
               "holds_last": False, "size": 1}  # fmt: skip
    entering = {
        "pieces": np.zeros(1, dtype=np.int32),
        "rows": np.zeros(1, dtype=np.int32),
        "packed": np.full((1, 1), 1023, dtype=np.uint64),
    }
    for parts in (channel, stretch, entering):
        parts |= {name: value for name, value in other.items() if name in parts}
    lit = other.get("channels", [LitChannel(**channel, rows=other.get("begins", 1))])
    return through_stretch(
        kernel, LitStretch(channels=lit, **stretch), tuple(entering.values()), 0,  # type: ignore[arg-type]
        other.get("work", PLENTY),
    )[0]  # fmt: skip


def test_a_stretch_that_fits_is_walked(kernel: ModuleType) -> None:
    assert walked(kernel) == paths.Status.FOUND


def test_bits_of_no_count_are_no_danger(kernel: ModuleType) -> None:
    assert walked(kernel, packed=np.full((1, 1), 2**64 - 1, dtype=np.uint64)) == paths.Status.FOUND


@pytest.mark.parametrize(
    "other",
    [
        {"needed": np.zeros(20, dtype=np.int64)},
        {"needed": np.zeros(1, dtype=np.int64)},
        {"may_stand": np.ones(22, dtype=bool)},
        {
            "run": corridor(end=None),
            "may_stand": np.ones(21, dtype=bool),
        },  # it has no end
        {"run": corridor(high=np.full(20, 64))},  # 65 counts in a word of 64 bits
        {"run": corridor(low=np.zeros(19, dtype=np.int64), high=np.full(19, 9))},
        {"holds_last": True},  # without the counts that can be held
        {"held": (np.zeros(19, dtype=np.int64), np.zeros(20, dtype=np.int64))},
        {"begins": 2},  # the label has one word
        {"words": 0},
        {"words": 2},
        {"size": 0},
        {"most": -1},
        {"pieces": np.full(1, -1, dtype=np.int32)},
        {"pieces": np.full(1, 4, dtype=np.int32)},
        {"rows": np.zeros(2, dtype=np.int32)},
        {"packed": np.zeros((2, 1), dtype=np.uint64)},
        {"channels": []},
        {"channels": [LitChannel(gates=corridor().gates(), rows=1, words=1, held=None)] * 65},
    ],
)
def test_what_does_not_fit_is_refused(kernel: ModuleType, other: dict[str, Any]) -> None:
    with pytest.raises((ValueError, ZeroDivisionError)):
        walked(kernel, **other)


def test_other_words_are_refused(kernel: ModuleType) -> None:
    with pytest.raises(TypeError, match="kind 'w'"):
        walked(kernel, packed=np.zeros((1, 1), dtype=np.int64))


@pytest.mark.parametrize("odd", [np.nan, np.inf, -np.inf, 1e300])
def test_gates_of_no_number_are_no_danger(kernel: ModuleType, odd: float) -> None:
    plain = corridor().gates()
    gates = paths.Gates(
        low=plain.low, high=plain.high, first=0, end=0, stride=1,
        lines=((0, np.full(21, odd), np.full(21, odd)),),
    )  # fmt: skip
    assert walked(kernel, gates=gates) in set(paths.Status)


def test_the_most_counts_and_seconds_overflow_nothing(kernel: ModuleType) -> None:
    """Sixteen bits for 86,400 s, all counts at once: the room is spent, and nothing is written beside."""
    size, top = 86_400, (1 << 16) - 1
    run = corridor(low=np.zeros(size, dtype=np.int64), high=np.full(size, top))
    words = (1 << 16) // 64
    status = walked(
        kernel, run, needed=np.zeros(size + 1, dtype=np.int64), may_stand=run.places(),
        words=words, size=words, packed=np.full((1, words), 2**64 - 1, dtype=np.uint64),
    )  # fmt: skip
    assert status == paths.Status.EXHAUSTED
    assert words * size > MOST_HELD
