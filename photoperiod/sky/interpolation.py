"""Slow curves, computed at whole steps of time and interpolated between them.

An ephemeris computes one moment at a time, and a year has 525,600 minutes. What changes slowly, such
as a declination, is computed every few hours and interpolated by cubics. The steps count from the
Unix epoch, so that the value at a moment does not depend on which other moments are computed with it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np

from photoperiod.arrays import Floats

#: So many steps are computed and kept together.
STEPS_PER_BLOCK = 128

#: Most blocks that are kept: at steps of three hours, a hundred years.
MOST_BLOCKS = 2_300


class Interpolation:
    """Curves through samples at whole multiples of a step since the Unix epoch.

    Parameters
    ----------
    sample : callable
        Takes a moment in Unix seconds, returns the values of all curves at it.
    step_s : int
        Time between samples. [s]
    """

    def __init__(self, sample: Callable[[float], Sequence[float]], step_s: int) -> None:
        self._sample, self._step_s = sample, step_s
        self._block = lru_cache(MOST_BLOCKS)(self._computed)

    def at(self, unix_s: Floats) -> Floats:
        """Return the values of all curves, shape (curves, *shape of the moments).

        The value between two samples is that of the cubic through those two and the next one on
        either side (Lagrange's interpolation).

        Parameters
        ----------
        unix_s : ndarray, any shape
            Moments. [Unix seconds]
        """
        if unix_s.size == 0:
            return np.zeros((len(self._sample(0.0)), *unix_s.shape))
        position = unix_s / self._step_s
        before = np.floor(position)
        p = position - before
        index = before.astype(np.int64)
        first = int(index.min()) - 1
        values = self._between(first, int(index.max()) + 2)
        index -= first
        weights = (
            -p * (p - 1.0) * (p - 2.0) / 6.0,
            (p + 1.0) * (p - 1.0) * (p - 2.0) / 2.0,
            -(p + 1.0) * p * (p - 2.0) / 2.0,
            (p + 1.0) * p * (p - 1.0) / 6.0,
        )
        return np.asarray(
            sum(values[:, index + k - 1] * weight for k, weight in enumerate(weights))
        )

    def _between(self, first: int, last: int) -> Floats:
        """Return the samples of two steps and all between, shape (curves, steps)."""
        numbers = range(first // STEPS_PER_BLOCK, last // STEPS_PER_BLOCK + 1)
        values = np.concatenate([self._block(number) for number in numbers], axis=1)
        skipped = first - numbers[0] * STEPS_PER_BLOCK
        return values[:, skipped : skipped + last - first + 1]

    def _computed(self, number: int) -> Floats:
        """Return the samples of a block, shape (curves, STEPS_PER_BLOCK)."""
        steps = range(number * STEPS_PER_BLOCK, (number + 1) * STEPS_PER_BLOCK)
        columns = [self._sample(float(step * self._step_s)) for step in steps]
        return np.array(columns, dtype=np.float64).T
