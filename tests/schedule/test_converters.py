"""Converters of the controller and of single channels."""

from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.api import load_text
from photoperiod.drive.converter import Converter, ConverterKind
from photoperiod.schedule.converters import check_outputs
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Schedule
from tests.conftest import changed, load

NOMINAL = "converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}"
POINTS = "[{code: 400, volts: 1.0}, {code: 2000, volts: 5.0}, {code: 3600, volts: 9.4}]"
TUBES = "    tubes: [blue-a]\n"


def own(text: str) -> tuple[str, str]:
    return TUBES, f"{TUBES}    converter: {text}\n"


def schedule_of(*changes: tuple[str, str]) -> Schedule:
    return load_text("x", changed(*changes).encode()).schedule


def test_a_converter_of_several_points_is_read() -> None:
    schedule = schedule_of((NOMINAL, f"converter: {{kind: measured, bits: 12, points: {POINTS}}}"))
    converter = schedule.controller.converter
    assert converter.kind is ConverterKind.MEASURED
    assert converter.points == ((400, 1.0), (2000, 5.0), (3600, 9.4))


def test_a_channel_has_its_own_converter_or_none() -> None:
    assert schedule_of().channels["blue"].converter is None
    text = (
        "{kind: two-point, bits: 12, points: [{code: 400, volts: 1.05}, {code: 3600, volts: 9.49}]}"
    )
    made = schedule_of(own(text)).channels["blue"].converter
    assert made == Converter.two_point(12, (400, 1.05), (3600, 9.49), 10.0)


@pytest.mark.parametrize(
    ("text", "marked", "message"),
    [
        ("{kind: nominal, bits: 10, full_scale_volts: 10}", "10",
         "channel 'blue' has 10 bits, the controller 12: the same code goes to all outputs"),
        ("{kind: measured, bits: 12, points: [{code: 9, volts: 1}, {code: 5000, volts: 9}]}",
         "[{code: 9, volts: 1}, {code: 5000, volts: 9}]", "code 5000 does not fit into 12 bits"),
        ("{kind: measured, bits: 12, points: [{code: 9, volts: 1}, {code: 9, volts: 9}]}",
         "[{code: 9, volts: 1}, {code: 9, volts: 9}]", "two points are at code 9"),
        ("{kind: measured, bits: 12, points: [{code: 90, volts: 1}, {code: 9, volts: 9}]}",
         "[{code: 90, volts: 1}, {code: 9, volts: 9}]",
         "code 9 stands behind code 90: write the points in their order"),
        ("{kind: measured, bits: 12, points: [{code: 9, volts: 5}, {code: 90, volts: 5}]}",
         "[{code: 9, volts: 5}, {code: 90, volts: 5}]", "code 90 gives no more volts than code 9"),
        ("{kind: nominal, bits: 12, full_scale_volts: 0.8}",
         "{kind: nominal, bits: 12, full_scale_volts: 0.8}",
         "the port's top, 0.799805 V, is below the floor of 'pair'"),
        ("{kind: two-point, bits: 12, points: [{code: 0, volts: 1.5}, {code: 3600, volts: 9}]}",
         "{kind: two-point, bits: 12, points: [{code: 0, volts: 1.5}, {code: 3600, volts: 9}]}",
         "the port gives at least 1.5 V, so 'pair' can never reach its floor"),
    ],
)  # fmt: skip
def test_what_is_no_converter_of_a_channel(text: str, marked: str, message: str) -> None:
    written = changed(own(text))
    outcome = load("x", written.encode())
    (fault,) = outcome.report
    assert (fault.code, fault.message) == ("PHO314", message)
    at = fault.source_range
    assert at is not None
    assert written.splitlines()[at.line - 1][at.column - 1 : at.end_column - 1] == marked


def test_schedules_built_in_python_are_checked_too() -> None:
    schedule, findings = schedule_of(), Findings()
    blue = replace(schedule.channels["blue"], converter=Converter.nominal(10, 10.0, 10.0))
    check_outputs(schedule.controller, [blue, schedule.channels["blue"]], findings)
    assert [each.path for each in findings] == [("channels", "blue", "converter", "bits")]
