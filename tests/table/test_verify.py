"""The verifier lets true certificates stand and finds those that were tampered with."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from photoperiod.light.ballast import Ballast
from photoperiod.light.curves import Curve, day_seconds, ramp_train
from photoperiod.table.converter import Converter
from photoperiod.table.fit import Target, fit
from photoperiod.table.grid import LevelGrid, RelayMode, Row, TimeGrid
from photoperiod.table.path import LightPath
from photoperiod.table.verify import Claim, faults

HOUR = 3600


def light_path(kind: str = "square-law", relay: str = "column", rounding: str = "half-up",
               dark: str = "relay") -> LightPath:  # fmt: skip
    return LightPath(
        levels=LevelGrid(unit="percent", step=Fraction(2), every_seconds=1, rounding=rounding),
        converter=Converter.nominal(12, 10.0, 10.0),
        ballast=Ballast(kind=kind, floor_volts=1.0, full_volts=10.0, floor_light=0.02, dark=dark,
                        standby_volts=0.5),
        relay=RelayMode(kind=relay, on_level_percent=6.0),
    )  # fmt: skip


def day(start: int, light: float, end: int, shape: str = "sine") -> Curve:
    return Curve((ramp_train(start, [(start, HOUR, light, shape)], end, HOUR, shape),))


def certified(
    path: LightPath, curve: Curve, times: TimeGrid, limit: int
) -> tuple[Claim, np.ndarray]:
    wanted = path.ballast.reachable(curve.light(day_seconds()), path.most_light)
    (found,) = fit([Target(name="x", reachable=wanted, corners=(), path=path)], times, limit)
    proof = found.certificate
    assert found.method == "exact"
    claim = Claim(rows=found.rows, row_limit=limit, error=proof.error, bound=proof.bound,
                  sample_s=proof.sample_s, tolerance_s=proof.tolerance_s)  # fmt: skip
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


def test_what_is_not_verified_is_said() -> None:
    path, curve, times, limit = CASES[0]
    claim, wanted = certified(path, curve, times, limit)
    with pytest.raises(ValueError, match="only lines"):
        faults(claim, wanted, replace(times, between="hold"), path)
