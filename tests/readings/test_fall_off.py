"""How light falls off with depth, and what of that is the water's."""

from __future__ import annotations

import functools
import math

import jerlov
import numpy as np
import pytest

from photoperiod.readings.fall_off import (
    LEAST_ATTENUATION,
    MOST_ATTENUATION,
    Fixture,
    channel_fall_off,
    columns_of,
    fall_off_of,
    light_at_depth,
    report_depths,
)
from photoperiod.readings.faults import Faults
from photoperiod.readings.light_map import LightMap
from photoperiod.readings.model import Readings
from photoperiod.readings.water_surface import line_source
from tests.readings.bench import csv, map_of, told

#: A tube of 1.2 m along the tank, its middle over x = 60 cm.
TUBE = Fixture(height_cm=15.0, length_cm=120.0, middle_x_cm=60.0, tube_y_cm=(30.0,))

DEPTHS = np.array([5.0, 15, 25, 35, 45])


def grid() -> tuple[np.ndarray, ...]:
    """36 points at five depths, as in the example."""
    x, y, z = np.meshgrid(np.linspace(10, 110, 6), np.linspace(5, 55, 6), DEPTHS, indexing="ij")
    return x.ravel(), y.ravel(), z.ravel()


def test_geometry_dominates_near_a_fixture() -> None:
    # REFERENCES: a fixture gives a fitted 3.2 per metre where the water has 0.15; here a tube 10 cm above
    near = Fixture(height_cm=10.0, length_cm=120.0, middle_x_cm=60.0, tube_y_cm=(30.0,))
    x, y, z = grid()
    light = 100 * near.light_at(x, y, z) * np.exp(-0.15 * z / 100)
    apparent = fall_off_of(x, y, z, light, None)
    real = fall_off_of(x, y, z, light, near)
    assert apparent is not None and real is not None
    assert apparent.per_m.value > 1.2 and not apparent.is_attenuation
    assert real.per_m.value == pytest.approx(0.15, abs=1e-9) and real.is_attenuation
    assert (real.columns, real.points) == (36, 180)


@pytest.mark.parametrize(
    ("type", "per_m"),
    # Effective attenuation of D65 over the first half metre, worked out from Jerlov 1976: light.md §3.5
    [("II", 0.193), ("III", 0.241), ("1C", 0.281)],
)
def test_the_attenuation_of_ocean_water_is_found_below_tubes(type: str, per_m: float) -> None:
    # Daylight in water of a Jerlov type by the package jerlov, brought down by tubes
    nm, power = jerlov.d65()
    depths = np.linspace(0.0, 0.5, 11)
    water = jerlov.water(type, source="jerlov1976")
    inside = (nm >= 400) & (nm <= 700)
    left = jerlov.par_profile(power[inside], nm[inside], depths, kd=water, unit="energy").par
    x, y, z = (np.tile(each, 36) for each in (0.0, 0.0, depths * 100))
    x, y = np.repeat(grid()[0][::5], 11), np.repeat(grid()[1][::5], 11)
    found = fall_off_of(x, y, z, TUBE.light_at(x, y, z) * np.tile(left / left[0], 36), TUBE)
    assert found is not None and found.is_attenuation
    assert found.per_m.value == pytest.approx(per_m, rel=0.04)


def test_attenuations_of_all_ocean_waters_are_plausible() -> None:
    # Jerlov 1976, as in the package jerlov: no light of any type of water is called a fault of units
    for type in ("I", "IA", "IB", "II", "III", "1C", "3C", "5C", "7C", "9C"):
        kd = jerlov.water(type, source="jerlov1976").kd(np.arange(400.0, 701, 25))
        known = kd[np.isfinite(kd)]
        if known.size:
            # 9C takes more than 2 per metre of violet: the darkest harbours, no tank
            assert known.min() > LEAST_ATTENUATION
            assert type == "9C" or known.max() < MOST_ATTENUATION


def test_straight_rays_would_call_clear_water_a_lamp() -> None:
    # Refraction is not small: without it, water that takes 0.1 per metre would seem to make light
    near = Fixture(height_cm=22.0, length_cm=115.0, middle_x_cm=60.0, tube_y_cm=(22.0, 38.0))
    x, y, z = grid()
    light = near.light_at(x, y, z) * np.exp(-0.1 * z / 100)
    air = np.zeros(x.size)
    for tube in near.tube_y_cm:
        ends = [(60.0 + side * 57.5 - x) / 100 for side in (-1, 1)]
        air += line_source(*ends, (y - tube) / 100, (22.0 + z) / 100)
    straight = fall_off_of(x, y, z, light / air, None)
    assert straight is not None and straight.per_m.high < -0.3


def test_without_geometry_the_exponential_itself_is_found_again() -> None:
    x, y, z = grid()
    found = fall_off_of(x, y, z, 50 * np.exp(-0.62 * z / 100), None)
    assert found is not None
    # Beer-Lambert; 0.62 per metre as in Kāneʻohe Bay (Jacobson 2005, in REFERENCES)
    assert (found.per_m.value, found.per_m.low, found.per_m.high) == pytest.approx((0.62,) * 3)


class Known(Fixture):
    """A fixture that remembers its light at one set of points."""

    def light_at(self, x_cm: np.ndarray, y_cm: np.ndarray, depth_cm: np.ndarray) -> np.ndarray:
        return _once(self, x_cm.tobytes(), y_cm.tobytes(), depth_cm.tobytes())


@functools.cache
def _once(fixture: Known, *points: bytes) -> np.ndarray:
    return Fixture.light_at(fixture, *(np.frombuffer(each) for each in points))


def test_the_interval_covers_the_truth_at_its_rate_over_a_thousand_seeds() -> None:
    x, y, z = grid()
    two = Known(height_cm=20.0, length_cm=115.0, middle_x_cm=60.0, tube_y_cm=(20.0, 40.0))
    clean = 100 * two.light_at(x, y, z) * np.exp(-0.15 * z / 100)
    covered = 0
    for seed in range(1000):
        noise = np.random.default_rng(seed).normal(0, 0.03, x.size)
        found = fall_off_of(x, y, z, clean * np.exp(noise), two)
        assert found is not None
        covered += found.per_m.low <= 0.15 <= found.per_m.high
    # 95 % ± three standard deviations of a binomial count
    assert covered == pytest.approx(950, abs=21)


def test_places_seen_from_above() -> None:
    x, y = np.array([1.0, 2, 1, 1.01]), np.array([5.0, 5, 6, 5])
    numbers = columns_of(x, y)
    assert numbers[0] == numbers[3]
    assert len(set(numbers.tolist())) == 3


def column(depths: list[float], per_m: float, cm: float = 1.0) -> list[str]:
    return [
        f"{x},10,{z * cm:g},blue,100,{200 * math.exp(-per_m * z / 100):.4f},yes,"
        for x in (10, 20)
        for z in depths
    ]


def told_of(rows: list[str], fixture: Fixture | None = None) -> tuple[Readings, LightMap, Faults]:
    found = map_of(*rows)
    assert found.readings is not None and found.map is not None
    return found.readings, found.map, Faults()


def test_a_plausible_fall_off_is_no_finding() -> None:
    readings, found, faults = told_of(column([5, 15, 25, 40], 2.0))
    told_off = channel_fall_off(readings, found, "blue", None, faults)
    assert told_off is not None and faults == []
    assert told_off.per_m.value == pytest.approx(2.0, rel=1e-3)


@pytest.mark.parametrize("cm", [10, 0.01])
def test_depths_in_another_unit_are_seen(cm: float) -> None:
    # millimetres or metres in the column of centimetres: 2 per metre looks like 0.2 or 200
    rows = column([5, 15, 25, 40], 2.0, cm)
    readings, found, faults = told_of(rows)
    assert channel_fall_off(readings, found, "blue", None, faults) is not None
    assert told(faults, csv(*rows)) == [("PHO915", 2, rows[0].split(",")[2])]


def test_millimetres_are_seen_by_an_impossible_attenuation() -> None:
    x, y, z = grid()
    light = 100 * TUBE.light_at(x, y, z) * np.exp(-0.15 * z / 100)
    rows = [
        f"{a},{b},{c * 10},blue,100,{d:.4f},yes," for a, b, c, d in zip(x, y, z, light, strict=True)
    ]
    readings, found, faults = told_of(rows)
    channel_fall_off(readings, found, "blue", TUBE, faults)
    assert [each.code for each in faults] == ["PHO915"]


@pytest.mark.parametrize("depths", [[5.0], [5.0, 5.0]])
def test_one_depth_tells_nothing(depths: list[float]) -> None:
    readings, found, faults = told_of(column(depths, 2.0))
    assert channel_fall_off(readings, found, "blue", None, faults) is None
    assert [each.code for each in faults] == ["PHO908"]


def test_between_depths_it_interpolates_and_beyond_only_if_told() -> None:
    readings, found, faults = told_of(column([10, 30], 2.0))
    told_off = channel_fall_off(readings, found, "blue", None, faults)
    assert told_off is not None
    inside = light_at_depth(found, "blue", 20, told_off, beyond=False)
    # by hand: 200 e^(−0.4) = 134.06
    assert [each.light for each in inside] == pytest.approx([134.06, 134.06], abs=0.01)
    assert not any(each.is_beyond for each in inside)
    assert light_at_depth(found, "blue", 40, told_off, beyond=False) == []
    below = light_at_depth(found, "blue", 40, told_off, beyond=True)
    # 200 e^(−0.8) = 89.87
    assert [each.light for each in below] == pytest.approx([89.87, 89.87], abs=0.02)
    assert all(each.is_beyond for each in below)


def test_two_units_in_one_column_of_depths_are_seen_at_the_place() -> None:
    mixed = [f"{x},10,{z * cm:g},blue,100,{200 * math.exp(-2 * z / 100):.1f},yes," for x, cm in
             ((10, 1), (50, 10), (90, 1)) for z in (5, 15, 25, 40)]  # fmt: skip
    found = map_of(*mixed)
    assert [each for each in told(found.faults, csv(*mixed)) if each[0] == "PHO915"] == [
        ("PHO915", 6, "50")
    ]
    (message,) = (each.message for each in found.faults if each.code == "PHO915")
    # by hand: centimetres written as millimetres are ten times as large, and fall a tenth as fast
    assert "10 times as slowly" in message and "10 times as large" in message


@pytest.mark.parametrize("height", [2.0, 10.0, 40.0, 120.0])
def test_a_shallow_place_beside_a_deep_one_is_no_doubt(height: float) -> None:
    near = Fixture(height_cm=height, length_cm=120.0, middle_x_cm=60.0, tube_y_cm=(20.0, 40.0))
    rows = []
    for x, depths in ((20, (2, 4, 6)), (60, (5, 20, 35, 55)), (115, (3, 20, 40))):
        z = np.array(depths, dtype=float)
        light = 100 * near.light_at(np.full(z.size, x), np.full(z.size, 25.0), z)
        rows += [f"{x},25,{a:g},blue,100,{b:.2f},yes," for a, b in zip(z, light, strict=True)]
    faults = Faults()
    readings, found, _ = told_of(rows)
    report_depths(readings, found, faults)
    assert faults == []
