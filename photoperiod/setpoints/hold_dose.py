"""Move the plan a little, so that the table that is closest to it holds the day's dose."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

#: Shifts of the plan that are tried to hold a dose.
DOSE_TRIES = 6

Found = TypeVar("Found")


def hold_dose(
    attempt: Callable[[float], tuple[Found | None, float]], most_shift: float, within: float
) -> Found | None:
    """Return what is closest to the plan, or, if its dose is off by too much, what holds the dose.

    Parameters
    ----------
    attempt : callable
        Gives for a shift of the plan what is closest to it, and the error of its dose.
    most_shift : float
        No larger shift is tried. [fraction of full]
    within : float
        The dose may be off by this share.
    """
    found, dose = attempt(0.0)
    if found is None or abs(dose) <= within:
        return found
    best, off = found, abs(dose)
    sign = -1.0 if dose > 0 else 1.0
    low, high = 0.0, most_shift
    shift = high
    for _ in range(DOSE_TRIES):
        found, dose = attempt(sign * shift)
        if found is not None and abs(dose) < off:
            best, off = found, abs(dose)
            if off <= within:
                break
        if found is not None and dose * sign > 0:  # too far
            high = shift
        elif shift == high:  # not even the largest shift is enough
            break
        else:
            low = shift
        shift = (low + high) / 2
    return best
