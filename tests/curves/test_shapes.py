"""Ramp shapes against their formulas, quadrature, and the CIE 1976 lightness."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.curves.segment import Segment
from photoperiod.curves.shapes import SHAPES, Shape
from tests.curves.formulas import FORMULAS, QUADRATURE_TOLERANCE, SHAPE_NAMES, quadrature

#: L* is printed with seven decimals; a step of L* is worth at most 0.007 of Y in the range tested.
LIGHTNESS_TOLERANCE = 1e-9


def at(ramp: Segment, second: float) -> float:
    return float(ramp.light(np.array([second]))[0])


def test_every_shape_of_the_package_is_known_here() -> None:
    assert set(SHAPES) == set(FORMULAS) == set(Shape)


@pytest.mark.parametrize("shape", SHAPE_NAMES)
def test_the_closed_integral_is_the_quadrature_of_the_formula(shape: str) -> None:
    area = SHAPES[shape][1]
    for p in (0.0, 0.01, 0.05, 0.079999, 0.08, 0.080001, 0.1, 0.25, 0.5, 0.75, 0.999, 1.0):
        wanted = quadrature(FORMULAS[shape], 0.0, p, 0.08) if p else 0.0
        assert area(p) == pytest.approx(wanted, abs=QUADRATURE_TOLERANCE)


@pytest.mark.parametrize(
    ("luminance_percent", "lightness"),
    [
        # colour-science documentation, lightness_CIE1976 (v0.4.3 and v0.3.11)
        (12.19722535, 41.5278758),
        (10.08, 37.9856290),
    ],
)
def test_the_perceptual_shape_is_the_inverse_of_cie_1976_lightness(
    luminance_percent: float, lightness: float
) -> None:
    ramp = Segment(0, 100, 0.0, 1.0, "perceptual")  # at second L* of a ramp of 100 s stands Y
    assert at(ramp, lightness) == pytest.approx(luminance_percent / 100, abs=LIGHTNESS_TOLERANCE)


def test_the_perceptual_shape_has_no_jump_at_lightness_eight() -> None:
    ramp = Segment(0, 100, 0.0, 1.0, "perceptual")
    nearly, width = 1e-9, 8.0
    jump = at(ramp, 8 + nearly) - at(ramp, 8 - nearly)
    assert abs(jump) < 1e-9
    # With the 902.3 of a widely copied listing there would be one.
    assert abs(((8 + 16) / 116) ** 3 - width / 902.3) > 9e-6


def test_the_foot_of_the_perceptual_shape_has_the_published_constant() -> None:
    # L* = 903.3 Y for small Y, as in the documentation of the colour-science library.
    ramp = Segment(0, 100, 0.0, 1.0, "perceptual")
    for lightness in (1.0, 4.0, 7.9):
        assert lightness / at(ramp, lightness) == pytest.approx(903.3, abs=0.05)
