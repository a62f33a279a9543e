"""Bands of tolerance: which counts keep the light within an error, at each sample of a day.

The band at a sample is the preimage of [wanted − error, wanted + error] under the forward map, in
whole counts as the controller emits them, so that converter, ballast and rounding are exact inside
the search.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photoperiod.table.grid import LevelGrid, TimeGrid
from photoperiod.table.path import LightPath
from photoperiod.units import SECONDS_PER_DAY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Samples are at most this far apart, unless the controller's own output moves more slowly [s].
SAMPLE_S = 60

#: Lights that differ by less are the same [fraction of full].
LIGHT_SLACK = 1e-9


def sample_step(times: TimeGrid, levels: LevelGrid) -> int:
    """Return how far apart samples are: a divisor of the time step, a multiple of the output's. [s]"""
    most = max(SAMPLE_S, levels.every_seconds)
    steps = range(levels.every_seconds, times.step_s + 1, levels.every_seconds)
    return max(step for step in steps if times.step_s % step == 0 and step <= most)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The light wanted at the samples of a day, with its tolerance in time.

    Parameters
    ----------
    least, most : ndarray, shape (samples,)
        The extremes of the reachable plan within the tolerance in time. [fraction of full]
    middle : ndarray, shape (samples,)
        The reachable plan at the sample itself. [fraction of full]
    """

    least: Floats
    most: Floats
    middle: Floats

    @property
    def is_dark(self) -> Bools:
        """Samples in the core of a night: all that is near them is dark."""
        return self.most <= 0.0

    @property
    def is_lit(self) -> Bools:
        """Samples in the core of a day: all that is near them is lit."""
        return self.least > 0.0


def wanted_at_samples(reachable: Floats, tolerance_s: int, step_s: int) -> Wanted:
    """Return what is wanted at every sample.

    Parameters
    ----------
    reachable : ndarray, shape (86400,)
        The reachable plan at each second of a repeating day. [fraction of full]
    tolerance_s, step_s : int
        The tolerance in time on either side, and the distance of samples. [s]
    """
    return Wanted(
        least=sliding(reachable, tolerance_s, np.minimum)[::step_s],
        most=sliding(reachable, tolerance_s, np.maximum)[::step_s],
        middle=reachable[::step_s],
    )


def sliding(values: Floats, reach_s: int, pick: np.ufunc) -> Floats:
    """Return the minimum or maximum within some seconds on either side, on a repeating day."""
    result = values.copy()
    done = 0
    while done < reach_s:  # doubling: a window of 2w + 1 from two shifted windows
        shift = min(max(done, 1), reach_s - done)
        result = pick(pick(np.roll(result, shift), np.roll(result, -shift)), result)
        done += shift
    return result


@dataclass(frozen=True, slots=True)
class Band:
    """Least and most count that may be emitted at each sample, shape (samples,); empty if crossed."""

    low: Ints
    high: Ints


@dataclass(frozen=True, slots=True)
class Ladder:
    """The light of each count while the channel is meant to be lit, never falling.

    Counts below ``first`` are not for a lit channel (it would be dark or undefined there).
    """

    light: Floats
    first: int
    top: int

    @classmethod
    def of(cls, path: LightPath, ceiling: int | None) -> Ladder:
        """Return the ladder of a light path under a ceiling."""
        top = path.top_count if ceiling is None else max(ceiling, path.first_lit_count)
        first = path.first_lit_count if path.dark_by_level else 0
        return cls(path.burning_light[: top + 1], first, top)

    def band(self, wanted: Wanted, error: float) -> Band:
        """Return the counts whose light is within an error of what is wanted, for a lit channel."""
        low = np.searchsorted(self.light, wanted.least - error - LIGHT_SLACK, side="left")
        high = np.searchsorted(self.light, wanted.most + error + LIGHT_SLACK, side="right") - 1
        return Band(np.maximum(low, self.first), np.minimum(high, self.top))


def real_band(band: Band, rounding: str) -> tuple[Floats, Floats]:
    """Return the band of the unrounded line for ``half-up`` or ``down``; the upper end is open."""
    low, high = band.low.astype(np.float64), band.high.astype(np.float64)
    if rounding == "half-up":
        return low - 0.5, high + 0.5
    if rounding == "down":
        return low, high + 1.0
    raise ValueError(f"no one band for rounding {rounding!r}")


def error_candidates_end(wanted: Wanted, ladder: Ladder) -> float:
    """Return an error at which any table fits: the widest distance that can occur."""
    spread = max(float(wanted.most.max()), float(ladder.light[-1]))
    return math.nextafter(spread, math.inf)


def samples_of_day(step_s: int) -> int:
    """Return how many samples a day has."""
    return SECONDS_PER_DAY // step_s
