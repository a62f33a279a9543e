"""The shapes of ramps written a second time, and integrals by quadrature."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np

#: Closed forms against 40-point Gauss-Legendre quadrature of analytic pieces: both are exact to
#: rounding [relative to the length of the ramp].
QUADRATURE_TOLERANCE = 1e-12

#: 24389/27, the exact form of the 903.3 of CIE 1976 lightness, as in the documentation of the
#: colour-science library.
KAPPA = 24_389 / 27


def inverse_lightness(p: float) -> float:
    """Y for L* = 100 p by the definition of CIE 1976 lightness: cube above L* = 8, line below."""
    lightness = 100 * p
    return ((lightness + 16) / 116) ** 3 if lightness > 8 else lightness / KAPPA


def lightness(y: float) -> float:
    """L* of Y by the definition of CIE 1976 lightness: cube root above Y = (6/29)³, line below."""
    return 116 * y ** (1 / 3) - 16 if y > (6 / 29) ** 3 else KAPPA * y


def even_lightness(p: float, low: float, high: float) -> float:
    """Y at share p of an even way in L* from one light to another."""
    return inverse_lightness((lightness(low) + p * (lightness(high) - lightness(low))) / 100)


def scaled(f: Callable[[float], float]) -> Callable[[float, float, float], float]:
    """A rise from low to high as the language defines it for all shapes but `perceptual`."""
    return lambda p, low, high: low + (high - low) * f(p)


#: Light at share p of a rise between two lights, as the language defines the shapes, written again.
FORMULAS: dict[str, Callable[[float, float, float], float]] = {
    "linear": scaled(lambda p: p),
    "sine": scaled(lambda p: math.sin(math.pi * p / 2)),
    "smooth": scaled(lambda p: (1 - math.cos(math.pi * p)) / 2),
    "perceptual": even_lightness,
}
SHAPE_NAMES = sorted(FORMULAS)


def kink_share(low: float, high: float) -> float:
    """Share of the time of a `perceptual` rise at which it passes L* = 8; outside 0..1 if it does not."""
    if low == high:
        return -1.0
    return (8 - lightness(low)) / (lightness(high) - lightness(low))


NODES, WEIGHTS = np.polynomial.legendre.leggauss(40)


def quadrature(f: Callable[[float], float], low: float, high: float, *kinks: float) -> float:
    """∫f by Gauss-Legendre, piece by piece between the kinks."""
    ends = [low, *(k for k in kinks if low < k < high), high]
    total = 0.0
    for a, b in itertools.pairwise(ends):
        points = (a + b) / 2 + (b - a) / 2 * NODES
        total += (b - a) / 2 * sum(w * f(float(x)) for w, x in zip(WEIGHTS, points, strict=True))
    return total
