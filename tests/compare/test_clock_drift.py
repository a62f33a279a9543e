"""The clock behind a log: right, off, drifting, or set meanwhile."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.clock_drift import ClockShift
from tests.compare.logs import (
    DAY_S,
    Compare,
    codes,
    log,
)


@pytest.mark.parametrize(("ahead_h", "words"), [(1, "1 h 00 min ahead of"), (-1, "1 h 00 min behind"),
                                                (-9, "9 h 00 min behind")])  # fmt: skip
def test_a_clock_that_is_hours_off_is_one_mistake(
    table: Path, compare: Compare, ahead_h: int, words: str
) -> None:
    code, out, _ = compare(log(table, shift=lambda n: ahead_h * 3600))
    assert (code, codes(out)) == (1, ["PHO604"])
    assert f"the controller's clock is {words} the log's times, or the log's times are off" in out
    assert "summer time, or another zone" in out


def test_a_clock_that_drifts_is_told_with_its_rate(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, days=5, shift=lambda n: 40 * n // DAY_S))
    assert (code, codes(out)) == (1, ["PHO611"])
    assert (
        "the controller's clock gains 40 s a day; by the last date it is 0 h 03 min ahead of them"
        in out
    )
    assert "or the log's times are off the other way: look at both clocks" in out


def test_a_clock_a_few_seconds_off_is_fine(table: Path, compare: Compare) -> None:
    assert compare(log(table, shift=lambda n: 25))[0] == 0


@pytest.mark.parametrize(
    ("days", "per_day_s"), [(14, -600), (14, 600), (45, 60), (2, -600), (5, -200)]
)
def test_any_drift_is_told_with_its_rate_and_nothing_else(
    table: Path, compare: Compare, days: int, per_day_s: int
) -> None:
    code, out, _ = compare(log(table, days=days, shift=lambda n: per_day_s * n // DAY_S))
    assert (code, [c for c in codes(out) if c != "PHO605"]) == (1, ["PHO611"])
    gains = "gains" if per_day_s > 0 else "loses"
    told = int(out.split(f"the controller's clock {gains} ")[1].split()[0])
    assert told == pytest.approx(abs(per_day_s), abs=max(5, abs(per_day_s) / 20))


@pytest.mark.parametrize("behind_s", [15_420, 20_700, 41_000])
def test_a_clock_that_began_anew_is_found_to_the_minute(
    table: Path, compare: Compare, behind_s: int
) -> None:
    code, out, _ = compare(log(table, shift=lambda n: -behind_s))
    assert (code, codes(out)) == (1, ["PHO604"])
    minutes = round(behind_s / 60)
    assert f"{minutes // 60} h {minutes % 60:02d} min behind" in out and "whole or half" not in out


def test_a_clock_off_without_a_relay_in_the_log_is_still_one_mistake(
    table: Path, compare: Compare
) -> None:
    # the pair alone: what a voltmeter sees; volts also stand there while the relay is open
    text = log(table, shift=lambda n: 3600, head="time,blue_volts,lamp")
    code, out, _ = compare(text)
    assert (code, codes(out)) == (1, ["PHO604"])


def test_a_clock_that_was_set_meanwhile_is_told_from_when(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, days=4, shift=lambda n: 3600 if n >= 2 * DAY_S else 0))
    assert (code, codes(out)) == (1, ["PHO604"])
    assert "from 2027-03-02 right, from 2027-03-04 1 h 00 min ahead" in out


def test_a_part_of_a_day_with_a_clock_off_is_one_mistake(table: Path, compare: Compare) -> None:
    text = log(table, lambda n, v, r: (v, r) if 28_800 < n < 43_200 else None,
               shift=lambda n: 1800)  # fmt: skip
    code, out, _ = compare(text, "--part-of-day")
    assert (code, codes(out)) == (1, ["PHO604"])


def test_a_shift_holds_from_its_instant_and_a_drift_grows() -> None:
    stepped = ClockShift(np.array([100.0, 200.0]), np.array([10.0, -20.0]))
    assert stepped.at(np.array([50.0, 100.0, 199.0, 200.0, 900.0])).tolist() == [
        10,
        10,
        10,
        -20,
        -20,
    ]
    # 5 s at the beginning, and 1 s more in each 100 s
    drifting = ClockShift(np.array([100.0]), np.array([5.0]), 0.01)
    assert drifting.at(np.array([0.0, 100.0, 300.0])).tolist() == [4, 5, 7]


@pytest.mark.parametrize(("within_s", "is_right"), [(89, False), (90, True)])
def test_the_limit_of_a_right_clock_is_within_seconds(
    table: Path, compare: Compare, within_s: int, is_right: bool
) -> None:
    text = log(table, shift=lambda n: 90)
    code, out, _ = compare(text, "--within-seconds", within_s)
    assert (code, codes(out)) == ((0, []) if is_right else (1, ["PHO604"]))
