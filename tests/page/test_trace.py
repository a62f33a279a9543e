from __future__ import annotations

import re

import numpy as np
import pytest

from photoperiod.page.scales import Scale
from photoperiod.page.trace import (
    SLACK,
    area_path,
    box_path,
    by_minute,
    kept,
    line_path,
    most_by_minute,
    points,
    runs_path,
)

HOURS = Scale(0.0, 24.0, 0.0, 240.0)


def test_the_most_around_a_minute_is_seen() -> None:
    values = np.zeros(86_400)
    values[[0, 3629, 3690, 86_399]] = 1.0, 2.0, 3.0, 4.0
    found = most_by_minute(values)
    assert found.shape == (1441,)
    assert {int(n): float(found[n]) for n in np.flatnonzero(found)} == {0: 1, 60: 2, 62: 3, 1440: 4}


def test_a_day_has_its_minutes_and_its_last_second() -> None:
    values = by_minute(np.arange(86_400, dtype=np.float64))
    assert values.shape == (1441,)
    assert values[[0, 1, 1439, 1440]].tolist() == [0, 60, 86_340, 86_399]


def test_a_straight_line_keeps_its_ends_and_a_corner_is_kept() -> None:
    assert kept(np.linspace(0, 1, 100), 1e-9) == [0, 99]
    corner = np.concatenate((np.linspace(0, 1, 50), np.linspace(1, 0, 50)))
    assert kept(corner, 1e-9) == [0, 49, 50, 99]


@pytest.mark.parametrize("seed", range(5))
def test_what_is_drawn_is_never_off_by_more_than_the_slack(seed: int) -> None:
    values = np.cumsum(np.random.default_rng(seed).normal(size=1441))
    indices = kept(values, 0.5)
    drawn = np.interp(np.arange(1441), indices, values[indices])
    assert np.abs(drawn - values).max() <= 0.5
    assert len(indices) < 1441


def test_points_of_a_curve_stand_where_the_scales_say() -> None:
    values = np.interp(np.arange(1441), (0, 540, 720, 1440), (0.0, 0.0, 1.0, 1.0))
    y = Scale(0.0, 1.0, 100.0, 0.0)
    assert points(values, HOURS, y) == [(0, 100), (90, 100), (120, 0), (240, 0)]
    assert SLACK < 0.5, "less than half a thin line"


def test_paths_are_written_short() -> None:
    assert line_path([(0, 1), (2.25, 3)]) == "M0 1L2.2 3"
    assert line_path([]) == ""
    assert area_path([(0, 1), (2, 1)], [(0, 0), (2, 0)]) == "M0 1L2 1L2 0L0 0Z"
    assert box_path(1, 2, 3, 4) == "M1 2h3v4h-3Z"


def test_a_box_ends_where_the_next_begins() -> None:
    # By hand: edges at 0.24, 0.48 and 0.72 are written 0.2, 0.5 and 0.7.
    assert box_path(0.24, 0.24, 0.24, 0.24) == "M0.2 0.2h0.3v0.3h-0.3Z"
    assert box_path(0.48, 0.48, 0.24, 0.24) == "M0.5 0.5h0.2v0.2h-0.2Z"


def test_runs_are_boxes_over_the_time_in_which_something_holds() -> None:
    mask = np.zeros(86_400, dtype=bool)
    mask[:3600] = mask[-7200:] = True
    found = runs_path(mask, HOURS, 5, 2)
    assert re.findall(r"M(\S+) 5h(\S+?)v2", found) == [("0", "10"), ("220", "20")]
