"""The noise of readings, as the log itself shows it, and what stays wrong in spite of it.

Noise is what changes from one reading to the next beside the table. A reading is wrong beyond doubt if it
is farther off than noise can be; many readings are wrong together if their median is.
"""

from __future__ import annotations

import itertools

import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE

#: A reading is off beyond doubt from so many standard deviations on. Of 16,000 readings with normal noise
#: one is farther off.
SIGMAS = 4.0

#: The median absolute deviation times this is the standard deviation, if noise is normal: 1/Φ⁻¹(3/4)
#: (Rousseeuw and Croux 1993, J. Am. Stat. Assoc. 88:1273).
MAD_TO_SIGMA = 1.4826

#: The standard error of a median is larger than that of a mean by this factor, √(π/2), if noise is normal.
MEDIAN_TO_MEAN = 1.2533

#: Noise grows with light, so it is found for each of these stretches of light by itself. [fraction of full]
LIGHT_EDGES = (1e-6, 0.02, 0.10, 0.40)

#: Fewer steps than this show no noise. Our choice.
LEAST_STEPS = 8

#: Readings are taken together over these times. [s]
BLOCKS_S = (10 * SECONDS_PER_MINUTE, SECONDS_PER_HOUR, 6 * SECONDS_PER_HOUR)

#: So many readings at least make a median. Our choice.
LEAST_IN_BLOCK = 3


def noise_of(unix_s: Floats, off: Floats, planned: Floats, gap_s: float) -> Floats:
    """Return the standard deviation of the noise of each reading.

    Parameters
    ----------
    unix_s : ndarray, shape (records,)
        Instants that rise. [Unix seconds]
    off : ndarray, the same shape
        Readings less what the table has at the same instants. [fraction of full]
    planned : ndarray, the same shape
        What the table has. [fraction of full]
    gap_s : float
        Readings farther apart than this are no neighbours. [s]
    """
    stretch = np.searchsorted(LIGHT_EDGES, planned, side="right")
    together = (np.diff(unix_s) <= gap_s) & (stretch[1:] == stretch[:-1])
    steps, of_steps = np.abs(np.diff(off))[together], stretch[1:][together]
    overall = sigma_of(steps[of_steps > 0])
    noise = np.zeros(unix_s.shape)
    for own in range(len(LIGHT_EDGES) + 1):
        found = sigma_of(steps[of_steps == own])
        if found is None and own > 0:
            found = overall
        noise[stretch == own] = found or 0.0
    return noise


def sigma_of(steps: Floats) -> float | None:
    """Return the standard deviation of readings from the sizes of their steps; None of too few."""
    if steps.size < LEAST_STEPS:
        return None
    return float(MAD_TO_SIGMA * np.median(steps) / np.sqrt(2))


def scatter_of(values: Floats) -> float:
    """Return how far noise alone may lift a reading, by the steps of readings; 0 of too few."""
    return SIGMAS * (sigma_of(np.abs(np.diff(values))) or 0.0)


def wrong_in_blocks(
    unix_s: Floats, off: Floats, allowed: Floats, noise: Floats, seconds: Floats, least_s: float
) -> Bools:
    """Return the readings within times whose median is off by more than is allowed, to one side.

    Times of `BLOCKS_S` are looked at, each also moved by half of its length. Arrays are of shape
    (records,); ``off`` and ``allowed`` are fractions of full.

    Parameters
    ----------
    unix_s : ndarray
        Instants that rise. [Unix seconds]
    off, allowed, noise : ndarray
        How far readings are off and may be off, and the standard deviation of their noise.
    seconds : ndarray
        For how long each reading stands. [s]
    least_s : float
        A block of fewer seconds says nothing. [s]
    """
    wrong = np.zeros(unix_s.shape, dtype=np.bool_)
    for length, part in itertools.product(BLOCKS_S, (0.0, 0.5)):
        block = np.floor(unix_s / length + part)
        begins = np.append(0, np.flatnonzero(np.diff(block)) + 1)
        ends = np.append(begins[1:], unix_s.size)
        enough = (ends - begins >= LEAST_IN_BLOCK) & (np.add.reduceat(seconds, begins) >= least_s)
        for side in (1.0, -1.0):
            most = np.add.reduceat((side * off > allowed).astype(np.int64), begins)
            for at in np.flatnonzero(enough & (2 * most > ends - begins)).tolist():
                here = slice(begins[at], ends[at])
                if _is_off(side * off[here], allowed[here], noise[here]):
                    wrong[here] |= side * off[here] > allowed[here]
    return wrong


def _is_off(off: Floats, allowed: Floats, noise: Floats) -> bool:
    error = MEDIAN_TO_MEAN * float(np.sqrt(np.mean(noise**2) / off.size))
    return float(np.median(off - allowed)) > SIGMAS * error
