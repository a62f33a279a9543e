"""A grid to measure on."""

from __future__ import annotations

import pytest

from photoperiod.readings.grid import (
    LEAST_POINTS,
    even_depths,
    grid_csv,
    grid_sheet,
    measuring_grid,
    spacing_cm,
)
from photoperiod.readings.reader import read_readings


@pytest.mark.parametrize(
    ("side_m", "metres"),
    # p = 0.2 · 5^log10(d), EN 12464-1, computed by hand; 1, 10 and 100 m are exact: 0.2, 1 and 5 m
    [(1, 0.2), (10, 1), (100, 5), (0.6, 0.1399), (1.2, 0.2272), (2, 0.3247)],
)
def test_the_spacing_is_that_of_the_standard(side_m: float, metres: float) -> None:
    assert spacing_cm(100 * side_m) == pytest.approx(100 * metres, abs=0.01)


@pytest.mark.parametrize(
    ("side_m", "points"),
    # the standard's own rounded table: 1 m 5, 2 m 6, 5 m 8, 10 m 10 points
    [(1, 5), (2, 6), (5, 8), (10, 10)],
)
def test_so_many_points_as_in_the_table_of_the_standard(side_m: float, points: int) -> None:
    assert len(measuring_grid(100 * side_m, 100 * side_m, (10,)).x_cm) == points


def test_a_tank_by_hand() -> None:
    # p of 120 cm is 22.72 cm: 120/22.72 = 5.3, so 5 points; 50/22.72 = 2.2, but 3 at least
    grid = measuring_grid(120, 50, even_depths(55, 5))
    assert grid.x_cm == (12, 36, 60, 84, 108)
    assert grid.y_cm == (8.3, 25, 41.7)
    assert grid.depth_cm == (6, 17, 28, 39, 50)  # 5.5, 16.5, … 49.5, in whole cm
    assert grid.size == 75
    assert LEAST_POINTS == 3


def test_one_depth_is_the_middle() -> None:
    assert even_depths(40, 1) == (20,)


def test_the_csv_is_read_back_when_it_is_filled_in() -> None:
    grid = measuring_grid(60, 40, (5, 20))
    text = grid_csv(grid, ("blue", "white"))
    assert text.count("\r\n") == 1 + 2 * grid.size
    readings, faults = read_readings("x.csv", text.encode(), "map")
    assert readings is None
    assert {each.message for each in faults} <= {
        "`ppfd_umol_m2_s` is empty", "'' is neither yes nor no",
    }  # fmt: skip
    filled = text.replace(",100,,,,", ",100,130,,yes,2027-02-20")
    readings, faults = read_readings("x.csv", filled.encode(), "map")
    assert readings is not None and not faults.has_errors
    assert len(readings) == 2 * grid.size
    assert sorted(set(readings.x_cm.tolist())) == list(grid.x_cm)


def test_the_sheet_has_a_blank_for_each_point() -> None:
    grid = measuring_grid(60, 40, (5, 20))
    sheet = grid_sheet(grid, ("blue", "white"))
    assert sheet.count(" ______") == 2 * grid.size + 4  # and four dates
    assert max(map(len, sheet.splitlines())) < 100
