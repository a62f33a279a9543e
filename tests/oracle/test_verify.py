"""The verifier lets true certificates stand and finds those that were tampered with."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from photoperiod.curves.curve import Curve, day_seconds, ramp_profile
from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.setpoints.fit import Target, fit
from photoperiod.units import SECONDS_PER_DAY
from tests.oracle.plain_day import Claim
from tests.oracle.verify import JointClaim, faults, joint_faults

HOUR = 3600

#: The light of one code of 12 bits up to 10 V, on a linear ballast of 2 % at 0.9 V. [fraction of full]
ONE_CODE = 0.98 * 10 / 4096 / 9.1


def light_path(kind: str = "square-law", relay: str = "column", rounding: str = "half-up",
               dark: str = "relay") -> LightPath:  # fmt: skip
    return LightPath(
        levels=LevelGrid(unit="percent", step=Fraction(2), every_seconds=1, rounding=rounding),
        converter=Converter.nominal(12, 10.0, 10.0),
        ballast=BallastCurve(kind=kind, floor_volts=1.0, full_volts=10.0, floor_light=0.02, dark=dark,
                        standby_volts=0.5),
        relay=RelayMode(kind=relay, on_level_percent=6.0),
    )  # fmt: skip


def day(start: int, light: float, end: int, shape: str = "sine") -> Curve:
    return Curve((ramp_profile(start, [(start, HOUR, light, shape)], end, HOUR, shape),))


def certified(
    path: LightPath,
    curve: Curve | None,
    times: TimeGrid,
    limit: int,
    is_guarded: bool = False,
) -> tuple[Claim, np.ndarray]:
    light = night_light(day_seconds()) if curve is None else curve.light(day_seconds())
    wanted = path.ballast.reachable(light, path.most_light)
    aim = Target(name="x", reachable=wanted, corners=(), path=path, is_guarded=is_guarded)
    (found,) = fit([aim], times, limit)
    proof = found.certificate
    assert found.method == "exact"
    claim = Claim(rows=found.rows, row_limit=limit, error=proof.error, bound=proof.bound,
                  sample_s=proof.sample_s, tolerance_s=proof.tolerance_s,
                  is_guarded=is_guarded)  # fmt: skip
    return claim, wanted


TIMES = TimeGrid(step_s=300, between="line", after_last_row="wrap")
CASES = [
    (light_path(), day(9 * HOUR, 0.7, 13 * HOUR), TIMES, 5),
    (light_path(rounding="down"), day(9 * HOUR, 0.7, 13 * HOUR), TIMES, 6),
    (light_path(rounding="toward-last-row"), day(9 * HOUR, 0.7, 13 * HOUR, "smooth"), TIMES, 5),
    (light_path("log-law"), day(22 * HOUR, 0.4, 26 * HOUR), TIMES, 6),
    (light_path(relay="follows-level"), day(9 * HOUR, 0.7, 13 * HOUR), TIMES, 7),
    (light_path(relay="none", dark="standby"), day(9 * HOUR, 0.7, 13 * HOUR), TIMES, 7),
    (light_path(), day(22 * HOUR, 0.7, 26 * HOUR), replace(TIMES, after_last_row="hold"), 8),
]


@pytest.mark.parametrize(("path", "curve", "times", "limit"), CASES, ids=range(len(CASES)))
def test_certificates_of_the_fit_stand(
    path: LightPath, curve: Curve, times: TimeGrid, limit: int
) -> None:
    claim, wanted = certified(path, curve, times, limit)
    assert claim.bound > 0.001  # else there is nothing to refute
    assert faults(claim, wanted, times, path) == []


@pytest.mark.parametrize("number", [0, 3, 6])
def test_certificates_of_tables_with_a_guard_row_stand(number: int) -> None:
    path, curve, times, limit = CASES[number]
    claim, wanted = certified(path, curve, times, limit, is_guarded=True)
    plain, _ = certified(path, curve, times, limit)
    assert claim.bound > plain.bound + 0.001  # the row is missing elsewhere
    assert faults(claim, wanted, times, path) == []
    # the bound without a guard row is too low to be refuted, that of one row fewer too high
    worse, _ = certified(path, curve, times, limit - 1, is_guarded=True)
    found = faults(replace(worse, row_limit=limit, bound=worse.error), wanted, times, path)
    assert any("rows do better than the bound" in fault for fault in found)


def test_a_missing_guard_row_is_found() -> None:
    path, curve, times, limit = CASES[0]
    plain, wanted = certified(path, curve, times, limit)
    found = faults(replace(plain, is_guarded=True), wanted, times, path)
    assert found[0] == "no row of level 0 at 32100 s, before the lamp lights"  # 09:00 − 5 min


def test_a_raised_bound_is_found() -> None:
    path, curve, times, limit = CASES[0]
    claim, wanted = certified(path, curve, times, limit)
    found = faults(replace(claim, bound=claim.error + 0.001), wanted, times, path)
    assert any("is above the table's own error" in fault for fault in found)
    # a bound that hides behind the second objective: the table of fewer rows beside the better one
    worse, _ = certified(path, curve, times, limit - 1)
    lazy = replace(worse, row_limit=limit, bound=worse.error)
    found = faults(lazy, wanted, times, path)
    assert any("rows do better than the bound" in fault for fault in found)


def test_a_moved_row_is_found() -> None:
    path, curve, times, limit = CASES[0]
    claim, wanted = certified(path, curve, times, limit)
    second, count, relay = claim.rows[1].second, claim.rows[1].count, claim.rows[1].relay
    for moved in (Row(second, count + 5, relay), Row(second + 600, count, relay)):
        rows = (claim.rows[0], moved, *claim.rows[2:])
        found = faults(replace(claim, rows=rows), wanted, times, path)
        assert any(fault.startswith("the error is") for fault in found)
    off = (claim.rows[0], Row(second + 7, count, relay), *claim.rows[2:])
    assert any("off the grid" in f for f in faults(replace(claim, rows=off), wanted, times, path))
    last = (*claim.rows[:-1], Row(claim.rows[-1].second, 20, False))
    assert any("level above 0" in f for f in faults(replace(claim, rows=last), wanted, times, path))


def test_another_ballast_is_found() -> None:
    path, curve, times, limit = CASES[0]
    claim, wanted = certified(path, curve, times, limit)
    other = LightPath(levels=path.levels, converter=path.converter, relay=path.relay,
                      ballast=replace(path.ballast, kind="linear"))  # fmt: skip
    assert any(fault.startswith("the error is") for fault in faults(claim, wanted, times, other))


def test_too_many_rows_are_found() -> None:
    path, curve, times, limit = CASES[0]
    claim, wanted = certified(path, curve, times, limit)
    assert "5 rows are more than 4" in faults(replace(claim, row_limit=4), wanted, times, path)


def night_light(seconds: np.ndarray) -> np.ndarray:
    """A day that is never dark."""
    return 0.35 + 0.3 * np.sin(2 * np.pi * seconds / SECONDS_PER_DAY)


LESS_OFTEN = replace(TIMES, step_s=1800)
UNUSUAL = [
    ("held", light_path(), day(9 * HOUR, 0.7, 13 * HOUR), replace(TIMES, between="hold"), 8),
    ("held, no wrap", light_path(), day(20 * HOUR, 0.7, 26 * HOUR),
     replace(TIMES, between="hold", after_last_row="hold"), 9),
    ("circle", light_path(dark="never"), None, LESS_OFTEN, 5),
    ("held circle", light_path(dark="never"), None, replace(LESS_OFTEN, between="hold"), 7),
    ("never dark, no wrap", light_path(dark="never"), None,
     replace(LESS_OFTEN, after_last_row="hold"), 5),
]  # fmt: skip


@pytest.mark.parametrize(
    ("path", "curve", "times", "limit"), [c[1:] for c in UNUSUAL], ids=[c[0] for c in UNUSUAL]
)
def test_certificates_of_unusual_days_stand_and_raised_bounds_fall(
    path: LightPath, curve: Curve | None, times: TimeGrid, limit: int
) -> None:
    claim, wanted = certified(path, curve, times, limit)
    assert claim.bound > 0.001
    assert faults(claim, wanted, times, path) == []
    worse, _ = certified(path, curve, times, limit - 1)
    lazy = replace(worse, row_limit=limit, bound=worse.error)
    found = faults(lazy, wanted, times, path)
    assert any("rows do better than the bound" in fault for fault in found)


@pytest.mark.parametrize("between", ["line", "hold"])
def test_a_day_that_is_dark_at_all_times_is_no_better_table(between: str) -> None:
    # Half a step is six hours, and no moment is farther from the dark: no light is no error at any.
    lamp = light_path("linear", relay="none", dark="standby")
    path = replace(lamp, ballast=replace(lamp.ballast, floor_volts=0.9))
    noon, night = day(13 * HOUR, 0.02, 15 * HOUR), day(19 * HOUR, 0.02, 29 * HOUR)
    times = TimeGrid(step_s=12 * HOUR, between=between, after_last_row="wrap")
    claim, wanted = certified(path, Curve((*noon.parts, *night.parts)), times, 4)
    # By hand: the least level at which it burns is 1.0 V, and the floor of 2 % is at 0.9 V.
    assert [row.count for row in claim.rows] == [5]
    assert claim.error == pytest.approx(0.98 * 0.1 / 9.1, abs=ONE_CODE)
    assert faults(claim, wanted, times, path) == []
    # One level more is not the best.
    lazy = replace(claim, rows=[replace(claim.rows[0], count=6)])
    error = 0.98 * 0.3 / 9.1
    lazy = replace(lazy, error=error, bound=error - ONE_CODE)
    found = faults(lazy, wanted, times, path)
    assert any("rows do better than the bound" in fault for fault in found)


def shared(
    limit: int, times: TimeGrid, paths: list[LightPath], curves: list[Curve], weight: float = 1.0
) -> tuple[JointClaim, list[np.ndarray]]:
    wanted = [
        path.ballast.reachable(curve.light(day_seconds()), path.most_light)
        for path, curve in zip(paths, curves, strict=True)
    ]
    weights = [1.0, weight]
    found = fit(
        [
            Target(name="x", reachable=light, corners=(), path=path, weight=w)
            for light, path, w in zip(wanted, paths, weights, strict=True)
        ],
        times,
        limit,
    )
    proof = found[0].certificate
    assert found[0].method == "exact"
    assert proof.joint_error is not None and proof.joint_bound is not None
    claims = [
        Claim(rows=f.rows, row_limit=limit, error=f.certificate.error, bound=f.certificate.bound,
              sample_s=f.certificate.sample_s, tolerance_s=f.certificate.tolerance_s)
        for f in found
    ]  # fmt: skip
    joint = JointClaim(claims=claims, weights=weights, error=proof.joint_error,
                       bound=proof.joint_bound, floors=[f.certificate.floor for f in found])  # fmt: skip
    return joint, wanted


HOURLY = replace(TIMES, step_s=3600)
MOON = day(20 * HOUR, 0.08, 30 * HOUR)
SHARED = [
    ("dark between", 7, HOURLY, light_path(), light_path(), day(8 * HOUR, 0.7, 18 * HOUR), MOON),
    ("lit at the cut", 7, HOURLY, light_path(), light_path(), day(8 * HOUR, 0.7, 23 * HOUR), MOON),
    ("no wrap", 8, replace(HOURLY, after_last_row="hold"), light_path(), light_path(),
     day(8 * HOUR, 0.7, 23 * HOUR), MOON),
    ("held", 6, replace(HOURLY, between="hold"), light_path(), light_path(),
     day(8 * HOUR, 0.7, 23 * HOUR), MOON),
    ("by level", 9, HOURLY, light_path(relay="none", dark="standby"),
     light_path(relay="none", dark="standby"), day(8 * HOUR, 0.7, 23 * HOUR), day(20 * HOUR, 0.4, 30 * HOUR)),
]  # fmt: skip


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(
            case, id=case[0], marks=() if case[0] in ("held", "by level") else pytest.mark.slow
        )
        for case in SHARED
    ],
)
def test_joint_certificates_stand_and_raised_bounds_fall(case: tuple) -> None:
    _, limit, times, path, other, curve, other_curve = case
    paths, curves = [path, other], [curve, other_curve]
    joint, wanted = shared(limit, times, paths, curves)
    assert joint.bound > 0.01
    assert joint_faults(joint, wanted, times, paths) == []
    worse, _ = shared(limit - 1, times, paths, curves)
    assert worse.error > joint.error * 1.02
    lazy = replace(worse, bound=worse.error,
                   claims=[replace(claim, row_limit=limit) for claim in worse.claims])  # fmt: skip
    found = joint_faults(lazy, wanted, times, paths)
    assert any("rows do better than the joint bound" in fault for fault in found)


def test_joint_claims_that_were_tampered_with_are_found() -> None:
    _, limit, times, path, other, curve, other_curve = SHARED[0]
    paths, curves = [path, other], [curve, other_curve]
    joint, wanted = shared(limit, times, paths, curves)
    found = joint_faults(replace(joint, bound=joint.error + 0.01), wanted, times, paths)
    assert any("is above the error" in fault for fault in found)
    found = joint_faults(replace(joint, floors=[0.2, 0.0]), wanted, times, paths)
    assert any("rows enough do better than the floor" in fault for fault in found)
    found = joint_faults(replace(joint, weights=[1.0, 4.0]), wanted, times, paths)
    assert any(fault.startswith("the joint error is") for fault in found)
    rows = list(joint.claims[0].rows)
    rows[1] = Row(rows[1].second + times.step_s, rows[1].count, rows[1].relay)
    moved = [replace(joint.claims[0], rows=rows), joint.claims[1]]
    found = joint_faults(replace(joint, claims=moved), wanted, times, paths)
    assert "the channels' rows do not stand at the same times" in found


def test_a_weight_moves_the_error_from_one_channel_to_the_other() -> None:
    _, _, times, path, other, curve, other_curve = SHARED[1]
    limit, paths, curves = 5, [path, other], [curve, other_curve]
    plain, wanted = shared(limit, times, paths, curves)
    heavy, _ = shared(limit, times, paths, curves, weight=50.0)
    light, _ = shared(limit, times, paths, curves, weight=0.05)
    assert heavy.claims[1].error < plain.claims[1].error < light.claims[1].error
    assert light.claims[0].error < plain.claims[0].error
    assert joint_faults(heavy, wanted, times, paths) == []
    assert joint_faults(light, wanted, times, paths) == []
