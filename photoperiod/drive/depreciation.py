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
    measured_to_h : float or None
        The lit hours up to which readings of such tubes tell it, 0 if they show no loss; None where it was
        not measured but taken from elsewhere. [h]
    """

    kind: DepreciationKind
    loss_per_1000_h: float = 0.0
    hours: tuple[float, ...] = ()
    light: tuple[float, ...] = ()
    measured_to_h: float | None = None

    def light_at(self, lit_hours: float) -> float:
        """Return the light of a tube after some lit hours. [fraction of the declared light]"""
        if self.kind == DepreciationKind.EXPONENTIAL:
            alpha_per_h = -math.log1p(-self.loss_per_1000_h) / 1000.0
            return math.exp(-alpha_per_h * (lit_hours - DECLARED_AT_H))
        return float(np.interp(lit_hours, self.hours, self.light))

    def mean_light(self, from_hours: float, to_hours: float) -> float:
        """Return the mean light between two moments of a tube's life, told in lit hours. [ratio]

        Of an exponential curve from its first hour it is (1 − e^(−αT))/(αT), times the light then.
        """
        length = to_hours - from_hours
        if length <= 0:
            return self.light_at(from_hours)
        if self.kind == DepreciationKind.EXPONENTIAL:
            if self.loss_per_1000_h <= 0:
                return 1.0
            alpha_per_h = -math.log1p(-self.loss_per_1000_h) / 1000.0
            fall = self.light_at(from_hours) - self.light_at(to_hours)
            return fall / (alpha_per_h * length)
        inside = [h for h in self.hours if from_hours < h < to_hours]
        at = np.array([from_hours, *inside, to_hours])
        light = np.interp(at, self.hours, self.light)
        return float(np.sum((light[1:] + light[:-1]) / 2 * np.diff(at))) / length

    def hours_at(self, light: float) -> float | None:
        """Return the lit hours from which the light is below a share of the declared one.

        None if it never is, or only later than readings tell. [h]
        """
        if self.kind == DepreciationKind.EXPONENTIAL:
            if self.loss_per_1000_h <= 0:
                return None
            hours = DECLARED_AT_H + 1000.0 * math.log(light) / math.log1p(-self.loss_per_1000_h)
        else:
            below = [at for at, each in enumerate(self.light) if each < light]
            if not below:
                return None
            at = below[0]
            if at == 0:
                return 0.0
            (h0, h1), (l0, l1) = self.hours[at - 1 : at + 1], self.light[at - 1 : at + 1]
            hours = h0 + (h1 - h0) * (l0 - light) / (l0 - l1)
        if self.measured_to_h is not None and hours > self.measured_to_h:
            return None
        return max(hours, 0.0)

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
