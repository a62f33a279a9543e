"""Ramp shapes: how light rises from 0 to 1, and the integrals in closed form."""

from __future__ import annotations

import math
from collections.abc import Callable
from enum import StrEnum

from photoperiod.arrays import Floats, np
from photoperiod.units import CIE_KAPPA


class Shape(StrEnum):
    """How a ramp rises from the lower to the higher light, with p from 0 to 1."""

    LINEAR = "linear"
    SINE = "sine"  # sin(πp/2)
    SMOOTH = "smooth"  # (1 − cos πp)/2
    PERCEPTUAL = "perceptual"  # even steps of CIE 1976 lightness


def _linear(p: Floats) -> Floats:
    return p


def _sine(p: Floats) -> Floats:
    return np.sin(0.5 * math.pi * p)


def _smooth(p: Floats) -> Floats:
    return 0.5 * (1.0 - np.cos(math.pi * p))


def _perceptual(p: Floats) -> Floats:
    lightness = 100.0 * p
    return np.where(lightness > 8.0, ((lightness + 16.0) / 116.0) ** 3, lightness / CIE_KAPPA)


def _linear_integral(p: float) -> float:
    return 0.5 * p * p


def _sine_integral(p: float) -> float:
    return (1.0 - math.cos(0.5 * math.pi * p)) * 2.0 / math.pi


def _smooth_integral(p: float) -> float:
    return 0.5 * p - math.sin(math.pi * p) / (2.0 * math.pi)


def _perceptual_integral(p: float) -> float:
    foot = min(p, 0.08)
    below = 50.0 * foot * foot / CIE_KAPPA
    if p <= 0.08:
        return below
    return below + 0.29 * (((100.0 * p + 16.0) / 116.0) ** 4 - (24.0 / 116.0) ** 4)


#: Ramp shapes: f rising from 0 to 1 over p = 0..1, and its integral from 0 to p.
#: ``perceptual`` is the inverse of CIE 1976 lightness, with p = L*/100.
SHAPES: dict[Shape, tuple[Callable[[Floats], Floats], Callable[[float], float]]] = {
    Shape.LINEAR: (_linear, _linear_integral),
    Shape.SINE: (_sine, _sine_integral),
    Shape.SMOOTH: (_smooth, _smooth_integral),
    Shape.PERCEPTUAL: (_perceptual, _perceptual_integral),
}
