"""Gates along a lit run: the counts that the controller may emit at each of its samples."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import AnyInts, Bools, Floats, Ints
from photoperiod.drive.grid import Rounding
from photoperiod.kernel.paths import Gates

#: Open ends of gates are drawn in by this much [counts]. Lines between whole counts over at most
#: 86,400 seconds differ from a half by at least 1/172,800 unless they hit it.
OPEN_END = 1e-6

#: Slack for floating point in comparisons of slopes; far below OPEN_END [counts].
FLOAT_SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Corridor:
    """Gates along a run, indices 0 to length.

    Parameters
    ----------
    low, high : ndarray, shape (length,)
        Least and most count that may be emitted at each sample.
    grid : int
        Corners stand at indices that are multiples of this.
    first : int
        No corner has a lower count; the end may.
    end : int or None
        The count at index ``length``, whatever the gates; None if the last row is held until then.
    rounding : Rounding
        How the controller rounds between rows.
    stride : int
        Corners have counts that are multiples of this; the end may have another.
    is_backward : bool
        True if it is read from its last sample to its first: lines that rise fall. Without an end only.
    """

    low: Ints
    high: Ints
    grid: int
    first: int
    end: int | None
    rounding: Rounding
    stride: int = 1
    is_backward: bool = False

    @property
    def length(self) -> int:
        """How many samples the run has."""
        return int(self.low.size)

    def lines(self) -> list[tuple[int, Floats, Floats]]:
        """Return (sign of slope, lower, upper ends of the gates for the unrounded line)."""
        size = self.length + (self.end is not None)
        low, high = np.empty(size), np.empty(size)
        low[-1] = high[-1] = self.end or 0  # the end is a point
        low[: self.length], high[: self.length] = self.low, self.high
        if self.rounding == Rounding.HALF_UP:
            return [(0, low - 0.5, high + 0.5 - OPEN_END)]
        if self.rounding == Rounding.DOWN:
            return [(0, low, high + 1.0 - OPEN_END)]
        rises = -1 if self.is_backward else 1
        return [(rises, low, high + 1.0 - OPEN_END), (-rises, low - 1.0 + OPEN_END, high)]

    def backward(self) -> Corridor:
        """Return the same gates, read from the last sample to the first; for a run without an end."""
        low, high = (np.ascontiguousarray(ends[::-1]) for ends in (self.low, self.high))
        return replace(self, low=low, high=high, is_backward=not self.is_backward)

    def up_to(self, length: int) -> Corridor:
        """Return its first samples, without an end."""
        return replace(self, low=self.low[:length], high=self.high[:length], end=None)

    def gates(self) -> Gates:
        """Return the gates for the compiled kernel."""
        return Gates(
            low=np.ascontiguousarray(self.low, dtype=np.int64),
            high=np.ascontiguousarray(self.high, dtype=np.int64),
            first=self.first,
            end=self.end,
            stride=self.stride,
            lines=tuple(self.lines()),
        )

    def begins(self, counts: Iterable[int]) -> Ints:
        """Return the counts of some that may stand at index 0."""
        allowed = range(max(int(self.low[0]), self.first), int(self.high[0]) + 1)
        return np.array(
            [c for c in counts if c in allowed and c % self.stride == 0], dtype=np.int64
        )

    def places(self) -> Bools:
        """Return at which indices a corner may stand, the end among them if it is a point."""
        result: Bools = np.arange(self.length + 1) % self.grid == 0
        result[self.length] = self.end is not None
        return result

    def holds_to_end(self, index: AnyInts, count: AnyInts) -> Bools:
        """Return whether a count can be held from an index to the end of the run."""
        low, high = self.held_to_end()
        return np.logical_and(count >= low[index], count <= high[index])

    def held_to_end(self) -> tuple[Ints, Ints]:
        """Return the least and most count that can be held from each index to the end of the run."""
        low = np.maximum.accumulate(self.low[::-1])[::-1]
        high = np.minimum.accumulate(self.high[::-1])[::-1]
        return np.ascontiguousarray(low), np.ascontiguousarray(high)

    def real_ends(self) -> tuple[Floats, Floats]:
        """Return the widest gates of the unrounded line, whichever way it slopes."""
        lines = self.lines()
        _, low, high = lines[0]
        for _, other_low, other_high in lines[1:]:
            low, high = np.minimum(low, other_low), np.maximum(high, other_high)
        if self.end is not None:
            low[-1] = high[-1] = self.end
        return low, high


def widened(rounding: Rounding) -> tuple[float, float, float, float]:
    """Return what is added to a gate for the unrounded line, whichever way it slopes.

    To its lower end first the one and then the other number of two, to its upper end the same.
    `Corridor.real_ends` gives these gates.
    """
    if rounding == Rounding.HALF_UP:
        return -0.5, 0.0, 0.5, -OPEN_END
    if rounding == Rounding.DOWN:
        return 0.0, 0.0, 1.0, -OPEN_END
    return -1.0, OPEN_END, 1.0, -OPEN_END


def one_line_ends(run: Corridor) -> bool:
    """Return whether a single line from a count at index 0 passes all gates to the end.

    True for a run without an end, whose first level is held. A run that ends falls to count 0.
    """
    if run.end is None:
        return True
    # From count c the line is at c · left at each index, so each gate is a range of c.
    left = 1.0 - np.arange(run.length) / run.length
    for sign, low, high in run.lines():
        if sign > 0:
            continue
        least = int(np.ceil((low[:-1] / left).max() - FLOAT_SLACK))
        most = int(np.floor((high[:-1] / left).min() + FLOAT_SLACK))
        least = max(least, run.first, int(run.low[0]))
        least = -(-least // run.stride) * run.stride
        if least <= min(most, int(run.high[0])):
            return True
    return False
