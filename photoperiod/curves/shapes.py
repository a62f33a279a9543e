"""Ramp shapes: how light rises from a lower to a higher level, and the integrals in closed form."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from photoperiod.arrays import Floats, np
from photoperiod.units import CIE_KAPPA


class Shape(StrEnum):
    """How a ramp rises from the lower to the higher light, with p from 0 to 1."""

    LINEAR = "linear"
    SINE = "sine"  # sin(πp/2)
    SMOOTH = "smooth"  # (1 − cos πp)/2
    PERCEPTUAL = "perceptual"  # even steps of CIE 1976 lightness L* from one level to the other


class Rise(Protocol):
    """A rise of light from a lower to a higher level; levels are fractions of full light."""

    def light(self, p: Floats, low: float, high: float) -> Floats:
        """Return the light at shares p of the time that the rise takes. [fraction of full]"""
        ...

    def integral(self, p: float, q: float, low: float, high: float) -> float:
        """Return the integral of light from share p to share q of the time. [share of that time]"""
        ...


@dataclass(frozen=True, slots=True)
class ScaledRise:
    """A rise that looks the same between any two levels: low + (high − low) f(p).

    Parameters
    ----------
    share : callable
        f, which rises from 0 to 1 over p = 0..1.
    area : callable
        The integral of f from 0 to p.
    """

    share: Callable[[Floats], Floats]
    area: Callable[[float], float]

    def light(self, p: Floats, low: float, high: float) -> Floats:
        """Return the light at shares p of the time that the rise takes. [fraction of full]"""
        return low + (high - low) * self.share(p)

    def integral(self, p: float, q: float, low: float, high: float) -> float:
        """Return the integral of light from share p to share q of the time. [share of that time]"""
        return low * (q - p) + (high - low) * (self.area(q) - self.area(p))


@dataclass(frozen=True, slots=True)
class EvenLightnessRise:
    """A rise in even steps of CIE 1976 lightness L*, full light being L* = 100.

    Its form depends on both levels: the eye sees a step near dark better than the same step near
    full light. So it is not a rise from 0 to 1 that is scaled.
    """

    def light(self, p: Floats, low: float, high: float) -> Floats:
        """Return the light at shares p of the time that the rise takes. [fraction of full]"""
        first, last = _lightness(low), _lightness(high)
        lightness = first + (last - first) * p
        cube, line = ((lightness + 16.0) / 116.0) ** 3, lightness / CIE_KAPPA
        # Rounding of the cube root must not lift the light over a level that a limit was held to.
        return np.clip(np.where(lightness > LIGHTNESS_OF_KINK, cube, line), low, high)

    def integral(self, p: float, q: float, low: float, high: float) -> float:
        """Return the integral of light from share p to share q of the time. [share of that time]"""
        first, last = _lightness(low), _lightness(high)
        begin, end = first + (last - first) * p, first + (last - first) * q
        if begin >= LIGHTNESS_OF_KINK:
            return (q - p) * _mean_of_cube(begin, end)
        if end <= LIGHTNESS_OF_KINK:
            return (q - p) * _mean_of_line(begin, end)
        below = (LIGHTNESS_OF_KINK - begin) / (end - begin)
        return (q - p) * (
            below * _mean_of_line(begin, LIGHTNESS_OF_KINK)
            + (1.0 - below) * _mean_of_cube(LIGHTNESS_OF_KINK, end)
        )


#: CIE 1976 lightness L* is a line of light below this, and follows its cube root above.
LIGHTNESS_OF_KINK = 8.0


def _lightness(light: float) -> float:
    """Return CIE 1976 lightness L* of a light, 0 to 100. [fraction of full]"""
    line = CIE_KAPPA * light
    return line if line <= LIGHTNESS_OF_KINK else 116.0 * math.cbrt(light) - 16.0


def _mean_of_line(first: float, last: float) -> float:
    """Return the mean light between two lightnesses below the kink."""
    return 0.5 * (first + last) / CIE_KAPPA


def _mean_of_cube(first: float, last: float) -> float:
    """Return the mean light between two lightnesses above the kink.

    It is (v⁴ − u⁴) / (4 (v − u)) with u and v the cube roots of light, written so that nothing is
    lost where the two are nearly equal.
    """
    u, v = (first + 16.0) / 116.0, (last + 16.0) / 116.0
    return 0.25 * (u + v) * (u * u + v * v)


def _linear(p: Floats) -> Floats:
    return p


def _sine(p: Floats) -> Floats:
    return np.sin(0.5 * math.pi * p)


def _smooth(p: Floats) -> Floats:
    return 0.5 * (1.0 - np.cos(math.pi * p))


def _linear_integral(p: float) -> float:
    return 0.5 * p * p


def _sine_integral(p: float) -> float:
    return (1.0 - math.cos(0.5 * math.pi * p)) * 2.0 / math.pi


def _smooth_integral(p: float) -> float:
    return 0.5 * p - math.sin(math.pi * p) / (2.0 * math.pi)


#: How light rises by each shape.
RISES: dict[Shape, Rise] = {
    Shape.LINEAR: ScaledRise(_linear, _linear_integral),
    Shape.SINE: ScaledRise(_sine, _sine_integral),
    Shape.SMOOTH: ScaledRise(_smooth, _smooth_integral),
    Shape.PERCEPTUAL: EvenLightnessRise(),
}
