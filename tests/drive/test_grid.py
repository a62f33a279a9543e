"""Grids of times and levels."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, Row, TimeGrid
from tests.conftest import drawn

DAY = 86_400

#: Volts of counts computed in two ways in double precision.
ROUNDING_TOLERANCE = 1e-9
#: Levels printed with three decimals [%].
LEVEL_TOLERANCE = 0.0005

quick = settings(max_examples=drawn(200))

NOMINAL = Converter.nominal(12, 10.0, 10.0)
CALIBRATED = Converter.two_point(12, (410, 1.062), (3686, 9.486), 10.0)


def levels(unit: str, step: str = "1") -> LevelGrid:
    return LevelGrid(unit=unit, step=Fraction(step), every_seconds=1, rounding="half-up")


def grid(step_s: int) -> TimeGrid:
    return TimeGrid(step_s=step_s, between="line", after_last_row="wrap")


# Times --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("step_s", "second", "nearest"),
    [
        (60, 0, 0), (60, 29, 0), (60, 30, 60), (60, 89, 60), (60, 90, 120), (60, 86_399, DAY),
        (900, 449, 0), (900, 450, 900), (900, 85_949, 85_500), (900, 85_950, DAY),
        (1, 12_345, 12_345), (43_200, 21_599, 0), (43_200, 21_600, 43_200), (43_200, 64_800, DAY),
        (60, DAY, DAY), (45, 22, 0), (45, 22.5, 45), (45, 23, 45),
    ],
)  # fmt: skip
def test_the_nearest_time_of_the_grid(step_s: int, second: float, nearest: int) -> None:
    assert grid(step_s).nearest(second) == nearest


@quick
@given(
    step_s=st.sampled_from([s for s in range(1, DAY + 1) if DAY % s == 0]),
    second=st.integers(0, DAY),
)
def test_no_time_of_the_grid_is_nearer(step_s: int, second: int) -> None:
    found = grid(step_s).nearest(second)
    assert found % step_s == 0
    assert 2 * abs(found - second) <= step_s
    assert 0 <= found <= DAY


def test_a_table_wraps_or_holds() -> None:
    assert TimeGrid(step_s=60, between="line", after_last_row="wrap").wraps
    assert not TimeGrid(step_s=60, between="line", after_last_row="hold").wraps


# Levels -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "step", "most", "top"),
    [
        ("percent", "1", 10.0, 100),
        ("percent", "0.5", 10.0, 200),
        ("percent", "0.1", 10.0, 1000),
        ("percent", "1", 9.5, 95),
        ("percent", "1", 9.99, 99),
        ("percent", "5", 9.99, 19),
        ("percent", "25", 4.9, 1),
        ("millivolts", "10", 10.0, 1000),
        ("millivolts", "1", 10.0, 10_000),
        ("millivolts", "50", 8.3, 166),
        ("millivolts", "1", 8.3, 8300),
        ("code", "1", 10.0, 4095),
        ("code", "16", 10.0, 255),
        ("code", "1", 5.0, 2048),
        ("code", "4095", 10.0, 1),
    ],
)
def test_the_largest_count(unit: str, step: str, most: float, top: int) -> None:
    converter = Converter.nominal(12, 10.0, most)
    assert levels(unit, step).top_count(converter) == top


def test_a_level_is_a_share_of_ten_volts() -> None:
    # "level 10 % is 1.0 V, whatever ballast or converter"; by hand: 1 V of 10 V / 4096 is 409.6
    for converter, code in ((NOMINAL, 410), (CALIBRATED, 386)):
        assert levels("percent").codes(converter)[10] == code
        assert levels("millivolts", "10").codes(converter)[100] == code
    assert levels("percent").codes(NOMINAL)[[0, 50, 89, 99, 100]].tolist() == [
        0, 2048, 3645, 4055, 4095,
    ]  # fmt: skip


def test_counts_of_codes_are_codes() -> None:
    assert levels("code", "16").codes(NOMINAL).tolist() == list(range(0, 4081, 16))
    assert levels("code").codes(CALIBRATED).tolist() == list(range(3886))


@pytest.mark.parametrize(
    ("unit", "step", "count", "percent"),
    [("percent", "0.5", 179, 89.5), ("millivolts", "10", 895, 89.5), ("percent", "1", 0, 0.0),
     ("percent", "0.1", 1, 0.1), ("millivolts", "1", 1, 0.01), ("percent", "1", 100, 100.0)],
)  # fmt: skip
def test_the_level_of_a_count(unit: str, step: str, count: int, percent: float) -> None:
    found = levels(unit, step).level_percents(NOMINAL)
    assert found.shape == (levels(unit, step).top_count(NOMINAL) + 1,)
    assert found[count] == pytest.approx(percent, abs=ROUNDING_TOLERANCE)


@pytest.mark.parametrize(
    ("converter", "code", "percent"),
    [(NOMINAL, 4095, 99.976), (NOMINAL, 2048, 50.0), (NOMINAL, 1, 0.02441),
     (CALIBRATED, 410, 10.62), (CALIBRATED, 3686, 94.86)],
)  # fmt: skip
def test_the_level_of_a_code_is_that_of_its_volts(
    converter: Converter, code: int, percent: float
) -> None:
    found = levels("code").level_percents(converter)
    assert found[code] == pytest.approx(percent, abs=LEVEL_TOLERANCE)


@st.composite
def level_grids(draw: st.DrawFn) -> LevelGrid:
    unit = draw(st.sampled_from(["percent", "millivolts", "code"]))
    steps = {
        "percent": ["0.1", "0.25", "0.5", "1", "2", "5", "10", "20"],
        "millivolts": ["1", "5", "10", "100", "250", "2500"],
        "code": ["1", "2", "3", "7", "16", "63"],
    }
    return levels(unit, draw(st.sampled_from(steps[unit])))


@quick
@given(
    grid=level_grids(),
    bits=st.integers(6, 16),
    scale=st.floats(1.0, 24.0),
    offset=st.floats(0.0, 0.5),
    most=st.floats(1.0, 10.0),
)
def test_no_count_leaves_the_limits(
    grid: LevelGrid, bits: int, scale: float, offset: float, most: float
) -> None:
    high = (2**bits - 1, offset + scale)
    converter = Converter.two_point(bits, (0, offset), high, most)
    codes = grid.codes(converter)
    assert codes.shape == (grid.top_count(converter) + 1,)
    assert codes[0] >= 0
    assert codes.max() <= converter.full_code
    assert (np.diff(codes) >= 0).all()
    assert (converter.volts(codes) <= min(most, 10.0)).all()
    shown = grid.level_percents(converter)
    assert shown.shape == codes.shape
    assert (np.diff(shown) >= 0).all()
    assert shown[0] >= 0
    assert shown[-1] <= 100 + ROUNDING_TOLERANCE
    if grid.unit != "code":  # each count asks for its own share of 10 V
        assert (shown / 10 <= min(most, 10.0) + ROUNDING_TOLERANCE).all()
        wanted = np.minimum(converter.nearest_codes(shown / 10), converter.full_code)
        assert codes.tolist() == wanted.tolist()


# Rows ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("second", "count"), [(-1, 0), (DAY, 0), (0, -1)])
def test_rows_out_of_range_are_refused(second: int, count: int) -> None:
    with pytest.raises(ValueError, match=r"outside a day|below zero"):
        Row(second, count)


def test_rows_are_sorted_by_their_seconds() -> None:
    rows = [Row(60, 0), Row(0, 5), Row(DAY - 1, 9)]
    assert [row.second for row in sorted(rows)] == [0, 60, DAY - 1]
    assert Row(0, 0).relay is None
