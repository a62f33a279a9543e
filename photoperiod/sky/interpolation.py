"""Slow curves, computed at whole steps of time and interpolated between them.

An ephemeris is asked for one moment at a time, and a year has 527,040 minutes. What changes slowly,
such as a declination, is asked for every few hours and interpolated by cubics. The steps count from
the Unix epoch, so a value doesn't depend on which other moments are asked for with it.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence

import numpy as np

from photoperiod.arrays import Floats

#: Steps computed and kept together.
STEPS_PER_BLOCK = 128

#: Blocks kept: at steps of three hours, a hundred years.
MOST_BLOCKS = 2_300


class Samples:
    """Curves through samples at whole multiples of a step since the Unix epoch.

    Parameters
    ----------
    sample : callable
        Given Unix seconds, the values of all curves at that moment.
    step_s : int
        Between samples. [s]
    """

    def __init__(self, sample: Callable[[float], Sequence[float]], step_s: int) -> None:
        self._sample, self._step_s = sample, step_s
        self._blocks: OrderedDict[int, Floats] = OrderedDict()

    def at(self, unix_s: Floats) -> Floats:
        """Return the values of all curves, shape (curves, *shape of the moments).

        Between two samples runs the cubic through those two and the next one on either side
        (Lagrange's interpolation).
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

    def _block(self, number: int) -> Floats:
        if number not in self._blocks:
            steps = range(number * STEPS_PER_BLOCK, (number + 1) * STEPS_PER_BLOCK)
            columns = [self._sample(float(step * self._step_s)) for step in steps]
            self._blocks[number] = np.array(columns, dtype=np.float64).T
            if len(self._blocks) > MOST_BLOCKS:
                self._blocks.popitem(last=False)
        return self._blocks[number]
