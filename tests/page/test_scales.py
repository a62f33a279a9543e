from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.page.scales import (
    NICE_STEPS,
    Scale,
    apart,
    place_text,
    round_top,
    tick_step,
    ticks,
    top_of,
)
from tests.conftest import drawn


def test_ends_of_a_scale_stand_at_its_ends_and_the_middle_in_the_middle() -> None:
    scale = Scale(0.0, 24.0, 36.0, 330.0)
    assert [scale.at(hour) for hour in (0.0, 12.0, 24.0)] == [36.0, 183.0, 330.0]
    assert Scale(5.0, 5.0, 10.0, 20.0).at(7.0) == 10.0


@pytest.mark.parametrize(
    ("high", "most", "expected"),  # by hand
    [
        (350.0, 4, (0, 100, 200, 300)),
        (11.9, 6, (0, 2, 4, 6, 8, 10)),
        (1.08, 4, (0, 0.5, 1.0)),
        (0.9, 4, (0, 0.5)),
        (4.0, 4, (0, 1, 2, 3, 4)),
        (0.0, 4, (0,)),
    ],
)
def test_ticks_are_even_and_of_round_numbers(
    high: float, most: int, expected: tuple[float, ...]
) -> None:
    assert ticks(high, most) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("value", "end"), [(0.88, 1.0), (1.0, 1.0), (1.01, 1.5), (0.031, 0.04), (7.2, 8.0), (0.0, 1.0)]
)
def test_a_round_end_is_not_below_the_value(value: float, end: float) -> None:
    assert round_top(value) == pytest.approx(end)


@settings(max_examples=drawn(60))
@given(st.floats(1e-6, 1e9), st.integers(1, 10))
def test_ticks_are_never_more_than_asked_for_and_stay_inside(high: float, most: int) -> None:
    found = ticks(high, most)
    assert found[0] == 0
    assert len(found) <= most + 1
    assert found[-1] <= high * (1 + 1e-9)
    mantissa = tick_step(high, most) / 10 ** len(str(int(tick_step(high, most))).lstrip("0"))
    assert any(
        abs(mantissa * 10**n / nice - 1) < 1e-6 for nice in NICE_STEPS for n in range(-9, 12)
    )


def test_the_end_of_a_scale_leaves_room_and_is_never_zero() -> None:
    assert top_of(12.0, 6.0) == 13.0
    assert top_of(0.0) == top_of() == 1.0


def test_coordinates_are_short() -> None:
    assert [place_text(x) for x in (1.0, 1.25, -0.01, 330.04)] == ["1", "1.2", "0", "330"]


def test_labels_that_are_close_stand_apart() -> None:
    assert apart([], 10, 100) == []
    assert apart([5, 30, 60], 10, 100) == [5, 30, 60]
    assert apart([5, 6, 7, 60], 10, 100) == [5, 15, 25, 60]


def test_labels_are_pushed_back_from_the_end() -> None:
    assert apart([5, 95, 96], 10, 100) == [5, 90, 100]
    assert apart([80, 95, 96], 10, 100) == [80, 90, 100]
    assert apart([95, 95, 96], 10, 100) == [80, 90, 100]
