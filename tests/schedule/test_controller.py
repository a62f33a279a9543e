from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from photoperiod.diagnostics.model import Path
from photoperiod.drive.grid import AfterLastRow, Between, LevelUnit, RelayKind, Rounding
from photoperiod.schedule.controller import build_controller
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.model import Controller
from photoperiod.sky.clock import ClockKind
from tests.conftest import changed
from tests.schedule.bench import findings_of, told, top_of

EMITS = "emits: {unit: percent, step: 1, every_seconds: 1, rounding: half-up}"
NOMINAL = "converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}"


def controller(*changes: tuple[str, str]) -> Controller:
    top = top_of(changed(*changes))
    return build_controller(top, findings_of(top))


def found(*changes: tuple[str, str], is_refused: bool = True) -> list[tuple[str, Path]]:
    top = top_of(changed(*changes))
    findings = findings_of(top)
    if is_refused:
        with pytest.raises(AlreadyReported):
            build_controller(top, findings)
    else:
        build_controller(top, findings)
    return [(code, path[1:]) for code, path in told(findings)]


def test_a_controller_as_it_is_written() -> None:
    made = controller()
    assert (made.clock, made.channels, made.setpoints_per_channel) == (ClockKind.STANDARD, 2, 16)
    assert made.times.between is Between.LINE and made.times.after_last_row is AfterLastRow.WRAP
    assert made.relay.kind is RelayKind.COLUMN and made.sink_milliamps == 20.0
    assert made.rounding_is_stated and made.levels.rounding is Rounding.HALF_UP
    # volts of code n: n × 10 V / 4096; the top one is 4095, 9.9976 V
    assert made.converter.full_code == 4095


def test_defaults_are_noted() -> None:
    without = ((f"  {EMITS}\n", ""), ("  time_step_minutes: 1\n", ""))
    assert found(*without, is_refused=False) == [("PHO324", ()), ("PHO324", ())]
    made = controller(*without)
    assert (made.times.step_s, made.levels.unit, made.levels.step) == (60, LevelUnit.PERCENT, 1)
    assert not made.rounding_is_stated


@pytest.mark.parametrize(
    ("minutes", "step_s"),
    [("0.5", 30), ("0.0167", 1), ("720", 43_200), ("7", None), ("0.01", None)],
)
def test_a_time_step_divides_the_day_into_whole_seconds(minutes: str, step_s: int | None) -> None:
    change: Any = ("time_step_minutes: 1", f"time_step_minutes: {minutes}")
    if step_s is None:
        assert found(change) == [("PHO315", ("time_step_minutes",))]
    else:
        assert controller(change).times.step_s == step_s


@pytest.mark.parametrize(
    ("emits", "key"),
    [
        ("{unit: percent, step: 0.3}", "step"),
        ("{unit: percent, step: 0.0005}", "step"),
        ("{unit: millivolts, step: 3}", "step"),
        ("{unit: code, step: 1.5}", "step"),
        ("{unit: code, step: 4096}", "step"),
        ("{unit: percent, step: 1, every_seconds: 7}", "every_seconds"),
    ],
)
def test_steps_of_level_that_do_not_fit(emits: str, key: str) -> None:
    assert found((EMITS, f"emits: {emits}")) == [("PHO315", ("emits", key))]


def test_steps_of_level_that_fit() -> None:
    assert controller((EMITS, "emits: {unit: percent, step: 0.1}")).levels.step == Fraction(1, 10)
    assert controller((EMITS, "emits: {unit: code, step: 4095}")).levels.unit is LevelUnit.CODE


def two_point(low: str, high: str) -> tuple[str, str]:
    return NOMINAL, f"converter: {{kind: two-point, bits: 12, points: [{low}, {high}]}}"


def test_a_measured_converter() -> None:
    made = controller(two_point("{code: 4000, volts: 9.0}", "{code: 1000, volts: 3.0}"))
    # by hand: 6 V over 3,000 codes, 1 V at code 0
    assert made.converter.volts_per_code == pytest.approx(0.002, rel=1e-12)
    assert made.converter.offset_volts == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        ("{code: 0, volts: 0}", "{code: 4096, volts: 9}"),
        ("{code: 100, volts: 1}", "{code: 100, volts: 9}"),
        ("{code: 100, volts: 9}", "{code: 200, volts: 9}"),
        ("{code: 1000, volts: 10.5}", "{code: 4000, volts: 11}"),
    ],
)
def test_a_measured_converter_that_can_not_be(low: str, high: str) -> None:
    assert found(two_point(low, high)) == [("PHO314", ("converter", "points"))]
