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
    # The upper gates form a lower hull, the lower gates an upper one: their points by x and y. What
    # follows is written out twice, for both hulls: a call for each gate would take most of the time.
    upper_x, upper_y, upper_start = [0, 1], [high[stop], high[stop - 1]], 0
    lower_x, lower_y, lower_start = [0, 1], [low[stop], low[stop - 1]], 0
    # The two extreme lines, each by a point and a slope: the steepest from a lower to an upper gate
    # end, the flattest the other way.
    steep_x, steep_y, steep = 0, low[stop], high[stop - 1] - low[stop]
    flat_x, flat_y, flat = 0, high[stop], low[stop - 1] - high[stop]
    x = 1
    for top, bottom in zip(high[: stop - 1][::-1], low[: stop - 1][::-1], strict=True):
        x += 1
        highest = steep_y + steep * (x - steep_x)
        lowest = flat_y + flat * (x - flat_x)
        if top < bottom or bottom > highest + FLOAT_SLACK or top < lowest - FLOAT_SLACK:
            return stop - x + 1
        if top < highest:
            # The tangent from the new point: the least slope to a point of the other hull.
            steep = (top - lower_y[lower_start]) / (x - lower_x[lower_start])
            following, size = lower_start + 1, len(lower_x)
            while following < size and lower_x[following] < x:  # not the other end of the same gate
                slope = (top - lower_y[following]) / (x - lower_x[following])
                if slope > steep:
                    break
                steep, lower_start = slope, following
                following += 1
            steep_x, steep_y = lower_x[lower_start], lower_y[lower_start]
            # Points that are no corners any more, by cross products.
            while len(upper_x) >= upper_start + 2:
                a_x, a_y = upper_x[-2], upper_y[-2]
                if (upper_x[-1] - a_x) * (top - a_y) - (upper_y[-1] - a_y) * (x - a_x) > 0:
                    break
                upper_x.pop()
                upper_y.pop()
            upper_x.append(x)
            upper_y.append(top)
        if bottom > lowest:
            flat = (bottom - upper_y[upper_start]) / (x - upper_x[upper_start])
            following, size = upper_start + 1, len(upper_x)
            while following < size and upper_x[following] < x:
                slope = (bottom - upper_y[following]) / (x - upper_x[following])
                if slope < flat:
                    break
                flat, upper_start = slope, following
                following += 1
            flat_x, flat_y = upper_x[upper_start], upper_y[upper_start]
            while len(lower_x) >= lower_start + 2:
                a_x, a_y = lower_x[-2], lower_y[-2]
                if (lower_x[-1] - a_x) * (bottom - a_y) - (lower_y[-1] - a_y) * (x - a_x) < 0:
                    break
                lower_x.pop()
                lower_y.pop()
            lower_x.append(x)
            lower_y.append(bottom)
    return 0
