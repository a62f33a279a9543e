"""How far the light of a table is from what a day wants, with a tolerance in time, at every second.

The light of a table is stairs, and what is wanted may be stairs too: what stays as it is for a while is
looked at once. At night nothing is looked at.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from photoperiod.arrays import Floats, Ints, Singles
from photoperiod.units import SECONDS_PER_DAY

#: With more steps than this, what is wanted is looked at second by second.
FEW_STEPS = 64


class LightError(NamedTuple):
    """How far light is off on a day.

    ``most`` is the largest distance from what is wanted [fraction of full]; ``lights_dark`` tells whether
    there is light at some second around which none is wanted.
    """

    most: float
    lights_dark: bool


def light_error(given: Floats, wanted: Floats, reach_s: int) -> LightError:
    """Return how far light is from the range of what is wanted within some seconds of each.

    Parameters
    ----------
    given : ndarray, shape (86400,)
        Light of a table on a day like the day before and after. [fraction of full]
    wanted : ndarray, shape (86400,)
        Light that should be given. It is compared in single precision. [fraction of full]
    reach_s : int
        It may come so much earlier or later: less than half a day. [s]
    """
    begins = _begins(given)
    wanted_begins = _begins(wanted)
    if wanted_begins.size <= FEW_STEPS:
        return _of_stairs(given, begins, wanted, wanted_begins, reach_s)
    return _of_seconds(given, begins, wanted, reach_s)


def _begins(values: Floats) -> Ints:
    """Return the seconds at which values become others, and 0."""
    return np.append(0, np.flatnonzero(values[1:] != values[:-1]) + 1)


def _of_stairs(
    given: Floats, begins: Ints, wanted: Floats, wanted_begins: Ints, reach_s: int
) -> LightError:
    """Return the error where both are stairs: looked at where one of them steps, or its reach."""
    around = np.concatenate((wanted_begins - reach_s, wanted_begins + reach_s)) % SECONDS_PER_DAY
    at = np.unique(np.concatenate((begins, around)))
    values = wanted[wanted_begins].astype(np.float32)
    stops = np.append(wanted_begins[1:], SECONDS_PER_DAY)
    days = np.array([[-SECONDS_PER_DAY], [0], [SECONDS_PER_DAY]])
    is_near = (
        ((wanted_begins + days).ravel() <= at[:, None] + reach_s)
        & ((stops + days).ravel() > at[:, None] - reach_s)
    ).reshape(at.size, 3, -1).any(axis=1)  # fmt: skip
    low = np.where(is_near, values, np.float32(np.inf)).min(axis=1)
    high = np.where(is_near, values, np.float32(-np.inf)).max(axis=1)
    return _compared(given[at], low, high)


def _of_seconds(given: Floats, begins: Ints, wanted: Floats, reach_s: int) -> LightError:
    """Return the error where what is wanted changes all day."""
    is_lit = wanted > 0
    first = int(is_lit.argmax()) - reach_s
    stop = SECONDS_PER_DAY - int(is_lit[::-1].argmax()) + reach_s
    if first < 0 or stop > SECONDS_PER_DAY:
        first, stop = 0, SECONDS_PER_DAY
        around = np.pad(wanted.astype(np.float32), reach_s, mode="wrap")
    else:
        around = np.zeros(stop - first + 2 * reach_s, dtype=np.float32)
        around[reach_s:-reach_s] = wanted[first:stop]
    inside = slice(
        int(np.searchsorted(begins, first, side="right")) - 1,
        int(np.searchsorted(begins, stop, side="left")),
    )
    cuts = np.maximum(begins[inside] - first, 0)
    steps = given[begins]
    low = np.maximum.reduceat(_near(around, reach_s, np.minimum), cuts)
    high = np.minimum.reduceat(_near(around, reach_s, np.maximum), cuts)
    found = _compared(steps[inside], low, high)
    before = steps[: int(np.searchsorted(begins, first, side="left"))]
    ends = np.append(begins[1:], SECONDS_PER_DAY)
    after = steps[int(np.searchsorted(ends, stop, side="right")) :]
    in_the_dark = max(float(each.max(initial=0.0)) for each in (before, after))
    return LightError(max(found.most, in_the_dark), found.lights_dark or in_the_dark > 0)


def _compared(given: Floats, low: Singles, high: Singles) -> LightError:
    """Return the error of steps beside the most of the least, and the least of the most, that is wanted."""
    most = float(np.maximum(low - given, given - high).max())
    return LightError(most, bool(((given > 0) & (high <= 0)).any()))


def _near(around: Singles, reach_s: int, best: np.ufunc) -> Singles:
    """Return the least or the most within some seconds of each but the first and last so many."""
    length, window = 2 * reach_s + 1, 1
    while 2 * window <= length:  # windows twice as long each time
        around = best(around[:-window], around[window:])
        window *= 2
    rest = length - window
    return best(around[:-rest], around[rest:]) if rest else around
