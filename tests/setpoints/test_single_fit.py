"""Tables of one channel against tables by hand, and no neighbour beats the bound."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest

from photoperiod.curves.curve import Curve, Profile, Segment
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import RelayMode, Row, TimeGrid
from photoperiod.drive.replay import play
from photoperiod.setpoints import single_fit
from photoperiod.setpoints.fit import Target, fit
from tests.setpoints.days import (
    COLUMN,
    DAY,
    HOUR,
    LIGHT_TOLERANCE,
    LINEAR,
    NEARLY_BEST,
    NEVER,
    NIGHT,
    NONE,
    NOON,
    SLACK,
    SQUARE,
    STANDBY,
    assert_errors_are_measured_right,
    error_of,
    errors_of,
    grid,
    one,
    path,
    ramps,
    steady,
    target,
    tolerated,
)

#: A plan above the floor of 10 % in straight lines between whole percents at whole minutes.
POINTS = [(8 * HOUR, 0.2), (10 * HOUR, 0.7), (14 * HOUR, 0.7), (15 * HOUR, 0.9), (19 * HOUR, 0.4)]
LINES = Curve(
    (Profile(tuple(Segment(a[0], b[0], a[1], b[1]) for a, b in itertools.pairwise(POINTS))),)
)


def test_lines_of_light_are_reproduced_by_rows_at_their_corners() -> None:
    # On LINEAR light equals level, so lines of light are lines of level. Rows at the corners and one
    # before the step down leave half a level between rows, and the last minute, in which the level
    # falls from 40 % to the dark row.
    by_hand = [*(Row(s, round(100 * light), True) for s, light in POINTS[:-1]),
               Row(19 * HOUR - 60, 40, True), Row(19 * HOUR, 0, False)]  # fmt: skip
    aim = target(LINES, path(LINEAR))
    (found,) = fit([aim], grid(), len(by_hand))
    assert found.worst_light_error <= NEARLY_BEST * error_of(by_hand, aim, grid()) + SLACK
    assert_errors_are_measured_right(found, aim, grid())


def test_lines_that_end_at_the_floor_are_reproduced_by_their_corners() -> None:
    # With `floor` the lamp lights at 09:00 sharp and the plan waits at 10 % until 09:07:30.
    day = ramps(9 * HOUR, HOUR, 0.8, 2 * HOUR, 21 * HOUR)
    by_hand = [Row(9 * HOUR, 10, True), Row(10 * HOUR, 80, True), Row(19 * HOUR, 80, True),
               Row(21 * HOUR, 0, False)]  # fmt: skip
    aim = target(day, path(replace(LINEAR, below_floor="floor")))
    (found,) = fit([aim], grid(), 4)
    assert found.worst_light_error <= NEARLY_BEST * error_of(by_hand, aim, grid()) + SLACK
    assert found.rows[-1] == Row(21 * HOUR, 0, False)
    assert found.rows[0].second == 9 * HOUR


def test_corners_are_kept_in_a_coarse_grid_too() -> None:
    # 15 minutes, hold: a staircase on the grid is reproduced without error but that of the levels.
    stairs = Curve((Profile(tuple(
        Segment(h * HOUR, (h + 2) * HOUR, light, light)
        for h, light in ((8, 0.2), (10, 0.5), (12, 0.9), (14, 0.3))
    )),))  # fmt: skip
    aim = target(stairs, path(LINEAR))
    (found,) = fit([aim], grid(900, "hold"), 5)
    assert found.rows == (
        Row(8 * HOUR, 20, True), Row(10 * HOUR, 50, True), Row(12 * HOUR, 90, True),
        Row(14 * HOUR, 30, True), Row(16 * HOUR, 0, False),
    )  # fmt: skip
    assert found.worst_light_error <= LIGHT_TOLERANCE
    assert found.strict_light_error <= LIGHT_TOLERANCE


def test_a_step_down_keeps_its_light_until_a_minute_before() -> None:
    # 80 % until 21:00 sharp: the row that switches off has level 0, so one stands right before it.
    found = one(steady(9 * HOUR, 21 * HOUR, 0.8), path(), grid(), 3)
    assert [(row.second, row.relay) for row in found.rows] == [
        (9 * HOUR, True),
        (21 * HOUR - 60, True),
        (21 * HOUR, False),
    ]
    assert found.rows[0].count == found.rows[1].count == 89
    held = found.replay.light[9 * HOUR : 21 * HOUR - 60]
    np.testing.assert_allclose(held, 0.89**2, rtol=1e-6)


def test_hold_needs_no_row_before_a_step_down() -> None:
    found = one(steady(9 * HOUR, 21 * HOUR, 0.8), path(), grid(between="hold"), 16)
    assert found.rows == (Row(9 * HOUR, 89, True), Row(21 * HOUR, 0, False))
    assert (found.replay.light[9 * HOUR : 21 * HOUR] > 0.79).all()


# What is proven -----------------------------------------------------------------------------------


def errors_at_samples(rows: Sequence[Row], aim: Target, times: TimeGrid, sample_s: int) -> float:
    light = play(rows, times, aim.path.levels, aim.path).light
    return float(errors_of(light, *tolerated(rows, aim, times))[::sample_s].max())


def neighbours(rows: Sequence[Row], times: TimeGrid, top: int) -> Iterator[list[Row]]:
    """Tables with one lit row moved a little in time or level; switchings stay where they are."""
    for i, row in enumerate(rows):
        is_fixed = not row.relay or not rows[i - 1].relay or (not times.wraps and i == 0)
        for later, more in itertools.product((-60, 0, 60), (-2, 0, 2)):
            second, count = row.second + later, row.count + more
            if not row.relay or (later and is_fixed) or not 0 <= count <= top:
                continue
            if not 0 <= second < DAY:
                continue
            moved = [*rows[:i], Row(second, count, True), *rows[i + 1 :]]
            seconds = [r.second for r in moved]
            if seconds == sorted(set(seconds)):
                yield moved


@pytest.mark.parametrize("between", ["line", "hold"])
@pytest.mark.parametrize("after", ["wrap", "hold"])
@pytest.mark.parametrize("limit", [5, 9])
@pytest.mark.parametrize("curve", [NOON, NIGHT], ids=["noon", "night"])
def test_no_neighbour_of_the_table_beats_its_bound(
    curve: Curve, limit: int, after: str, between: str
) -> None:
    aim, times = target(curve, path()), grid(60, between, after)
    (found,) = fit([aim], times, limit)
    proof = found.certificate
    assert len(found.rows) <= limit
    assert proof.bound <= proof.error + SLACK
    assert proof.floor <= proof.error + SLACK
    # A held row is wrong by most right before the next, so it is proven for every second.
    sample_s = proof.sample_s if between == "line" else 1
    assert proof.error == pytest.approx(
        errors_at_samples(found.rows, aim, times, sample_s), abs=SLACK
    )
    assert found.worst_light_error >= proof.error - SLACK
    for rows in neighbours(found.rows, times, aim.path.top_count):
        assert errors_at_samples(rows, aim, times, sample_s) >= proof.bound - SLACK


@pytest.mark.parametrize(
    ("ballast", "relay", "times", "limits"),
    [
        (SQUARE, COLUMN, grid(), (4, 5, 6, 8, 12)),
        (SQUARE, COLUMN, grid(between="hold"), (4, 5, 6, 8, 12)),
        (STANDBY, NONE, grid(), (4, 6, 8, 12)),
        (NEVER, NONE, grid(after="hold"), (6, 7, 8, 12)),
        (NEVER, NONE, grid(), (4, 6, 8)),
    ],
    ids=["line", "hold", "standby", "never dark", "never dark, wrapping"],
)
def test_more_rows_are_never_worse(
    ballast: BallastCurve, relay: RelayMode, times: TimeGrid, limits: Sequence[int]
) -> None:
    found = [one(NOON, path(ballast, relay), times, limit).certificate.error for limit in limits]
    for fewer, more in itertools.pairwise(found):
        assert more <= NEARLY_BEST * fewer + SLACK


def test_fine_levels_are_no_worse_than_a_few_of_them() -> None:
    # Every table of whole 256ths of the range is a table of 16-bit codes, too.
    lamp = replace(SQUARE, kind="log-law")
    sixteen_bits = Converter.nominal(16, 10.0, 10.0)
    day = ramps(9 * HOUR, 2 * HOUR, 0.8, 2 * HOUR, 21 * HOUR, "sine")
    fine, coarse = (
        one(day, path(lamp, COLUMN, "code", step, converter=sixteen_bits), grid(), 10)
        for step in ("1", "256")
    )
    assert coarse.certificate.is_best
    assert fine.certificate.error <= NEARLY_BEST * coarse.certificate.error
    assert fine.certificate.bound <= coarse.certificate.error
    assert (fine.method == "exact") is fine.certificate.is_best


def test_a_table_that_is_not_proven_is_not_called_exact() -> None:
    lamp = replace(SQUARE, kind="log-law")
    p = path(lamp, COLUMN, "code", "1", converter=Converter.nominal(16, 10.0, 10.0))
    day = ramps(9 * HOUR, 2 * HOUR, 0.8, 2 * HOUR, 21 * HOUR, "sine")
    found = one(day, p, grid(), 10)
    assert not found.certificate.is_best
    assert found.method == "best-found"
    assert not found.certificate.is_closest


def test_a_second_objective_that_takes_too_much_work_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert one(NOON, path(), grid(), 10).certificate.is_closest
    monkeypatch.setattr(single_fit, "REFINEMENT_WORK", 1000)
    found = one(NOON, path(), grid(), 10)
    assert found.certificate.is_best
    assert not found.certificate.is_closest
