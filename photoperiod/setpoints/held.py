"""Levels that are held from one row to the next.

A level can be held as long as some count lies in all gates. The longest hold is always the best
next one: after it the same gates remain as after a shorter one, or fewer. So the fewest rows are
found greedily, for one channel and for all channels of a column.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.setpoints.columns import Column, stretches_of
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.segments import Found
from photoperiod.setpoints.tolerance import Ladder
from photoperiod.setpoints.work import WorkSpent

#: Held rows beyond these bring a lamp no nearer to its plan than anyone sees.
MOST_HELD = 64

#: Samples that are looked at first for how long a level lasts; four times as many each time.
_LOOK = 64
_LOOK_GROWTH = 4

#: A look takes as long as so many gates, however short it is.
_LOOK_WORK = 1000


def longest_hold(low: Ints, high: Ints, first: int, stride: int = 1) -> tuple[int, Ints, Ints]:
    """Return for how many samples one count suits all gates.

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
    length : int
        Samples from the first one on.
    least, most : ndarray, shape (samples,)
        The counts that can be held up to and with each sample.
    """
    least = np.maximum.accumulate(np.maximum(low, first))
    most = np.minimum.accumulate(high)
    if stride > 1:
        least = -(-least // stride) * stride
    return int(np.argmin(np.append(least <= most, False))), least, most


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
        corners: list[tuple[int, int]] = []
        begin = 0
        while begin < self.low.size:
            if len(corners) == most:
                return None
            length, least, greatest = self._hold(begin, work)
            if length == 0:
                return None
            mean = float(self.wanted[begin : begin + length].mean())
            corners.append((begin, nearest_held_count(self.ladder, mean, least, greatest)))
            begin += length
        return corners

    def fewest_around(self, most: int, work: WorkSpent) -> list[tuple[int, int]] | None:
        """Return the same for a channel that is never dark, whose day has no natural start.

        A row stands within reach of the first sample, for no level lasts longer. So all times up
        to there are tried as the first.
        """
        whole_day = self.fewest(1, work)
        if whole_day is not None:
            return whole_day
        best: list[tuple[int, int]] | None = None
        reach = self._hold(0, work)[0]
        for shift in range(0, reach + 1, self.grid):
            limit = most if best is None else len(best) - 1
            found = self._from(shift).fewest(limit, work)
            if found is not None:
                best = [(shift + index, count) for index, count in found]
        return best

    def _from(self, shift: int) -> HeldRun:
        """Return the same day, begun at another sample."""
        return replace(
            self,
            low=np.roll(self.low, -shift),
            high=np.roll(self.high, -shift),
            wanted=np.roll(self.wanted, -shift),
        )

    def _hold(self, begin: int, work: WorkSpent) -> tuple[int, int, int]:
        """Return for how many samples one count can be held, in whole steps or to the end.

        And the least and greatest count that can be. Few samples are looked at first, because most
        levels do not last long.
        """
        low, high = self.low[begin:], self.high[begin:]
        looked_at = _LOOK
        while True:
            length, least, most = longest_hold(low[:looked_at], high[:looked_at], self.ladder.first)
            work.add(least.size + _LOOK_WORK)
            if length < least.size or looked_at >= low.size:
                break
            looked_at *= _LOOK_GROWTH
        if length < low.size:
            length -= length % self.grid
        if length == 0:
            return 0, 0, 0
        return length, int(least[length - 1]), int(most[length - 1])


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
    found: list[int] = []
    for stretch in stretches_of(column):
        begin = 0
        while begin < stretch.length:
            if len(found) == most_rows:
                return None
            found.append((column.forced[0] + (stretch.begin + begin) // column.grid) % column.steps)
            lasts = stretch.length - begin  # each row lasts as long as all channels allow
            for run in stretch.runs.values():
                length, least, _ = longest_hold(
                    run.low[begin:], run.high[begin:], run.first, run.stride
                )
                work.add(least.size)
                lasts = min(lasts, length)
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
    stops = [*range(run.grid, run.length, run.grid), run.length]
    place = {0: 0} | {stop: number + 1 for number, stop in enumerate(stops)}
    sums = np.concatenate(([0.0], np.cumsum(wanted)))
    squares = np.concatenate(([0.0], np.cumsum(wanted**2)))
    best = np.full((most_pieces + 1, len(place)), np.inf)
    best[0, 0] = 0.0
    parent = np.zeros((most_pieces + 1, len(place), 2), dtype=np.int64)
    for begin, number in list(place.items())[:-1]:
        if not np.isfinite(best[:, number]).any():
            continue
        lasts, low, high = longest_hold(run.low[begin:], run.high[begin:], run.first)
        ends = np.array([stop for stop in stops if begin < stop <= begin + lasts], dtype=np.int64)
        if not ends.size:
            continue
        length = ends - begin
        mean = (sums[ends] - sums[begin]) / length
        count = np.searchsorted(0.5 * (ladder.light[1:] + ladder.light[:-1]), mean)
        count = np.clip(count, low[length - 1], high[length - 1])
        light = ladder.light[count]
        cost = squares[ends] - squares[begin] - 2 * light * (sums[ends] - sums[begin])
        cost = np.maximum(cost + length * light**2, 0.0)
        into = np.array([place[int(end)] for end in ends])
        total = best[:-1, number][:, None] + cost[None, :]
        row, column = np.nonzero(total < best[1:, into])
        best[row + 1, into[column]] = total[row, column]
        parent[row + 1, into[column], 0] = number
        parent[row + 1, into[column], 1] = count[column]
    results: list[tuple[float, Found]] = []
    starts = list(place)
    for pieces in range(1, most_pieces + 1):
        cost_here = float(best[pieces, -1])
        if np.isfinite(cost_here) and (not results or cost_here < results[-1][0] * (1 - 1e-9)):
            corners, at = [], len(place) - 1
            for layer in range(pieces, 0, -1):
                at, count_here = (int(value) for value in parent[layer, at])
                corners.append((starts[at], count_here))
            results.append((cost_here, Found(tuple(reversed(corners)))))
    return results
