from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import play
from photoperiod.drive.welded_relay import guard_seconds, welded_light, with_guard_rows

HOUR = 3600
TIMES = TimeGrid(step_s=60, between="line", after_last_row="wrap")

#: Light is volts over 10 V, 10 % at and below 1 V; one count is 0.1 V.
PATH = LightPath(
    levels=LevelGrid(unit="percent", step=Fraction(1), every_seconds=1, rounding="half-up"),
    converter=Converter.nominal(10, 10.24, 10.0),
    ballast=BallastCurve(
        kind="linear", floor_volts=1.0, full_volts=10.0, floor_light=0.1, dark="relay"
    ),
    relay=RelayMode(kind="column"),
)

#: Full from 10:00 to 22:00, so that a line rises for twelve hours behind the open relay.
FULL_DAY = (
    Row(10 * HOUR, 100, True),
    Row(22 * HOUR - 60, 100, True),
    Row(22 * HOUR, 0, False),
)


def test_a_day_at_full_gives_full_light_at_the_end_of_its_night() -> None:
    welded = welded_light(FULL_DAY, TIMES, PATH)
    assert welded is not None
    # 43,140 s of 43,200 s up a line of 100 counts: 99.86, so 100
    assert (welded.most_light, welded.second) == (1.0, 10 * HOUR - 60)
    # Above 10 % a triangle: 0.9 · 0.9 · 43,200 s / 2, without 0.9 for the last 59 s
    assert welded.extra_s == pytest.approx(17_496 - 53.1, rel=0.001)


def test_a_guard_row_leaves_the_floor_and_the_same_light() -> None:
    guarded = with_guard_rows(FULL_DAY, TIMES, PATH)
    assert guarded == (Row(10 * HOUR - 60, 0, False), *FULL_DAY)
    assert welded_light(guarded, TIMES, PATH) is None
    assert with_guard_rows(guarded, TIMES, PATH) == guarded
    before, after = (play(rows, TIMES, PATH.levels, PATH) for rows in (FULL_DAY, guarded))
    assert (before.light == after.light).all()


def test_a_line_to_the_floor_adds_nothing() -> None:
    rows = (Row(10 * HOUR, 10, True), Row(15 * HOUR, 80, True), Row(20 * HOUR, 0, False))
    assert guard_seconds(rows, TIMES, PATH) == (10 * HOUR - 60,)
    assert welded_light(rows, TIMES, PATH) is None


def test_a_standby_ballast_is_dark_at_level_zero() -> None:
    # One count is 0.1 V: 0.4 V is below the standby volts, 0.5 V is not.
    ballast = replace(PATH.ballast, dark="standby", standby_volts=0.5)
    path = replace(PATH, ballast=ballast)
    assert path.closed_light[0] == 0.0
    assert path.closed_light[4] == 0.0
    assert path.closed_light[5] == pytest.approx(0.1)
    assert path.closed_light[100] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("rows", "times", "found"),
    [
        # the second lighting is one step after the row that switches off
        (((9, 50, 1), (12, 0, 0), (15, 50, 1), (20, 0, 0)), replace(TIMES, step_s=3 * HOUR), (6,)),
        (((9, 50, 1), (12, 0, 0), (15, 50, 1), (20, 0, 0)), TIMES, (9 - 1 / 60, 15 - 1 / 60)),
        # across midnight: from 20:00 a line to 00:00
        (((0, 50, 1), (20, 0, 0)), TIMES, (24 - 1 / 60,)),
        # the level stays until midnight, and the row at 00:00 begins the day
        (((0, 50, 1), (20, 0, 0)), replace(TIMES, after_last_row="hold"), ()),
        (
            ((0, 0, 0), (9, 50, 1), (20, 0, 0)),
            replace(TIMES, after_last_row="hold"),
            (9 - 1 / 60,),
        ),
        (((9, 50, 1), (20, 0, 0)), replace(TIMES, between="hold"), ()),
        (((9, 50, 1), (20, 60, 1)), TIMES, ()),
    ],
)
def test_where_a_guard_row_is_missing(
    rows: tuple[tuple[int, int, int], ...], times: TimeGrid, found: tuple[float, ...]
) -> None:
    made = [Row(hour * HOUR, count, bool(relay)) for hour, count, relay in rows]
    assert guard_seconds(made, times, PATH) == tuple(round(hour * HOUR) for hour in found)


def test_a_relay_that_follows_the_level_needs_none() -> None:
    path = replace(PATH, relay=RelayMode(kind="follows-level", on_level_percent=5.0))
    rows = [Row(9 * HOUR, 50), Row(20 * HOUR, 0)]
    assert guard_seconds(rows, TIMES, path) == ()
    assert with_guard_rows(rows, TIMES, path) == tuple(rows)
