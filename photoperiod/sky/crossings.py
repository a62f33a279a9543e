"""Moments at which a smooth function of time passes a threshold.

Sunrise, dusk and moonset are all of this kind. The function is evaluated on a grid of whole steps,
and where two neighbours lie on different sides of the threshold the crossing is enclosed ever more
closely. A curve that only grazes the threshold may pass it twice between neighbours on the same
side; so each highest and lowest point of the grid is looked at as well.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints

#: A crossing is halved down to this width, and found within it by a straight line. [s]
WIDTH_S = 0.1


@dataclass(frozen=True, slots=True, order=True)
class Crossing:
    """One passage through a threshold.

    Parameters
    ----------
    unix_s : float
        When. [Unix seconds]
    is_rising : bool
        Whether the function is below the threshold before and not below it after.
    """

    unix_s: float
    is_rising: bool


def crossings(
    function: Callable[[Floats], Floats],
    start_unix_s: float,
    stop_unix_s: float,
    threshold: float,
    step_s: float = 600.0,
) -> list[Crossing]:
    """Return the passages of a function through a threshold, in order of time.

    Parameters
    ----------
    function : callable
        Given Unix seconds, shape (n,), the values of a continuous function that turns at most once
        within any two steps. It is also evaluated up to two steps outside the interval.
    start_unix_s, stop_unix_s : float
        The interval [start, stop). [Unix seconds]
    threshold : float
        A value equal to it counts as above. [unit of the function]
    step_s : float
        Between grid points, which are whole multiples of it since the Unix epoch; so an interval
        cut in two has the same crossings as the whole. [s]
    """
    if stop_unix_s <= start_unix_s:
        return []
    first = math.floor(start_unix_s / step_s) - 1
    last = math.ceil(stop_unix_s / step_s) + 1
    grid: Floats = np.arange(first, last + 1, dtype=np.float64) * step_s

    def above(time: Floats) -> Floats:
        return function(time) - threshold

    height = above(grid)
    is_above = height >= 0.0
    changes = np.flatnonzero(is_above[1:] != is_above[:-1])
    left, right = grid[changes], grid[changes + 1]
    tops, peaks = _grazes(above, grid, height)
    left = np.concatenate([left, grid[tops - 1], peaks])
    right = np.concatenate([right, peaks, grid[tops + 1]])
    halvings = math.ceil(math.log2(2.0 * step_s / WIDTH_S))
    time, is_rising = _enclosed(above, left, right, halvings)
    inside = (time >= start_unix_s) & (time < stop_unix_s)
    found = zip(time[inside].tolist(), is_rising[inside].tolist(), strict=True)
    return sorted(Crossing(*each) for each in found)


def _grazes(above: Callable[[Floats], Floats], grid: Floats, height: Floats) -> tuple[Ints, Floats]:
    """Return grid points beside which the threshold is passed and passed back, and its peak there.

    A point of the grid is a candidate if it is nearer to the threshold than both neighbours, all
    on one side. The vertex of the parabola through the three then lies within half a step of it
    (of two equal neighbours the first is taken), so that no turning point is found twice.

    Parameters
    ----------
    above : callable
        The height over the threshold at moments. [unit of the function, Unix seconds]
    grid, height : ndarray, shape (points,)
        Moments that rise evenly [Unix seconds], and the heights at them.

    Returns
    -------
    points, peaks : ndarray, shape (found,)
        Which points of the grid, and the turning points beside them. [Unix seconds]
    """
    before, here, after = height[:-2], height[1:-1], height[2:]
    below = (before < 0) & (here < 0) & (after < 0) & (here > before) & (here >= after)
    over = (before >= 0) & (here >= 0) & (after >= 0) & (here < before) & (here <= after)
    points = np.flatnonzero(below | over) + 1
    if points.size == 0:
        return points, grid[points]
    sign = np.where(below[points - 1], 1.0, -1.0)
    low, high = grid[points - 1], grid[points + 1]
    while float((high - low).max()) > WIDTH_S:
        third = (high - low) / 3.0
        a, b = low + third, high - third
        is_later = sign * above(a) < sign * above(b)
        low, high = np.where(is_later, a, low), np.where(is_later, high, b)
    peaks = (low + high) / 2.0
    is_passed = (above(peaks) >= 0.0) == (sign > 0)
    return points[is_passed], peaks[is_passed]


def _enclosed(
    above: Callable[[Floats], Floats], left: Floats, right: Floats, halvings: int
) -> tuple[Floats, Bools]:
    """Return the crossings between pairs of moments on different sides of the threshold.

    All are halved equally often, so that none depends on which others are looked for with it.

    Parameters
    ----------
    above : callable
        The height over the threshold at moments. [unit of the function, Unix seconds]
    left, right : ndarray, shape (pairs,)
        Moments between which it is passed once. [Unix seconds]
    halvings : int
        How often each pair is halved.

    Returns
    -------
    time, is_rising : ndarray, shape (pairs,)
        When [Unix seconds], and whether it is passed upward.
    """
    if left.size == 0:
        return left, np.zeros(0, dtype=np.bool_)
    is_rising = above(left) < 0.0
    for _ in range(halvings):
        middle = (left + right) / 2.0
        is_before = (above(middle) < 0.0) == is_rising
        left, right = np.where(is_before, middle, left), np.where(is_before, right, middle)
    begin, end = above(left), above(right)
    share = np.clip(begin / np.where(begin == end, 1.0, begin - end), 0.0, 1.0)
    return left + share * (right - left), is_rising
