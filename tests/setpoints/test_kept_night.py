"""Nights that a coarse grid of times leaves no step for, beside every table there is."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from photoperiod.curves.curve import Curve
from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.kernel import which
from photoperiod.setpoints.fit import Target, fit
from tests.oracle.enumerator import Enumerator, played
from tests.setpoints.days import (
    DAY,
    HOUR,
    NEARLY_BEST,
    NONE,
    SLACK,
    SQUARE,
    STANDBY,
    grid,
    path,
    ramps,
    steady,
    target,
)

#: Samples are a minute apart, or more where the controller emits that seldom.
SAMPLE_S = 60

STEP_S = 12 * HOUR

#: So often controllers emit here: by numpy, a sample each minute would take seconds. [s]
SELDOM_S = 1200
EVERY_S = SELDOM_S if which.compiled() is None else 1


def judge(aim: Target, times: TimeGrid) -> Enumerator:
    return Enumerator(
        reachable=aim.reachable, times=times, path=aim.path,
        sample_s=max(SAMPLE_S, aim.path.levels.every_seconds), tolerance_s=times.step_s // 2,
    )  # fmt: skip


def least_of_all(aim: Target, times: TimeGrid, rows_most: int) -> float:
    """The least error of all tables of whole levels, lit wherever no time near it is dark."""
    measure = judge(aim, times)
    assert all(measure.lit), "the night has a step of its own"
    least, _ = measure.allowed
    has_relay, unfit = aim.path.relay.kind == "column", measure.is_unfit
    choices = [(count, True) for count in np.flatnonzero(~unfit).tolist()] + [(0, False)]
    best = math.inf
    for number in range(1, rows_most + 1):
        for seconds in itertools.combinations(range(0, DAY, times.step_s), number):
            for chosen in itertools.product(choices, repeat=number):
                rows = tuple(
                    Row(second, count, is_lit if has_relay else None)
                    for second, (count, is_lit) in zip(seconds, chosen, strict=True)
                )
                lit = played(rows, times, aim.path).lit
                if not lit[least > 0].all():
                    continue  # dark where it must burn
                best = min(best, measure.measure(rows))
    return best


NIGHTS = {
    "ten hours about midnight": ramps(5 * HOUR, 3 * HOUR, 0.3, 3 * HOUR, 19 * HOUR),
    "three hours about noon": ramps(14 * HOUR, HOUR, 0.6, HOUR, 35 * HOUR),
    "an hour": steady(HOUR // 2, 23 * HOUR + HOUR // 2, 0.4),
}

LAMPS = ["standby", "relay"]


def lamp_path(lamp: str, every_s: int = EVERY_S) -> LightPath:
    # No level but the dark is near to the floor.
    ballast = replace(STANDBY, below_floor="floor") if lamp == "standby" else SQUARE
    p = path(ballast, NONE, step="8") if lamp == "standby" else path(ballast, step="8")
    return replace(p, levels=replace(p.levels, every_seconds=every_s))


def is_the_best_of_all(night: str, lamp: str, every_s: int = EVERY_S) -> None:
    p = lamp_path(lamp, every_s)
    aim, times = target(NIGHTS[night], p), grid(STEP_S)
    (found,) = fit([aim], times, 2)
    least = least_of_all(aim, times, 2)
    error = found.certificate.error
    assert error == pytest.approx(judge(aim, times).measure(found.rows), abs=1e-9)
    assert error <= NEARLY_BEST * least + SLACK
    assert found.certificate.bound <= least + SLACK


@pytest.mark.parametrize("night", NIGHTS)
@pytest.mark.parametrize("lamp", LAMPS)
def test_the_best_of_all_tables_is_found_where_the_grid_has_no_step_for_the_night(
    night: str, lamp: str
) -> None:
    is_the_best_of_all(night, lamp)


# The one of these whose best table is dark at the night.
@pytest.mark.skipif(which.compiled() is None, reason="the tests before this one ran by numpy")
def test_numpy_finds_the_best_of_all_tables_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(which, "compiled", lambda: None)
    is_the_best_of_all("ten hours about midnight", "standby", SELDOM_S)


def test_a_dark_row_stands_at_the_night_that_has_no_step() -> None:
    p = lamp_path("standby")
    (found,) = fit([target(NIGHTS["ten hours about midnight"], p)], grid(STEP_S), 2)
    assert [(row.second, row.count > 0) for row in found.rows] == [(0, False), (STEP_S, True)]
    assert found.certificate.error == 0.0 and not found.replay.lit[0]


def test_channels_that_share_their_times_keep_their_nights() -> None:
    p = lamp_path("standby")
    curves: list[Curve] = [NIGHTS["ten hours about midnight"], steady(0, DAY, 0.5)]
    night, day = fit([target(curve, p) for curve in curves], grid(STEP_S), 2)
    assert night.certificate.error == 0.0
    assert [row.second for row in night.rows] == [row.second for row in day.rows]
    assert all(row.count > 0 for row in day.rows) and day.certificate.error < 0.05


def test_a_lamp_that_is_never_dark_has_no_night() -> None:
    p = path(STANDBY, NONE, step="8")
    (found,) = fit([target(steady(0, DAY, 0.5), p)], grid(STEP_S), 2)
    assert found.replay.lit.all()
