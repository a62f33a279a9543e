"""What really passes of a date on which the controller's clock changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.curves.curve import Curve


@dataclass(frozen=True, slots=True)
class PassingDay:
    """A date of the controller's clock as it passes: its seconds, and the light wanted in them.

    A table has a row of light for each of 86,400 seconds of a day. On such a date some of them never come,
    or come twice, and a dose counts what comes.

    Parameters
    ----------
    spans : tuple of (int, int)
        Stretches of the controller's day, in the order in which they pass. [s]
    curves : mapping of channel to tuple of Curve
        Light wanted in each stretch, in seconds of the controller's day.
    """

    spans: tuple[tuple[int, int], ...]
    curves: Mapping[str, tuple[Curve, ...]]

    @property
    def seconds(self) -> Ints:
        """The seconds of the controller's day as they pass, shape (length_s,)."""
        return np.concatenate([np.arange(begin, end, dtype=np.int64) for begin, end in self.spans])

    @property
    def length_s(self) -> int:
        """How long the date is. [s]"""
        return sum(end - begin for begin, end in self.spans)

    def plan_s(self, id: str) -> float:
        """Return the full-light seconds that the plan wants of a channel. [s]"""
        return sum(curve.integral() for curve in self.curves[id])

    def wanted(self, id: str) -> Floats:
        """Return the light wanted of a channel in the middle of each second that passes.

        Returns
        -------
        ndarray, shape (length_s,)
            Light wanted, 0 to 1. [fraction of full]
        """
        return np.concatenate(
            [
                curve.light(np.arange(begin, end, dtype=np.float64) + 0.5)
                for (begin, end), curve in zip(self.spans, self.curves[id], strict=True)
            ]
        )
