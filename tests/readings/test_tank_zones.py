"""Mean, least, most and uniformity of zones."""

from __future__ import annotations

import pytest

from photoperiod.readings.extent import Box, PointList, Statistic
from photoperiod.readings.tank_zones import (
    light_of_points,
    points_inside,
    points_not_told,
    zone_light,
)
from tests.readings.bench import good_map

FOUND = good_map(
    "10,10,5,blue,100,100,yes,", "20,10,5,blue,100,120,yes,", "30,10,5,blue,100,80,yes,",
    "10,10,25,blue,100,40,yes,", "10,10,5,white,100,60,yes,",
)  # fmt: skip
TOP = Box(x_cm=(10, 30), y_cm=(0, 20), depth_cm=(0, 10))


def test_a_zone_by_hand() -> None:
    light = zone_light(FOUND, "blue", "crest", TOP)
    assert light is not None
    assert (light.mean, light.least, light.most, light.points) == (100, 80, 120, 3)
    # U0 = Emin/Eavg, EN 12464-1
    assert light.uniformity == pytest.approx(0.8)
    assert [light.value(each) for each in Statistic] == [100, 80, 120]


def test_a_channel_counts_only_where_it_was_read() -> None:
    light = zone_light(FOUND, "white", "crest", TOP)
    assert light is not None and light.points == 1


@pytest.mark.parametrize(
    ("extent", "expected"),
    [
        (TOP, [True, True, True, False]),
        (Box(x_cm=(11, 29), y_cm=(0, 20), depth_cm=(0, 50)), [False, True, False, False]),
        (None, [False] * 4),
    ],
)
def test_which_points_are_inside(extent: Box | None, expected: list[bool]) -> None:
    assert points_inside(FOUND, "crest", extent).tolist() == expected


def test_points_of_a_list_that_were_not_read() -> None:
    extent = PointList(points=((20, 10, 5), (21.1, 10, 5)))
    assert points_not_told(FOUND, "blue", extent) == [(21.1, 10, 5)]
    assert points_not_told(FOUND, "white", extent) == list(extent.points)
    assert points_not_told(FOUND, "blue", TOP) == ()
    light = zone_light(FOUND, "blue", "crest", PointList(points=((20, 10, 5), (10, 10, 25.9))))
    assert light is not None and (light.mean, light.between) == (80, 0)


def test_a_point_between_two_depths_is_interpolated_and_one_beyond_is_not() -> None:
    # by hand: 100 at 5 cm and 40 at 25 cm; half way √(100 × 40) = 63.2
    light = zone_light(FOUND, "blue", "crest", PointList(points=((10, 10, 15),)))
    assert light is not None
    assert (light.mean, light.between) == (pytest.approx(63.246, abs=1e-3), 1)
    beyond = PointList(points=((10, 10, 30), (10, 10, 2)))
    assert points_not_told(FOUND, "blue", beyond) == list(beyond.points)
    assert zone_light(FOUND, "blue", "crest", beyond) is None
    # followed with 4 per metre: 40 e^(−0.2) = 32.75 below, 100 e^(0.12) = 112.75 above
    assert points_not_told(FOUND, "blue", beyond, 4.0) == []
    light = zone_light(FOUND, "blue", "crest", beyond, 4.0)
    assert light is not None and (light.between, light.beyond) == (0, 2)
    assert (light.least, light.most) == pytest.approx((32.75, 112.75), abs=0.01)


def test_a_zone_by_the_name_in_the_file() -> None:
    found = good_map("crest,blue,100,100,yes", "sand,blue,100,50,yes", "crest,blue,100,140,yes",
                     head="zone,channel,level_percent,ppfd_umol_m2_s,immersion_applied")  # fmt: skip
    light = zone_light(found, "blue", "crest", None)
    assert light is not None and (light.mean, light.points) == (120, 2)
    assert points_inside(found, "crest", TOP).tolist() == [False] * 3  # they have no position


def test_no_points_are_no_light_and_darkness_is_even() -> None:
    assert zone_light(FOUND, "blue", "crest", None) is None
    dark = good_map("1,1,1,blue,100,0,yes,")
    light = light_of_points(dark, "blue", dark.known("blue"))
    assert light is not None and light.uniformity == 1
