"""When a channel is lit on the grid, at night, at midnight and for seconds, by what its table gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photoperiod.drive.ballast import BallastCurve
from photoperiod.setpoints.fit import fit
from tests.setpoints.days import (
    COLUMN,
    DARK,
    DAY,
    EVER,
    FOLLOWS,
    HOUR,
    LIGHT_TOLERANCE,
    LINEAR,
    NEVER,
    NIGHT,
    NONE,
    NOON,
    SQUARE,
    STANDBY,
    assert_errors_are_measured_right,
    assert_rows_are_well_formed,
    grid,
    one,
    path,
    ramps,
    steady,
    target,
)

# Nights -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("between", ["line", "hold"])
@pytest.mark.parametrize("after", ["wrap", "hold"])
@pytest.mark.parametrize("limit", [1, 2, 12])
def test_a_dark_day_is_dark(between: str, after: str, limit: int) -> None:
    for ballast, relay in ((SQUARE, COLUMN), (SQUARE, FOLLOWS), (STANDBY, NONE)):
        found = one(DARK, path(ballast, relay), grid(60, between, after), limit)
        assert not found.replay.lit.any()
        assert found.rows_needed == 1
        assert found.worst_light_error == 0.0
        assert all(row.count == 0 for row in found.rows)


@pytest.mark.parametrize("between", ["line", "hold"])
@pytest.mark.parametrize("after", ["wrap", "hold"])
@pytest.mark.parametrize("limit", [1, 2, pytest.param(12, marks=pytest.mark.slow)])
@pytest.mark.parametrize(
    "ballast",
    [SQUARE, *(pytest.param(each, marks=pytest.mark.slow) for each in (LINEAR, STANDBY)), NEVER],
    ids=lambda b: f"{b.kind} {b.dark}",
)
def test_a_day_lit_throughout_is_lit_throughout(
    ballast: BallastCurve, limit: int, after: str, between: str
) -> None:
    relay = COLUMN if ballast.dark == "relay" else NONE
    found = one(EVER, path(ballast, relay), grid(60, between, after), limit)
    assert found.replay.lit.all()
    # 50 % stands between levels that are 1.5 % of light apart at most
    np.testing.assert_allclose(found.replay.light, 0.5, rtol=0, atol=0.0075)


@pytest.mark.parametrize(
    ("step_s", "between", "after"),
    [(60, "line", "hold"), (60, "hold", "hold"), (900, "line", "wrap"), (900, "hold", "wrap")],
)
def test_what_cannot_be_dark_holds_its_floor_at_night(
    step_s: int, between: str, after: str
) -> None:
    times = grid(step_s, between, after)
    aim = target(NOON, path(NEVER, NONE))
    (found,) = fit([aim], times, 12)
    assert_rows_are_well_formed(found, aim, times, 12)
    assert_errors_are_measured_right(found, aim, times)
    assert found.replay.lit.all()
    night = found.replay.light[[*range(8 * HOUR), *range(22 * HOUR, DAY)]]
    assert night.min() >= 0.1 - LIGHT_TOLERANCE
    assert night.max() <= 0.1 + found.worst_light_error + LIGHT_TOLERANCE
    if between == "line":  # ten rows are enough for a night at the floor
        assert night.max() <= 0.11


@pytest.mark.parametrize("after", ["wrap", "hold"])
@pytest.mark.parametrize("between", ["line", "hold"])
def test_a_lit_night_goes_across_midnight(between: str, after: str) -> None:
    found = one(NIGHT, path(), grid(60, between, after), 24)
    lit = found.replay.lit
    # sin(π/2 · p) · 0.8 passes half the floor of 1 % after 14 s: less than half a minute
    assert np.flatnonzero(lit[12 * HOUR :])[0] == 8 * HOUR
    assert lit[20 * HOUR :].all()
    assert lit[: 8 * HOUR].all()
    assert not lit[8 * HOUR : 20 * HOUR].any()
    midnight = found.replay.light[[*range(HOUR), *range(23 * HOUR, DAY)]]
    assert np.abs(midnight - 0.8).max() <= found.worst_light_error + LIGHT_TOLERANCE
    if between == "line":
        assert np.abs(midnight - 0.8).max() <= 0.01


@pytest.mark.parametrize("after", ["wrap", "hold"])
@pytest.mark.parametrize("between", ["line", "hold"])
@pytest.mark.parametrize(("start", "end"), [(12 * HOUR, DAY), (0, 12 * HOUR)])
def test_days_that_end_or_begin_at_midnight(start: int, end: int, between: str, after: str) -> None:
    found = one(steady(start, end, 0.8), path(), grid(60, between, after), 12)
    wanted = np.zeros(DAY, dtype=bool)
    wanted[start:end] = True
    assert (found.replay.lit == wanted).all()
    held = found.replay.light[start : end - 60]
    np.testing.assert_allclose(held, 0.89**2, rtol=1e-6)


@pytest.mark.parametrize("between", ["line", "hold"])
@pytest.mark.parametrize("after", ["wrap", "hold"])
@pytest.mark.parametrize("start", [6 * HOUR + 7, 6 * HOUR + 29, 6 * HOUR + 31, 0, DAY - 25])
def test_a_run_shorter_than_a_step_keeps_one_step(start: int, between: str, after: str) -> None:
    found = one(steady(start, start + 20, 0.5), path(), grid(60, between, after), 12)
    assert found.replay.lit.sum() == 60


@pytest.mark.parametrize("start", [6 * HOUR + 7, 6 * HOUR + 29, 6 * HOUR + 31, 0, DAY - 50])
def test_the_step_that_is_kept_is_the_one_the_run_lies_in(start: int) -> None:
    found = one(steady(start, start + 20, 0.5), path(), grid(), 12)
    assert found.replay.lit[start : start + 20].all()


def test_the_lamp_lights_and_goes_dark_at_the_nearest_step() -> None:
    for start, end in ((9 * HOUR + 29, 21 * HOUR + 29), (9 * HOUR - 30, 21 * HOUR - 30)):
        found = one(steady(start, end, 0.5), path(), grid(), 12)
        wanted = np.zeros(DAY, dtype=bool)
        wanted[9 * HOUR : 21 * HOUR] = True
        assert (found.replay.lit == wanted).all()


# Dark by the level --------------------------------------------------------------------------------


@pytest.mark.parametrize("between", ["line", "hold"])
@pytest.mark.parametrize("after", ["wrap", "hold"])
def test_standby_and_following_relays_are_dark_until_a_step_before(
    between: str, after: str
) -> None:
    kept = replace(STANDBY, keeps_mains=True)
    for ballast, relay in ((SQUARE, FOLLOWS), (STANDBY, NONE), (kept, COLUMN)):
        found = one(NOON, path(ballast, relay), grid(60, between, after), 12)
        lit = found.replay.lit
        begin = int(np.flatnonzero(lit)[0])
        # half of a floor of 10 % is reached after 225 s, half of 1 % after 22 s
        lights = 9 * HOUR + (240 if ballast.dark == "standby" else 0)
        assert lights - 60 <= begin <= lights
        assert not lit[21 * HOUR :].any()
        assert not found.replay.counts[: lights - 60].any()
        if between == "hold":
            p = path(ballast, relay)
            assert not p.is_undefined[found.replay.counts].any()


@pytest.mark.parametrize("after", ["wrap", "hold"])
def test_a_standby_lamp_whose_relay_opens_lights_with_its_row(after: str) -> None:
    # Half of a floor of 10 % is reached after 225 s; the grid time nearest to that is 09:04.
    found = one(NOON, path(STANDBY, COLUMN), grid(60, "line", after), 12)
    lights = 9 * HOUR + 240
    assert int(np.flatnonzero(found.replay.lit)[0]) == lights
    assert (found.replay.relay_on == found.replay.lit)[: 21 * HOUR - 300].all()
    assert not found.replay.relay_on[21 * HOUR :].any()
    assert lights - 60 not in {row.second for row in found.rows}  # no row is needed before


@pytest.mark.parametrize("limit", [12, 24])
def test_a_standby_lamp_crosses_the_undefined_band_within_a_step_each_way(limit: int) -> None:
    p = path(STANDBY, NONE)
    found = one(NOON, p, grid(), limit)
    undefined = p.is_undefined[found.replay.counts]
    # 0 → 10 counts within a minute cross 5 … 9; so should the step down
    assert undefined[: 12 * HOUR].sum() <= 60
    assert undefined[12 * HOUR :].sum() <= 60


@pytest.mark.parametrize("limit", [24, 40])
@pytest.mark.parametrize("shape", ["linear", "sine"])
def test_with_rows_to_spare_a_lamp_dark_by_its_level_burns_to_the_end(
    shape: str, limit: int
) -> None:
    day = ramps(9 * HOUR, HOUR, 0.8, HOUR, 21 * HOUR, shape)
    for ballast, relay in ((STANDBY, NONE), (LINEAR, FOLLOWS), (SQUARE, FOLLOWS)):
        aim = target(day, path(ballast, relay))
        (found,) = fit([aim], grid(), limit)
        ends = int(np.flatnonzero(aim.reachable)[-1])
        assert len(found.rows) < limit
        assert found.replay.lit[12 * HOUR : ends - 60].all()
