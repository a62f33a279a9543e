"""The slope of a straight line through readings, with the interval that noise leaves it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from photoperiod.arrays import Floats, Ints, np

#: Intervals cover the truth so often, if noise is normal and the line is right.
CONFIDENCE = 0.95


#: From so many degrees of freedom on a series of the quantile is exact to six digits.
MANY_DEGREES = 100


@dataclass(frozen=True, slots=True)
class Slope:
    """A slope, and between what it lies with `CONFIDENCE`."""

    value: float
    low: float
    high: float


def common_slope(x: Floats, y: Floats, group: Ints) -> Slope | None:
    """Return the least-squares slope of y over x of groups that share it, each with its own height.

    Parameters
    ----------
    x, y : ndarray, shape (readings,)
        A reading each.
    group : ndarray of int, shape (readings,)
        The group of each reading, numbered from 0.

    Returns
    -------
    Slope or None
        None if there are too few readings to tell a slope and its interval, or all x are alike.
    """
    sizes = np.bincount(group)
    used = sizes[sizes > 0].size
    degrees = x.size - used - 1
    if degrees < 1:
        return None
    dx = x - (np.bincount(group, x) / np.maximum(sizes, 1))[group]
    dy = y - (np.bincount(group, y) / np.maximum(sizes, 1))[group]
    spread = float((dx**2).sum())
    if spread <= 1e-12 * max(float((x**2).sum()), 1e-300):
        return None
    value = float((dx * dy).sum()) / spread
    left = float(((dy - value * dx) ** 2).sum())
    half = student_quantile(degrees) * math.sqrt(left / degrees / spread)
    return Slope(value, value - half, value + half)


def student_quantile(degrees: int, confidence: float = CONFIDENCE) -> float:
    """Return t for which Student's |T| is below it so often.

    References
    ----------
    Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4: the distribution for whole
    degrees of freedom in closed form; 26.7.5 for many of them. From memory, tested against SciPy.
    """
    if degrees > MANY_DEGREES:
        from statistics import NormalDist  # slow to import, and few need it

        z = NormalDist().inv_cdf((1 + confidence) / 2)
        first, second = (z**3 + z) / 4, (5 * z**5 + 16 * z**3 + 3 * z) / 96
        third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
        return z + first / degrees + second / degrees**2 + third / degrees**3
    low, high = 0.0, 1e4
    for _ in range(80):
        middle = 0.5 * (low + high)
        if _student_within(middle, degrees) < confidence:
            low = middle
        else:
            high = middle
    return high


def _student_within(t: float, degrees: int) -> float:
    """Return how often Student's |T| is below t."""
    theta = math.atan(t / math.sqrt(degrees))
    cos, sin = math.cos(theta), math.sin(theta)
    if degrees % 2:
        term, total = cos, 0.0
        for k in range(1, degrees - 1, 2):
            total += term
            term *= cos * cos * (k + 1) / (k + 2)
        return 2 / math.pi * (theta + sin * total)
    term, total = 1.0, 0.0
    for k in range(0, degrees - 1, 2):
        total += term
        term *= cos * cos * (k + 1) / (k + 2)
    return sin * total
