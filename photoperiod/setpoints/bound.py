"""A lower bound on the straight pieces from each place of a run to its end."""

from __future__ import annotations

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.kernel import paths, which
from photoperiod.setpoints.corridor import FLOAT_SLACK, Corridor


def pieces_needed(run: Corridor) -> Ints:
    """Return for each index a lower bound on the pieces from there to the end.

    Pieces may have any real corners and need not meet; neighbours share one gate. The greedy choice
    of the longest piece, backwards from the end, is then the best one (O'Rourke, "An on-line
    algorithm for fitting straight lines between data ranges", CACM 24:574–578, 1981).
    """
    low, high = run.real_ends()
    last = low.size - 1
    kernel = which.compiled()
    if kernel is not None:
        needed = paths.needed(kernel, low, high, run.length + 1)
    else:
        needed = _needed(low.tolist(), high.tolist(), run.length + 1)
    if run.end is None:
        needed[last:] = 0  # standing at the last gate, nothing more is needed
    return needed


def _needed(low: list[float], high: list[float], size: int) -> Ints:
    needed = np.zeros(size, dtype=np.int64)
    stop, count = len(low) - 1, 0
    while stop > 0:
        begin = farthest(low, high, stop)
        count += 1
        if begin == stop:  # an empty gate: nothing gets through
            needed[: stop + 1] = np.iinfo(np.int32).max
            break
        needed[begin:stop] = count
        stop = begin
    return needed


class RealGates:
    """Gates of the unrounded line, and how far a single one reaches through them.

    Parameters
    ----------
    low, high : ndarray, shape (gates,)
        The ends of the gates. [counts]
    """

    def __init__(self, low: Floats, high: Floats) -> None:
        self.last = low.size - 1
        self._kernel = which.compiled()
        self._arrays = low, high
        self._lists = None if self._kernel is not None else (low.tolist(), high.tolist())

    def farthest(self, stop: int) -> int:
        """Return the least index from which one straight line passes all gates up to ``stop``."""
        if self._lists is not None:
            return farthest(*self._lists, stop)
        assert self._kernel is not None
        return paths.farthest(self._kernel, *self._arrays, stop)


def farthest(low: list[float], high: list[float], stop: int) -> int:
    """Return the least index from which one straight line passes all gates up to ``stop``."""
    if low[stop] > high[stop]:
        return stop
    if stop == 0:
        return 0
    if high[stop - 1] < low[stop - 1]:
        return stop
    upper: list[tuple[int, float]] = [(0, high[stop]), (1, high[stop - 1])]
    lower: list[tuple[int, float]] = [(0, low[stop]), (1, low[stop - 1])]
    upper_start = lower_start = 0
    # The two extreme lines, each by a point and a slope: the steepest from a lower to an upper gate
    # end, the flattest the other way.
    steep_x, steep_y, steep = 0, low[stop], high[stop - 1] - low[stop]
    flat_x, flat_y, flat = 0, high[stop], low[stop - 1] - high[stop]
    for x in range(2, stop + 1):
        top, bottom = high[stop - x], low[stop - x]
        highest = steep_y + steep * (x - steep_x)
        lowest = flat_y + flat * (x - flat_x)
        if top < bottom or bottom > highest + FLOAT_SLACK or top < lowest - FLOAT_SLACK:
            return stop - x + 1
        if top < highest:
            lower_start = _tangent(lower, lower_start, x, top, 1.0)
            steep_x, steep_y = lower[lower_start]
            steep = (top - steep_y) / (x - steep_x)
            while len(upper) >= upper_start + 2 and _turn(upper[-2], upper[-1], (x, top)) <= 0:
                upper.pop()
            upper.append((x, top))
        if bottom > lowest:
            upper_start = _tangent(upper, upper_start, x, bottom, -1.0)
            flat_x, flat_y = upper[upper_start]
            flat = (bottom - flat_y) / (x - flat_x)
            while len(lower) >= lower_start + 2 and _turn(lower[-2], lower[-1], (x, bottom)) >= 0:
                lower.pop()
            lower.append((x, bottom))
    return 0


def _tangent(hull: list[tuple[int, float]], start: int, x: int, y: float, sign: float) -> int:
    """Return the point of a hull from which the line to (x, y) has the least slope times sign."""
    best = start
    before_x, before_y = hull[start]
    least = sign * (y - before_y) / (x - before_x)
    for index in range(start + 1, len(hull)):
        at_x, at_y = hull[index]
        if at_x == x:  # the other end of the same gate
            break
        slope = sign * (y - at_y) / (x - at_x)
        if slope > least:
            break
        best, least = index, slope
    return best


def _turn(a: tuple[int, float], b: tuple[int, float], c: tuple[int, float]) -> float:
    """Return the cross product; positive if a, b, c turn left (upper gates form a lower hull)."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
