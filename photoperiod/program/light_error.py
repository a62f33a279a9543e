"""How far the light of a table is from what a day wants, with a tolerance in time, at every second.

The light of a table is stairs, and what is wanted may be stairs too: what stays as it is for a while is
looked at once. At night nothing is looked at.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from photoperiod.arrays import Floats, Singles, best_near, stretch_of_true
from photoperiod.drive.replay import LightSteps
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


def light_error(given: LightSteps, wanted: Floats, reach_s: int) -> LightError:
    """Return how far light is from the range of what is wanted within some seconds of each.

    Parameters
    ----------
    given : LightSteps
        Light of a table on a day like the day before and after.
    wanted : ndarray, shape (86400,)
        Light that should be given. It is compared in single precision. [fraction of full]
    reach_s : int
        It may come so much earlier or later: less than half a day. [s]
    """
    lit = stretch_of_true(wanted > 0)
    by_day = wanted[lit]
    if np.count_nonzero(by_day[1:] != by_day[:-1]) < FEW_STEPS:
        return _of_stairs(given, LightSteps.of(wanted), reach_s)
    return _of_seconds(given, wanted, lit, reach_s)


def _of_stairs(given: LightSteps, wanted: LightSteps, reach_s: int) -> LightError:
    """Return the error where both are stairs: looked at where one of them steps, or its reach."""
    around = np.concatenate((wanted.begins - reach_s, wanted.begins + reach_s)) % SECONDS_PER_DAY
    at = np.unique(np.concatenate((given.begins, around)))
    values = wanted.light.astype(np.float32)
    stops = np.append(wanted.begins[1:], SECONDS_PER_DAY)
    days = np.array([[-SECONDS_PER_DAY], [0], [SECONDS_PER_DAY]])
    is_near = (
        ((wanted.begins + days).ravel() <= at[:, None] + reach_s)
        & ((stops + days).ravel() > at[:, None] - reach_s)
    ).reshape(at.size, 3, -1).any(axis=1)  # fmt: skip
    low = np.where(is_near, values, np.float32(np.inf)).min(axis=1)
    high = np.where(is_near, values, np.float32(-np.inf)).max(axis=1)
    return _compared(given.light_at(at), low, high)


def _of_seconds(given: LightSteps, wanted: Floats, lit: slice, reach_s: int) -> LightError:
    """Return the error where what is wanted changes all day, and is lit within some seconds."""
    begins, steps = given
    first, stop = lit.start - reach_s, lit.stop + reach_s
    if first < 0 or stop > SECONDS_PER_DAY:
        first, stop = 0, SECONDS_PER_DAY
        around = np.pad(wanted.astype(np.float32), reach_s, mode="wrap")
    else:
        around = np.zeros(stop - first + 2 * reach_s, dtype=np.float32)
        around[2 * reach_s : -2 * reach_s] = wanted[lit]
    inside = slice(
        int(np.searchsorted(begins, first, side="right")) - 1,
        int(np.searchsorted(begins, stop, side="left")),
    )
    cuts = np.maximum(begins[inside] - first, 0)
    low = np.maximum.reduceat(best_near(around, reach_s, np.minimum), cuts)
    high = np.minimum.reduceat(best_near(around, reach_s, np.maximum), cuts)
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
