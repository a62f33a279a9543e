"""Dose of light over a day, from PPFD at every second."""

from __future__ import annotations

import numpy as np

from photoperiod.arrays import Bools, Floats, runs_of_true
from photoperiod.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, UMOL_PER_MOL


def daily_light_integral(ppfd_umol_m2_s: Floats) -> float:
    """Return the DLI of a day given second by second. [mol m⁻² d⁻¹]

    Parameters
    ----------
    ppfd_umol_m2_s : ndarray, shape (86400,)
        PPFD that holds for each second. [µmol m⁻² s⁻¹]

    References
    ----------
    DLI is the integral of PPFD over a day; for constant light PPFD × hours × 0.0036: E. Runkle,
    "Increasing the daily light integral", Greenhouse Product News.
    """
    return float(ppfd_umol_m2_s.sum()) / UMOL_PER_MOL


def full_light_hours(light: Floats) -> float:
    """Return the hours at full that would give the same light. [h]

    Parameters
    ----------
    light : ndarray, shape (86400,)
        Light that holds for each second. [fraction of full]
    """
    return float(light.sum()) / SECONDS_PER_HOUR


def saturation_hours(ppfd_umol_m2_s: Floats, ek_umol_m2_s: float) -> float:
    """Return ∫tanh(I/Ek)dt over a day: hours of saturated photosynthesis. [h]

    References
    ----------
    Jassby & Platt, Limnology and Oceanography 21:540–547, 1976.
    """
    return float(np.tanh(ppfd_umol_m2_s / ek_umol_m2_s).sum()) / SECONDS_PER_HOUR


def longest_run_s(mask: Bools) -> int:
    """Return the length of the longest run of True on a day that repeats. [s]"""
    return max((stop - start for start, stop in runs_of_true(mask, repeats=True)), default=0)


def starts(mask: Bools) -> int:
    """Return how often a repeating day goes from False to True."""
    return int((mask & ~np.roll(mask, 1)).sum())


def steepest_rise_per_minute(ppfd_umol_m2_s: Floats) -> tuple[float, int]:
    """Return the largest rise from any second to one within a minute after it, and that second.

    Parameters
    ----------
    ppfd_umol_m2_s : ndarray, shape (86400,)
        PPFD of a day that repeats. [µmol m⁻² s⁻¹]
    """
    # The most of so many seconds, each time of twice as many.
    most = np.concatenate((ppfd_umol_m2_s, ppfd_umol_m2_s[:SECONDS_PER_MINUTE]))
    left, window = SECONDS_PER_MINUTE, 1
    while left:
        step = min(window, left)
        most = np.maximum(most[:-step], most[step:])
        left, window = left - step, 2 * window
    rise = most - ppfd_umol_m2_s
    second = int(rise.argmax())
    return float(rise[second]), second
