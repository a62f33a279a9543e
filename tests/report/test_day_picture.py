"""The picture of a day: each sign says what light there is, worked out by hand or from the light itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.report.day_picture import (
    CELLS,
    LEGEND,
    SIGNS,
    PicturedChannel,
    cells,
    day_picture,
)
from photoperiod.text import width

HALF_HOUR = 1800


def light(*stretches):
    """Return a day that is dark but for (from hour, to hour, light)."""
    made = np.zeros(86_400)
    for first, last, given_light in stretches:
        made[int(first * 3600) : int(last * 3600)] = given_light
    return made


def channel(name="blue", given_light=None, floor=0.01, rows=(0,)):
    given_light = light((9, 21, 0.8)) if given_light is None else given_light
    return PicturedChannel(name, given_light, floor, tuple(rows))


def test_a_whole_picture() -> None:
    # Floor 1 %, peak 80 %: six equal steps of 13.17 % each; 30 % is the third (27.3 to 40.5 %).
    blue = channel(
        given_light=light((8, 9, 0.01), (9, 10, 0.3), (10, 20, 0.8)), rows=(8 * 3600, 10 * 3600)
    )
    moon = channel("moon", light((22, 24, 0.02), (0, 2, 0.02)), 0.005, (7200, 79_200))
    assert day_picture([blue, moon], 80) == [
        "      00  02  04  06  08  10  12  14  16  18  20  22    peak light",
        "blue |                ..==####################        |  80 %",
        "                      ^   ^",
        "moon |####                                        ####|  2 %",
        "          ^                                       ^",
    ]


def test_channels_that_share_their_times_have_one_line_of_marks() -> None:
    rows = (9 * 3600, 21 * 3600 - 60)
    lines = day_picture([channel(rows=rows), channel("white", rows=rows)], 80)
    assert [line.count("^") for line in lines] == [0, 0, 0, 2]
    assert lines[-1] == " " * 7 + " " * 18 + "^" + " " * 22 + "^"


def test_a_moment_of_light_is_seen_and_a_lamp_at_its_floor_is_a_point() -> None:
    assert cells(light((12, 12 + 1 / 3600, 0.5)), 0.01) == " " * 24 + "#" + " " * 23
    assert cells(np.full(86_400, 0.05), 0.05) == "." * 48
    assert cells(np.zeros(86_400), 0.01) == " " * 48


@pytest.mark.parametrize(("step", "sign"), list(enumerate(SIGNS[2:], start=1)))
def test_six_steps_from_floor_to_peak(step: int, sign: str) -> None:
    # The middle and the upper end of each sixth between a floor of 10 % and a peak of 100 %.
    for share in (step - 0.5, step):
        assert cells(light((0, 1, 1.0), (12, 13, 0.1 + 0.9 * share / 6)), 0.1)[24] == sign


def test_too_narrow_is_no_picture() -> None:
    lines = day_picture([channel()], 200)
    widest = max(map(width, lines))
    assert day_picture([channel()], widest) == lines
    assert day_picture([channel()], widest - 1) == []
    assert day_picture([], 200) == []


def test_no_ruler_where_another_picture_has_it() -> None:
    assert day_picture([channel()], 80, ruler=False) == day_picture([channel()], 80)[1:]


@given(
    st.lists(
        st.tuples(
            st.integers(0, 86_399), st.integers(1, 40_000), st.floats(0.02, 1.0), st.booleans()
        ),
        max_size=5,
    ),
    st.lists(st.integers(0, 86_399), min_size=1, max_size=12, unique=True),
)
def test_a_cell_is_blank_just_where_the_half_hour_is_dark(stretches, rows) -> None:
    given_light = np.zeros(86_400)
    for first, length, level, is_floor in stretches:
        given_light[first : first + length] = 0.02 if is_floor else level
    lines = day_picture([channel("x", given_light, 0.02, sorted(rows))], 80)
    row = lines[1][3:-1].partition("|")[0]
    assert len(row) == CELLS and set(row) <= set(SIGNS)
    for cell, sign in enumerate(row):
        half_hour = given_light[cell * HALF_HOUR : (cell + 1) * HALF_HOUR]
        assert (sign == " ") == (half_hour.max() == 0)
        assert (sign == ".") == (0 < half_hour.max() <= 0.02 + 1e-6)
        # more light is never a lesser sign
        assert all(
            SIGNS.index(sign) >= SIGNS.index(other)
            for at, other in enumerate(row)
            if half_hour.max() >= given_light[at * HALF_HOUR : (at + 1) * HALF_HOUR].max()
        )
    if given_light.max() > 0.02 + 1e-6:
        assert "#" in row
    marks = lines[2][3:].ljust(CELLS)
    assert {cell for cell, sign in enumerate(marks) if sign == "^"} == {
        second // HALF_HOUR for second in rows
    }
    assert all(ord(sign) < 128 for line in [*lines, *LEGEND] for sign in line)
