"""Ramp shapes against their formulas, quadrature, and the CIE 1976 lightness."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from photoperiod.curves.segment import Segment
from photoperiod.curves.shapes import RISES, Shape
from tests.curves.formulas import (
    FORMULAS,
    QUADRATURE_TOLERANCE,
    SHAPE_NAMES,
    kink_share,
    lightness,
    quadrature,
)

#: L* is printed with seven decimals; a step of L* is worth at most 0.007 of Y in the range tested.
LIGHTNESS_TOLERANCE = 1e-9


def at(ramp: Segment, second: float) -> float:
    return float(ramp.light(np.array([second]))[0])


def test_every_shape_of_the_package_is_known_here() -> None:
    assert set(RISES) == set(FORMULAS) == set(Shape)


@pytest.mark.parametrize("shape", SHAPE_NAMES)
@pytest.mark.parametrize(
    ("low", "high"),
    [(0.0, 1.0), (0.0, 0.1), (0.002, 0.008), (0.005, 0.3), (0.1, 0.9), (0.4, 0.4001)],
)
def test_the_closed_integral_is_the_quadrature_of_the_formula(
    shape: str, low: float, high: float
) -> None:
    shares = (0.0, 0.01, 0.05, 0.079999, 0.08, 0.080001, 0.1, 0.25, 0.5, 0.75, 0.999, 1.0)
    for p, q in itertools.combinations(shares, 2):
        wanted = quadrature(lambda x: FORMULAS[shape](x, low, high), p, q, kink_share(low, high))
        assert RISES[Shape(shape)].integral(p, q, low, high) == pytest.approx(
            wanted, abs=QUADRATURE_TOLERANCE
        )


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
    for foot in (1.0, 4.0, 7.9):
        assert foot / at(ramp, foot) == pytest.approx(903.3, abs=0.05)


#: Light half way and mean light of a rise that is even in L* [fraction of full], by hand from
#: L* = 116 Y^(1/3) − 16 and its inverse (CIE 1976). 10 % is L* 37.842, 70 % is 86.997, 90 % is 95.997:
#: half way from dark to 70 % is L* 43.498, and ((43.498 + 16)/116)³ = 0.13494. A rise from 0 to 1 that
#: is scaled would give 0.7 × 0.18419 = 0.12893 there, 4.5 % too little.
HALF_WAY = [(0.0, 0.7, 0.13494), (0.0, 0.1, 0.027282), (0.1, 0.9, 0.36526)]


@pytest.mark.parametrize(("low", "high", "half_way"), HALF_WAY)
def test_half_way_between_two_levels_is_half_way_in_lightness(
    low: float, high: float, half_way: float
) -> None:
    for ramp in (
        Segment(0, 100, low, high, Shape.PERCEPTUAL),
        Segment(0, 100, high, low, Shape.PERCEPTUAL),
    ):
        assert at(ramp, 50.0) == pytest.approx(half_way, rel=5e-5)


@pytest.mark.parametrize(("low", "high"), [(0.0, 0.05), (0.003, 0.7), (0.1, 0.9), (0.5, 0.51)])
def test_every_minute_of_a_perceptual_ramp_is_the_same_step_of_lightness(
    low: float, high: float
) -> None:
    ramp = Segment(0, 3600, low, high, Shape.PERCEPTUAL)
    steps = np.diff([lightness(at(ramp, minute * 60.0)) for minute in range(61)])
    assert steps == pytest.approx((lightness(high) - lightness(low)) / 60, abs=1e-9)


def test_four_hours_from_a_tenth_to_nine_tenths_give_their_dose() -> None:
    # By hand: u = (37.842 + 16)/116 = 0.46416 and v = (95.997 + 16)/116 = 0.96549 are the cube roots
    # of 0.1 and 0.9, and the mean of the cube between them is (u + v)(u² + v²)/4 = 0.41017: 1.6407 h.
    ramp = Segment(0, 4 * 3600, 0.1, 0.9, Shape.PERCEPTUAL)
    assert ramp.integral(0, 4 * 3600) / 3600 == pytest.approx(1.6407, abs=5e-5)


@pytest.mark.parametrize("high", [0.35, 0.7, 0.8, 0.937, 1.0])
def test_rounding_never_lifts_light_over_the_higher_level(high: float) -> None:
    ramp = Segment(0, 7200, 0.013, high, Shape.PERCEPTUAL)
    light = ramp.light(np.linspace(0.0, 7200.0, 72_001))
    assert light.max() <= high
    assert light.min() >= 0.013
