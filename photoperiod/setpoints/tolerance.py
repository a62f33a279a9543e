"""Tolerance bands: which counts keep the light within an error, at each sample of a day.

The light of every count is known (converter code, calibrated volts, ballast). So a tolerance in light
becomes a lowest and a highest count at each sample, the *gate* at that sample. No curve has to be
inverted, and converter, ballast and rounding are exact inside the search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Floats, Ints, best_near, stretch_of_true
from photoperiod.drive.grid import LevelGrid, TimeGrid
from photoperiod.drive.light_path import LIGHT_SLACK, LightPath
from photoperiod.kernel import paths, which

#: Samples are at most this far apart, unless the controller's own output moves more slowly [s].
SAMPLE_S = 60


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
    may_exceed : bool
        False if an error upward is not allowed at all.
    """

    least: Floats
    most: Floats
    middle: Floats
    may_exceed: bool = True

    def errors(self, light: Floats) -> Floats:
        """Return the distance of the light given at the samples from what is wanted."""
        return np.maximum(np.maximum(self.least - light, light - self.most), 0.0)


def sliding(values: Floats, reach_s: int, pick: np.ufunc) -> Floats:
    """Return the minimum or maximum within some seconds on either side, on a repeating day."""
    if reach_s == 0:
        return values.copy()
    lit = stretch_of_true(values != 0)
    first, stop = lit.start - reach_s, lit.stop + reach_s
    if first < 0 or stop > values.size:
        return best_near(np.pad(values, reach_s, mode="wrap"), reach_s, pick)
    result = np.zeros(values.shape)  # beside what is lit all is dark
    around = np.zeros(stop - first + 2 * reach_s)
    around[2 * reach_s : around.size - 2 * reach_s] = values[lit]
    result[first:stop] = best_near(around, reach_s, pick)
    return result


@dataclass(frozen=True, slots=True)
class ToleranceBand:
    """The gates of a day: least and most count that may be emitted at each sample, shape (samples,).

    A gate with ``low`` above ``high`` lets nothing through.
    """

    low: Ints
    high: Ints


@dataclass(frozen=True, slots=True)
class Ladder:
    """The light of each count while the channel is meant to be lit, never falling.

    Counts below ``first`` are not for a row of a lit channel (it would be dark or undefined there).
    Counts below ``dark_below`` give no light at all, although ``light`` says what a burning lamp
    would give there.
    """

    light: Floats
    first: int
    top: int
    dark_below: int = 0

    @classmethod
    def of(cls, path: LightPath, ceiling: int | None) -> Ladder:
        """Return the ladder of a light path under a ceiling."""
        top = path.top_count if ceiling is None else max(ceiling, path.first_lit_count)
        light = path.burning_light[: top + 1]
        if not path.dark_by_level:
            return cls(light, 0, top)
        counts = np.arange(light.size)
        is_dark = ~path.is_lit(counts, np.ones(counts.shape, dtype=bool))
        return cls(light, path.first_lit_count, top, int(is_dark.sum()))

    @property
    def given(self) -> Floats:
        """The light that each count gives: none where the level itself makes the lamp dark."""
        if not self.dark_below:
            return self.light
        given = self.light.copy()
        given[: self.dark_below] = 0.0
        return given

    def band(self, wanted: Wanted, error: float) -> ToleranceBand:
        """Return the counts whose light is within an error of what is wanted, for a lit channel.

        Where it is no error to give no light, as in the step before a lamp goes dark, every count from
        0 on is in the band.
        """
        given, above = self.given, error if wanted.may_exceed else 0.0
        kernel = which.compiled()
        if kernel is not None:
            both = np.ascontiguousarray(wanted.least), np.ascontiguousarray(wanted.most)
            errors, counts = (error, above), (self.first, self.top)
            return ToleranceBand(*paths.band(kernel, given, both, errors, LIGHT_SLACK, counts))
        low = np.searchsorted(given, wanted.least - error - LIGHT_SLACK, side="left")
        high = np.searchsorted(given, wanted.most + above + LIGHT_SLACK, side="right") - 1
        low = np.where(wanted.least > 0.0, np.maximum(low, self.first), low)
        return ToleranceBand(low, np.minimum(high, self.top))
