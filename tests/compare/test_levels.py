"""Levels that are wrong for long, stuck, or impossible."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.clock_drift import RIGHT
from photoperiod.compare.deviations import deviations_of
from photoperiod.compare.expected import Expected, LoggedLight
from photoperiod.compare.levels import level_findings
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


@pytest.fixture(scope="module")
def expected(table: Path) -> Expected:
    held = read_table("table.json", table.read_bytes())
    return Expected(held, held.clock(None))


def made_light(
    values: np.ndarray, wanted: np.ndarray, *, holds: bool, step_s: float = 300.0
) -> LoggedLight:
    unix_s = START.timestamp() + step_s * np.arange(len(values))
    return LoggedLight(subject="white", is_zone=False, scale=1.0, holds=holds, unix_s=unix_s,
                       values=values, expected=lambda at: np.interp(at, unix_s, wanted))  # fmt: skip


def findings(
    expected: Expected,
    values: list[float],
    wanted: list[float],
    *,
    holds: bool = True,
    limits: Limits = Limits(time_s=0.0),  # noqa: B008
) -> list[Finding]:
    """Findings on a record every five minutes."""
    light = made_light(np.array(values), np.array(wanted), holds=holds)
    return list(level_findings(expected, light, limits, deviations_of(light, limits, RIGHT)))


@pytest.mark.parametrize(("light", "codes_"), [(0.5625, []), (0.578125, ["PHO601"])])
def test_light_is_wrong_beyond_the_tolerance(
    expected: Expected, light: float, codes_: list[str]
) -> None:
    """6.25 % and 7.8125 % too much, in numbers that a computer holds exactly."""
    found = findings(expected, [light] * 6, [0.5] * 6, limits=Limits(light=0.0625))
    assert [f.code for f in found] == codes_


def test_light_that_is_wrong_names_channel_amount_and_time(expected: Expected) -> None:
    (found,) = findings(expected, [0.5, 0.4, 0.3, 0.4, 0.5], [0.5] * 5)
    assert (found.code, found.subject) == ("PHO601", "white")
    assert found.message == (
        "off by up to 20.0 % of full, at 2027-03-02T00:10:00-01:00: 30.0 % light where the table has"
        " 50.0 % light; beyond its tolerance for 0 h 15 min in all"
    )


def test_readings_that_jump_to_both_sides_can_t_be_judged(expected: Expected) -> None:
    """±10 % in turn: steps of 20 %, so σ = 1.4826 × 0.2 ÷ √2 = 21 %."""
    found = findings(expected, [0.4, 0.6] * 10, [0.5] * 20, holds=False)
    assert [one.code for one in found] == ["PHO616"]
    assert "readings scatter by ±21 % of full" in found[0].message and found[0].is_warning
    assert [one.code for one in findings(expected, [0.4, 0.6] * 10, [0.5] * 20)] == ["PHO601"]
    few = findings(expected, [0.48, 0.52] * 10, [0.5] * 20, holds=False)  # σ = 4.2 %
    assert few == []


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


def test_a_stuck_output_does_not_hide_light_in_darkness(expected: Expected) -> None:
    wanted = [0.0] * 6 + [0.1 + 0.02 * n for n in range(14)]
    assert [one.code for one in findings(expected, [0.2] * 20, wanted)] == ["PHO615", "PHO606"]


def test_light_in_darkness_says_how_much_when_and_how_long(expected: Expected) -> None:
    (found,) = findings(expected, [0, 0, 0.01, 0.5, 0, 0], [0.0] * 6)
    assert (found.code, found.is_warning) == ("PHO615", True)
    assert found.message == (
        "light where the table is dark, for 0 h 10 min in all: up to 50.0 % light, first at"
        " 2027-03-02T00:10:00-01:00"
    )


@pytest.mark.parametrize(("table_light", "code"), [(0.0, "PHO615"), (0.5, "PHO601")])
def test_a_single_reading_of_a_meter_is_noted_only(
    expected: Expected, table_light: float, code: str
) -> None:
    values, wanted = np.full(30, table_light), np.full(30, table_light)
    for readings, is_warning in ((1, False), (2, True)):
        values[10 : 10 + readings] = 0.9
        light = made_light(values, wanted, holds=False, step_s=60.0)
        limits = Limits(time_s=0.0)
        (found,) = level_findings(expected, light, limits, deviations_of(light, limits, RIGHT))
        assert (found.code, found.is_warning) == (code, is_warning)
        assert ("a slip of the meter" in found.message) is not is_warning


@pytest.mark.parametrize("minutes", [1, 5, 10])
@pytest.mark.parametrize("kind", ["even", "normal"])
def test_noise_of_0_3_volts_is_noise(
    table: Path, compare: Compare, minutes: int, kind: str
) -> None:
    """±0.3 V around the pair: even between the ends, or normal with two σ at them."""
    noise = random.Random(7)

    def meter(n: int, volts: float, relay: bool) -> tuple[float, bool] | None:
        more = noise.uniform(-0.3, 0.3) if kind == "even" else noise.gauss(0, 0.15)
        return (volts + more, relay) if n % (60 * minutes) == 0 else None

    code, out, _ = compare(log(table, meter, days=3))
    assert (code, codes(out)) == (0, [])


@pytest.mark.parametrize("minutes", [1, 5, 10])
def test_a_fault_in_noise_is_found(table: Path, compare: Compare, minutes: int) -> None:
    """0.8 V too little for four hours: at 8.9 V of a square law 13 % of full."""
    noise = random.Random(7)

    def meter(n: int, volts: float, relay: bool) -> tuple[float, bool] | None:
        less = 0.8 if 43_200 <= n < 57_600 else 0.0
        return (volts - less + noise.uniform(-0.3, 0.3), relay) if n % (60 * minutes) == 0 else None

    code, out, _ = compare(log(table, meter))
    assert code == 1 and "PHO601" in codes(out)


def test_a_bias_that_no_single_reading_shows_is_found(table: Path, compare: Compare) -> None:
    """0.3 V too little in ±0.3 V of noise: 5 % of full at 8.9 V, where four σ are 12 %."""
    noise = random.Random(7)

    def meter(n: int, volts: float, relay: bool) -> tuple[float, bool] | None:
        less = 0.3 if 43_200 <= n < 64_800 else 0.0
        return volts - less + noise.uniform(-0.3, 0.3), relay

    code, out, _ = compare(log(table, meter))
    assert code == 1 and "PHO601" in codes(out)


def test_an_open_pair_is_told_in_noise_and_noise_is_none(table: Path, compare: Compare) -> None:
    noise = random.Random(7)

    def meter(more: float) -> str:
        return log(
            table, lambda n, v, r: (v + noise.gauss(0, 0.15) + (more if n > 40_000 else 0), r)
        )

    assert "PHO612" not in compare(meter(0.0))[1]
    assert "PHO612" in compare(meter(2.5))[1]
