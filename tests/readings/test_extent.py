from __future__ import annotations

import pytest

from photoperiod.readings.extent import Box, PointList, Statistic


def test_the_words_are_those_of_the_schedule() -> None:
    assert [str(each) for each in Statistic] == ["mean", "least", "most"]


@pytest.mark.parametrize(
    "extent",
    [Box(x_cm=(0, 1), y_cm=(0, 1), depth_cm=(0, 1)), PointList(points=((1.0, 2.0, 3.0),))],
)
def test_extents_are_values(extent: Box | PointList) -> None:
    assert hash(extent) == hash(type(extent)(**{k: getattr(extent, k) for k in extent.__slots__}))
