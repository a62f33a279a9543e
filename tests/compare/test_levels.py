"""Levels that are wrong for long, stuck, or impossible."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.clock_drift import RIGHT
from photoperiod.compare.expected import Expected, LoggedLight
from photoperiod.compare.levels import lasts, level_findings
from photoperiod.compare.model import Finding, Limits
from photoperiod.formats import table_json
from photoperiod.formats.table import read_table
from tests.compare.logs import (
    PLACE,
    SPAN,
    START,
    Compare,
    codes,
    log,
)
from tests.conftest import Run, changed, compiled


def test_steps_a_little_late_are_right(run: Run, tmp_path: Path) -> None:
    day = ("      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
           "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
           "      kind: points\n      points:\n" + "".join(
               f"        - {{time: {time}, light_percent: {light}}}\n" for time, light in (
                   ("09:00", 25), ("14:00", 25), ("14:00", 50), ("21:00", 50))))  # fmt: skip
    outcome = compiled(changed(PLACE, day), SPAN)
    assert outcome.program is not None
    steps = tmp_path / "steps.json"
    steps.write_bytes(table_json.render(outcome.program, outcome.report.sorted()))
    path = tmp_path / "log.csv"
    path.write_text(log(steps, shift=lambda n: -45), encoding="utf-8")
    code, out, _ = run("compare", steps, path)
    assert (code, codes(out)) == (0, [])


def test_noise_of_a_meter_is_no_fault_and_does_not_hide_one(table: Path, compare: Compare) -> None:
    noise = random.Random(1)

    def meter(n: int, volts: float, relay: bool) -> tuple[float, bool]:
        return volts * noise.gauss(1, 0.015), relay

    assert compare(log(table, meter))[0] == 0

    def stuck(n: int, volts: float, relay: bool) -> tuple[float, bool]:
        held = 3.0 if n < 50_000 else volts
        return held * noise.gauss(1, 0.005), relay

    code, out, _ = compare(log(table, stuck))
    assert code == 1 and "PHO606" in codes(out)


def test_an_open_pair_is_told(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, lambda n, v, r: (11.2 if n > 40_000 else v, r)))
    assert code == 1 and "PHO612" in codes(out) and "is the pair open (full light)" in out


@pytest.mark.parametrize(
    ("lengths", "expected"),
    [([200, 200, 200], True), ([200, 200, 199], False), ([300, 300], False), ([1, 599, 0], True)],
)
def test_what_lasts_takes_ten_minutes_and_three_records(
    lengths: list[float], expected: bool
) -> None:
    assert lasts(np.full(len(lengths), True), np.array(lengths, dtype=float)) is expected


def test_a_break_begins_anew() -> None:
    wrong = np.array([True, True, False, True, True, True])
    assert not lasts(wrong, np.full(6, 199.0))
    assert lasts(wrong, np.full(6, 200.0))


@pytest.fixture(scope="module")
def expected(table: Path) -> Expected:
    held = read_table("table.json", table.read_bytes())
    return Expected(held, held.clock(None))


def findings(expected: Expected, values: list[float], wanted: list[float]) -> list[Finding]:
    """Findings on a record every five minutes."""
    unix_s = START.timestamp() + 300.0 * np.arange(len(values))
    given, table_has = np.array(values), np.array(wanted)
    light = LoggedLight(subject="white", is_zone=False, scale=1.0, holds=True, unix_s=unix_s,
                        values=given, expected=lambda at: np.interp(at, unix_s, table_has))  # fmt: skip
    away = np.abs(given - table_has)
    return list(level_findings(expected, light, Limits(), RIGHT, away, table_has))


@pytest.mark.parametrize(("light", "codes_"), [(0.5625, []), (0.578125, ["PHO601"])])
def test_light_is_wrong_beyond_the_tolerance(
    expected: Expected, light: float, codes_: list[str]
) -> None:
    """6.25 % and 7.8125 % too much, in numbers that a computer holds exactly."""
    unix_s = START.timestamp() + 300.0 * np.arange(6)
    one = LoggedLight(subject="white", is_zone=False, scale=1.0, holds=True, unix_s=unix_s,
                      values=np.full(6, light), expected=lambda at: np.full(at.shape, 0.5))  # fmt: skip
    found = list(level_findings(expected, one, Limits(light=0.0625), RIGHT,
                                np.full(6, light - 0.5), np.full(6, 0.5)))  # fmt: skip
    assert [f.code for f in found] == codes_


def test_light_that_is_wrong_names_channel_amount_and_time(expected: Expected) -> None:
    (found,) = findings(expected, [0.5, 0.4, 0.3, 0.4, 0.5], [0.5] * 5)
    assert (found.code, found.subject) == ("PHO601", "white")
    assert found.message == (
        "off by up to 20.0 % of full, at 2027-03-02T00:10:00-01:00: 30.0 % light where the table has"
        " 50.0 % light; beyond 2 % for 0 h 15 min in all"
    )


def test_light_that_is_wrong_to_both_sides_in_turn_is_noise(expected: Expected) -> None:
    assert findings(expected, [0.4, 0.6] * 10, [0.5] * 20) == []


def test_an_output_is_stuck_for_an_hour_or_more(expected: Expected) -> None:
    """The table rises by 2 % in each five minutes; the output stays at 10 % for 13 records."""
    wanted = [0.1 + 0.02 * n for n in range(20)]
    given = [0.1] * 13 + wanted[13:]
    (found,) = findings(expected, given, wanted)
    assert (found.code, found.subject) == ("PHO606", "white")
    assert found.message.startswith("stuck at 10.0 % light for 1 h 00 min from 2027-03-02T00:00:00")
    assert found.message.endswith("from 10.0 % light to 34.0 % light")
    (found,) = findings(expected, [0.1] * 12 + wanted[12:], wanted)  # 55 minutes
    assert found.code == "PHO601"
