"""The call of the compiled kernel that brings labels through a stretch of a shared column."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from photoperiod.arrays import Bools, Ints, SmallInts, Words
from photoperiod.kernel.paths import Gates, Status, Work, rooms

#: Rows and labels at the end for which there is room at first; more is taken where that is too little.
FEW_ROWS = 200_000
FEW_ENDED = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class LitChannel:
    """One channel that is lit: its gates, sets of a label, words of a set.

    ``held`` are the least and most count that can be held from each sample to the end, if the last row is
    held.
    """

    gates: Gates
    rows: int
    words: int
    held: tuple[Ints, Ints] | None

    def packed(self) -> tuple[object, ...]:
        """Return the channel as the kernel reads it."""
        return (self.gates.packed(), self.rows, self.words, *(self.held or (None, None)))


@dataclass(frozen=True, slots=True, kw_only=True)
class LitStretch:
    """A stretch, as `photoperiod.setpoints.label_walk.Walk` has it.

    ``needed`` and ``may_stand`` have the shape (length + 1,); ``size`` is the words of a label.
    """

    channels: Sequence[LitChannel]
    needed: Ints
    may_stand: Bools
    most: int
    holds_last: bool
    size: int


def through_stretch(
    kernel: ModuleType, stretch: LitStretch, entering: tuple[SmallInts, SmallInts, Words],
    first_row: int, work: Work,
) -> tuple[Status, int, tuple[SmallInts, SmallInts], tuple[SmallInts, SmallInts, Words]]:  # fmt: skip
    """Bring labels through a stretch.

    Parameters
    ----------
    kernel : module
        The compiled kernel.
    stretch : LitStretch
        What is walked through.
    entering : tuple of ndarray
        Pieces, rows before and packed sets of the labels at the first place, shape (labels,) and (labels,
        size).
    first_row : int
        The number of the first new row.
    work : Work
        Bounds the work.

    Returns
    -------
    status, spent, rows, ended
        How it ended, the work spent; of each new row the one before it and its place; of each label at the
        end pieces, row before and packed sets.
    """
    length, size, most_held = stretch.needed.size - 1, stretch.size, work[2]
    at_once = most_held // size
    given = (
        tuple(channel.packed() for channel in stretch.channels), stretch.needed, stretch.may_stand,
        np.zeros(length + 1, dtype=bool), stretch.most, int(stretch.holds_last), work, size,
    )  # fmt: skip
    # Only what is written to takes memory.
    memory = (
        rooms.words("tables", most_held),
        rooms.words("out", min(most_held, size * length)),
        rooms.words("moved", size),
        rooms.of("reached", 4 * (most_held // 2)),
        rooms.of("slots", at_once),
        rooms.of("rows here", at_once),
    )
    slots = 2 * at_once
    queue = (
        rooms.words("queue", slots * size),
        rooms.of("pieces", slots),
        rooms.of("parent", slots),
        rooms.of("next", slots + length + 1),
    )
    few_rows, few_ended = FEW_ROWS, FEW_ENDED
    while True:
        trail = rooms.of("parents", few_rows), rooms.of("indices", few_rows)
        ended = (
            rooms.of("ended pieces", few_ended),
            rooms.of("ended rows", few_ended),
            rooms.words("ended", few_ended * size),
        )
        status, spent, new, number = kernel.labels(
            given, entering, first_row, memory, queue, trail, ended
        )
        if status != Status.NO_ROOM:
            break
        few_rows, few_ended = 8 * few_rows, 8 * few_ended
    return (
        Status(status),
        spent,
        (trail[0][:new].copy(), trail[1][:new].copy()),
        (
            ended[0][:number].copy(),
            ended[1][:number].copy(),
            ended[2][: number * size].reshape(number, size).copy(),
        ),
    )
