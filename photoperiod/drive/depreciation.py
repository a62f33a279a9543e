"""Loss of light with the hours that a tube has burned.

Light is relative to a tube that has burned for 100 h, at which its flux is declared; before that it
may be above 100 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.arrays import np

#: Hours at which the flux of a fluorescent tube is declared [h]: initial photometric values are
#: those after 100 h of ageing (IEC 60081; from memory).
DECLARED_AT_H = 100.0


class DepreciationKind(StrEnum):
    """How the light of a tube falls with its lit hours."""

    EXPONENTIAL = "exponential"  # e^(−αt), as in IES TM-21
    POINTS = "points"  # straight lines between points, level before the first and after the last


@dataclass(frozen=True, slots=True, kw_only=True)
class Depreciation:
    """A curve of light over lit hours.

    Parameters
    ----------
    kind : DepreciationKind
        The form of the curve.
    loss_per_1000_h : float
        Of an exponential curve: loss within any 1,000 h, of the light at their beginning. [fraction]
    hours, light : tuple of float
        The points. [h; fraction of the declared light]
    """

    kind: DepreciationKind
    loss_per_1000_h: float = 0.0
    hours: tuple[float, ...] = ()
    light: tuple[float, ...] = ()

    def light_at(self, lit_hours: float) -> float:
        """Return the light of a tube after some lit hours. [fraction of the declared light]"""
        if self.kind == DepreciationKind.EXPONENTIAL:
            alpha_per_h = -math.log1p(-self.loss_per_1000_h) / 1000.0
            return math.exp(-alpha_per_h * (lit_hours - DECLARED_AT_H))
        return float(np.interp(lit_hours, self.hours, self.light))

    @property
    def brightest_at_h(self) -> float:
        """The lit hours up to which light may rise. [h]"""
        if self.kind == DepreciationKind.EXPONENTIAL:
            return 0.0
        return self.hours[int(np.argmax(self.light))]


def mean_light(lights: Sequence[float], shares: Sequence[float]) -> float:
    """Return the light of tubes together, each by its share. [fraction]"""
    total = sum(shares)
    return sum(light * share for light, share in zip(lights, shares, strict=True)) / total
