"""Levels that are held from one row to the next.

A level can be held as long as some count lies in all gates. The longest hold is always the best
next one: after it the same gates remain as after a shorter one, or fewer. So the fewest rows are
found greedily, for one channel and for all channels of a column.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.segments import Found
from photoperiod.setpoints.tolerance import Ladder
from photoperiod.setpoints.work import WorkSpent

if TYPE_CHECKING:
    from photoperiod.setpoints.columns import Column

#: Held rows beyond these bring a lamp no nearer to its plan than anyone sees.
MOST_HELD = 64

#: Samples that are looked at first for how long a level lasts; four times as many each time.
_LOOK = 64
_LOOK_GROWTH = 4

#: A look takes as long as so many gates, however short it is.
_LOOK_WORK = 1000


def lasting(low: list[int], high: list[int], begin: int, stop: int) -> int:
    """Return for how many samples from one on, before another, one count suits all gates.

    Most levels last for few samples: plain numbers, looked at one by one, are ready before numpy has begun.
    """
    least, most = low[begin], high[begin]
    for at in range(begin, stop):
        if low[at] > least:
            least = low[at]
        if high[at] < most:
            most = high[at]
        if least > most:
            return at - begin
    return stop - begin


def gates_of(low: Ints, high: Ints, first: int, stride: int = 1) -> tuple[list[int], list[int]]:
    """Return the gates of rows as plain numbers.

    Parameters
    ----------
    low, high : ndarray, shape (samples,)
        Least and most count that may be emitted at each sample.
    first : int
        No row has a lower count.
    stride : int
        Rows have counts that are multiples of this.

    Returns
    -------
    least, most : list of int
        Least and most count of a row at each sample.
    """
    least = np.maximum(low, first)
    if stride > 1:
        least = -(-least // stride) * stride
    return least.tolist(), high.tolist()


def nearest_held_count(
    ladder: Ladder, mean_light: float, least: int, most: int, stride: int = 1
) -> int:
    """Return the count whose light is nearest to a mean of the plan, of those that can be held."""
    count = int(np.abs(ladder.light - mean_light).argmin())
    count -= count % stride
    return min(max(count, least), most)


@dataclass(frozen=True, slots=True)
class HeldRun:
    """A lit run whose levels are held, sample by sample.

    Parameters
    ----------
    low, high : ndarray, shape (samples,)
        Least and most count that may be emitted.
    wanted : ndarray, shape (samples,)
        The plan. [fraction of full]
    ladder : Ladder
        Light of every count.
    grid : int
        Samples in one time step.
    """

    low: Ints
    high: Ints
    wanted: Floats
    ladder: Ladder
    grid: int

    def fewest(self, most: int, work: WorkSpent) -> list[tuple[int, int]] | None:
        """Return the fewest rows as (sample, count), None if it takes more than ``most``."""
        return _Holds(self, repeats=False).fewest(0, most, work)

    def fewest_around(self, most: int, work: WorkSpent) -> list[tuple[int, int]] | None:
        """Return the same for a channel that is never dark, whose day has no natural start.

        A row stands within reach of the first sample, for no level lasts longer. So all times up
        to there are tried as the first.
        """
        holds = _Holds(self, repeats=True)
        whole_day = holds.fewest(0, 1, work)
        if whole_day is not None:
            return whole_day
        best: list[tuple[int, int]] | None = None
        reach = holds.hold(0, self.low.size, work)
        for shift in range(0, reach + 1, self.grid):
            limit = most if best is None else len(best) - 1
            found = holds.fewest(shift, limit, work)
            if found is not None:
                best = found
        return best


class _Holds:
    """How long one count can be held from each sample of a run on.

    Parameters
    ----------
    run : HeldRun
        The run.
    repeats : bool
        Whether its last sample is followed by its first one, as on a day that is never dark.
    """

    def __init__(self, run: HeldRun, *, repeats: bool) -> None:
        self.run, self.repeats, self.size = run, repeats, run.low.size
        self.low, self.high = gates_of(run.low, run.high, run.ladder.first)
        self.wanted = run.wanted
        if repeats:
            self.low, self.high = self.low * 2, self.high * 2
            self.wanted = np.concatenate((run.wanted, run.wanted))
        self._known: dict[int, int] = {}

    def fewest(self, shift: int, most: int, work: WorkSpent) -> list[tuple[int, int]] | None:
        """Return the fewest rows of the run begun at another sample, as (sample, count)."""
        rows: list[tuple[int, int]] = []
        at, stop = shift, shift + self.size
        while at < stop:
            if len(rows) == most:
                return None
            length = self.hold(at, stop - at, work)
            if length == 0:
                return None
            rows.append((at, length))
            at += length
        return [(at, self._count(at, length)) for at, length in rows]

    def hold(self, begin: int, left: int, work: WorkSpent) -> int:
        """Return for how many of the samples that are left one count can be held.

        In whole steps, or to the end. The work is that of a look at few samples first, because most
        levels do not last long, and then at more and more of them.
        """
        length = min(self._lasting(begin % self.size), left)
        looked_at = _LOOK
        while True:
            looked = min(looked_at, left)
            work.add(looked + _LOOK_WORK)
            if length < looked or looked_at >= left:
                break
            looked_at *= _LOOK_GROWTH
        return length if length == left else length - length % self.run.grid

    def _lasting(self, begin: int) -> int:
        found = self._known.get(begin)
        if found is None:
            stop = begin + self.size if self.repeats else self.size
            found = self._known[begin] = lasting(self.low, self.high, begin, stop)
        return found

    def _count(self, at: int, length: int) -> int:
        """Return the count that is held from a sample on."""
        part = slice(at, at + length)
        mean = float(self.wanted[part].mean())
        least, most = max(self.low[part]), min(self.high[part])
        return nearest_held_count(self.run.ladder, mean, least, most)


def hold_times(column: Column, most_rows: int, work: WorkSpent) -> tuple[int, ...] | None:
    """Return the times of the fewest held rows with which all channels keep their bands.

    Parameters
    ----------
    column, most_rows, work
        As for `photoperiod.setpoints.columns.fewest_times`.

    Returns
    -------
    tuple of int or None
        Steps of the grid, in the order of the day from the cut on; None if it takes more rows.
    """
    from photoperiod.setpoints.columns import stretches_of  # few controllers share times

    found: list[int] = []
    for stretch in stretches_of(column):
        gates = [gates_of(r.low, r.high, r.first, r.stride) for r in stretch.runs.values()]
        begin = 0
        while begin < stretch.length:
            if len(found) == most_rows:
                return None
            found.append((column.forced[0] + (stretch.begin + begin) // column.grid) % column.steps)
            lasts = stretch.length - begin  # each row lasts as long as all channels allow
            for low, high in gates:
                work.add(len(low) - begin)
                lasts = min(lasts, lasting(low, high, begin, len(low)))
            if lasts < stretch.length - begin:
                lasts -= lasts % column.grid
            if lasts <= 0:
                return None
            begin += lasts
    return tuple(found)


def closest_held(
    run: Corridor, most_pieces: int, ladder: Ladder, wanted: Floats
) -> list[tuple[float, Found]]:
    """Return for each number of held rows the path closest to a plan in the mean, as (cost, path).

    Bellman's recursion, as in `photoperiod.setpoints.least_squares`.

    Parameters
    ----------
    run : Corridor
        The gates.
    most_pieces : int
        No path has more rows.
    ladder : Ladder
        Light of every count.
    wanted : ndarray, shape (length,)
        The plan at the samples of the run. [fraction of full]

    Returns
    -------
    list of (float, Found)
        Rising in rows, falling in cost; empty if there is no path.
    """
    most_pieces = min(most_pieces, MOST_HELD)
    starts = np.array([*range(0, run.length, run.grid), run.length], dtype=np.int64)
    least, greatest = gates_of(run.low, run.high, run.first)
    low, high = np.array(least), np.array(greatest)
    between = 0.5 * (ladder.light[1:] + ladder.light[:-1])
    sums = np.concatenate(([0.0], np.cumsum(wanted)))
    squares = np.concatenate(([0.0], np.cumsum(wanted**2)))
    best = np.full((most_pieces + 1, starts.size), np.inf)
    best[0, 0] = 0.0
    parent = np.zeros((most_pieces + 1, starts.size, 2), dtype=np.int64)
    for number, begin in enumerate(starts[:-1].tolist()):
        layers = np.flatnonzero(np.isfinite(best[:-1, number]))
        if not layers.size:
            continue
        stop = begin + lasting(least, greatest, begin, run.length)
        into = slice(number + 1, int(np.searchsorted(starts, stop, side="right")))
        ends = starts[into]
        if not ends.size:
            continue
        length = ends - begin
        given = sums[ends] - sums[begin]
        count = np.searchsorted(between, given / length)
        count = np.minimum(
            np.maximum(count, np.maximum.accumulate(low[begin:stop])[length - 1]),
            np.minimum.accumulate(high[begin:stop])[length - 1],
        )
        light = ladder.light[count]
        cost = squares[ends] - squares[begin] - 2 * light * given
        cost = np.maximum(cost + length * light**2, 0.0)
        total = best[layers, number][:, None] + cost
        row, column = np.nonzero(total < best[layers + 1, into])
        place = layers[row] + 1, column + into.start
        best[place] = total[row, column]
        parent[*place, 0] = number
        parent[*place, 1] = count[column]
    results: list[tuple[float, Found]] = []
    for pieces in range(1, most_pieces + 1):
        cost_here = float(best[pieces, -1])
        if np.isfinite(cost_here) and (not results or cost_here < results[-1][0] * (1 - 1e-9)):
            corners, at = [], starts.size - 1
            for layer in range(pieces, 0, -1):
                at, count_here = (int(value) for value in parent[layer, at])
                corners.append((int(starts[at]), count_here))
            results.append((cost_here, Found(tuple(reversed(corners)))))
    return results
