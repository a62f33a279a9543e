"""Light through a flat surface: Fresnel, Snell, apparent depth, and no photon made or lost."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad, quad
from scipy.optimize import brentq

from photoperiod.readings.water_surface import SEA_WATER, line_source, reflected, tube_under_water


def under(x: float, y: float, depth: float, *, height: float = 0.2, length: float = 1.2, index: float = SEA_WATER) -> float:  # fmt: skip # noqa: E501
    """Return E/I′ at a point, of a tube whose middle is over (0, 0). [m, 1/m]"""
    one = np.array([0.0])
    half = length / 2
    return float(
        tube_under_water(one - half - x, one + half - x, one + y, height, one + depth, index)[0]
    )


@pytest.mark.parametrize(
    ("degrees", "percent"),
    # Fresnel's equations, n = 1.34; handbook values in REFERENCES and light.md §3.6
    [(0, 2.111), (30, 2.22), (40, 2.53), (50, 3.47), (60, 6.10), (70, 13.5), (80, 35.0)],
)
def test_what_the_surface_reflects(degrees: float, percent: float) -> None:
    share = float(reflected(np.array(math.cos(math.radians(degrees)))))
    assert share * 100 == pytest.approx(percent, abs=0.06)


def test_what_it_reflects_of_light_from_all_sides() -> None:
    # 6.75 % at n = 1.34, 6.64 % at 1.333: light.md §3.6
    for index, percent in ((1.34, 6.75), (1.333, 6.64)):
        whole, _ = quad(lambda c, n=index: 2 * c * float(reflected(np.array(c), n)), 0, 1)
        assert whole * 100 == pytest.approx(percent, abs=0.01)


@pytest.mark.parametrize(
    ("metres", "expected"),
    # E/I′ below the centre of a tube of 1.2 m: reference light.md §7, from (θ + sin θ cos θ)/d
    [
        (0.05, 31.41),
        (0.1, 15.68),
        (0.2, 7.745),
        (0.3, 5.024),
        (0.4, 3.611),
        (0.6, 2.142),
        (1.2, 0.7197),
    ],
)
def test_the_light_of_a_tube_below_its_centre(metres: float, expected: float) -> None:
    one = np.array([0.6])
    light = line_source(-one, one, np.array([0.0]), np.array([metres]))[0]
    assert light == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize("at", [(60, 30, 20), (10, 5, 15), (110, 55, 45), (0, 30, 3)])
def test_the_closed_form_is_the_integral_along_the_tube(at: tuple[float, float, float]) -> None:
    # Each piece dt of the tube: I′ cos α / R² × cos of the angle of incidence, sin along the tube for α
    x, y, below = (value / 100 for value in at)

    def piece(t: float) -> float:
        distance = math.sqrt((t - x) ** 2 + (y - 0.3) ** 2 + below**2)
        across = math.hypot(y - 0.3, below)
        return across / distance * below / distance / distance**2

    whole, _ = quad(piece, 0.0, 1.2)
    one = np.array([0.0])
    given = line_source(one - x, one + 1.2 - x, one + y - 0.3, one + below)
    assert given[0] == pytest.approx(whole, rel=1e-8)


@pytest.mark.parametrize("at", [(0.0, 0.0, 0.1), (0.5, 0.25, 0.3), (-0.7, 0.1, 0.55)])
def test_without_water_it_is_the_closed_form(at: tuple[float, float, float]) -> None:
    x, y, depth = at
    one = np.array([0.0])
    air = line_source(one - 0.6 - x, one + 0.6 - x, one + y, one + 0.2 + depth)[0]
    assert under(*at, index=1.0) == pytest.approx(air, rel=1e-12)


def test_water_makes_a_lamp_seem_higher() -> None:
    # Apparent depth: straight below, z counts as z/n (Hecht, Optics; from memory), so that light falls as
    # 1/(h + z/n)² from a short lamp; 1 − 2.111 % gets through
    for depth in (0.05, 0.2, 0.6):
        light = under(0, 0, depth, height=0.4, length=0.001)
        by_hand = 0.001 * (1 - 0.02111) / (0.4 + depth / SEA_WATER) ** 2
        assert light == pytest.approx(by_hand, rel=1e-4)


@pytest.mark.parametrize(
    "at", [(0.0, 0.0, 0.06), (0.3, 0.2, 0.3), (0.55, -0.25, 0.5), (0.9, 0.4, 0.5)]
)
def test_against_single_rays_of_a_solver(at: tuple[float, float, float]) -> None:
    # An independent way: for each piece the angle by root finding, and the light of a ring by differences
    x, y, depth = at

    def lands(angle: float) -> float:
        return 0.2 * math.tan(angle) + depth * math.tan(math.asin(math.sin(angle) / SEA_WATER))

    def piece(t: float) -> float:
        s = math.hypot(t - x, y)
        angle = brentq(lambda a: lands(a) - s, 0, math.pi / 2 - 1e-9, xtol=1e-14)
        d = 1e-6
        low, high = max(angle - d, 0), angle + d
        ring = (lands(high) ** 2 - lands(low) ** 2) / 2
        c, ci = math.cos(angle), math.sqrt(1 - (math.sin(angle) / SEA_WATER) ** 2)
        rs, rp = ((c - 1.34 * ci) / (c + 1.34 * ci)) ** 2, ((1.34 * c - ci) / (1.34 * c + ci)) ** 2
        along = math.sin(angle) * (t - x) / s if s else 0.0
        through = 1 - (rs + rp) / 2
        return math.sqrt(1 - along**2) * through * (math.cos(low) - math.cos(high)) / ring

    whole, _ = quad(piece, -0.6, 0.6, points=[x], limit=200)
    assert under(*at) == pytest.approx(whole, rel=2e-4)


def test_no_photon_is_made_or_lost() -> None:
    # All light of a short lamp that gets through the surface falls on a wide plane below it.
    # ∫ I(1 − R) dω over the half below: I is the cosine to the axis, I′ = 1 per metre
    def of_source(c: float, phi: float) -> float:
        to_axis = math.sqrt(1 - c * c) * math.cos(phi)
        return math.sqrt(1 - to_axis**2) * (1 - float(reflected(np.array(c))))

    source, _ = dblquad(of_source, 0, 2 * math.pi, 0, 1, epsabs=1e-4, epsrel=1e-4)
    # On the plane in rings out to where light is no longer of weight; a tube of 1 mm
    radii = np.concatenate([np.linspace(0, 2, 600), np.geomspace(2.001, 2000, 800)])
    light = np.zeros(radii.size)
    # half of a turn: the other half is its mirror
    angles = (np.arange(6) + 0.5) * 2 * math.pi / 12
    for phi in angles:
        x, y = radii * math.cos(phi), radii * math.sin(phi)
        light += tube_under_water(-0.0005 - x, 0.0005 - x, y, 0.2, np.full(radii.size, 0.3)) / 6
    plane = float(np.trapezoid(light * 2 * math.pi * radii, radii))
    assert plane / 0.001 == pytest.approx(source, rel=2e-3)


def test_a_tube_on_the_water_lights_a_narrow_window_only() -> None:
    # Snell: beyond asin(1/1.34) = 48.27° under water no ray from the air arrives (light.md §3.6)
    depth, edge = 0.3, 0.3 * math.tan(math.asin(1 / 1.34))
    assert under(0, edge * 0.95, depth, height=1e-6, length=0.001) > 0
    assert under(0, edge * 1.05, depth, height=0.0, length=0.001) == 0
