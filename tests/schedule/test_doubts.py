"""Values that look as if another unit was meant, just below, at and above each limit."""

from __future__ import annotations

import pytest

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.schedule.build import build_schedule
from photoperiod.source.document import read_text
from tests.conftest import changed, load

DAWN = "start: 09:00, minutes: 60"
PEAKS = "peaks: [{light_percent: 80}]"
FLOOR = "floor: {volts: 1.0, light_percent: 1}"
DAY = f"""      kind: ramps
      dawn: {{{DAWN}}}
      {PEAKS}
      dusk: {{end: 21:00, minutes: 60}}
"""


def asked(*changes: tuple[str, str]) -> list[Diagnostic]:
    document = read_text("test.yaml", changed(*changes).encode())
    _, findings = build_schedule(document, set())
    assert not any(each.severity == "error" for each in findings)
    return [each for each in findings if each.code == "PHO335"]


def test_nothing_is_asked_of_usual_values() -> None:
    assert asked() == []


# Whole minutes, and ten minutes and more, are a ramp that is meant.
@pytest.mark.parametrize(
    ("minutes", "is_asked"),
    [
        ("0", False), ("0.5", True), ("1", False), ("1.5", True), ("2", False), ("9.5", True),
        ("10", False), ("10.5", False),
    ],
)  # fmt: skip
@pytest.mark.parametrize("ramp", ["dawn", "dusk"])
def test_a_ramp_that_looks_like_hours(ramp: str, minutes: str, is_asked: bool) -> None:
    old = DAWN if ramp == "dawn" else "end: 21:00, minutes: 60"
    found = asked((old, old.replace("60", minutes)))
    assert [each.path for each in found] == [
        ("channels", "blue", "day", ramp, "minutes")
    ] * is_asked


def test_the_ramp_to_a_later_peak() -> None:
    steps = "peaks: [{light_percent: 80}, {from: 12:00, minutes: 2.5, light_percent: 90}]"
    (found,) = asked((PEAKS, steps))
    assert found.path == ("channels", "blue", "day", "peaks", 1, "minutes")
    assert found.message == "a ramp of 2.5 minutes: were hours meant?"
    assert found.help == "2.5 hours are `minutes: 150`"


# 0.1 % is the least level of the dimming curve of IEC 62386-102: X(1) = 10^-1 %.
@pytest.mark.parametrize(
    ("percent", "is_asked"), [("0.03", True), ("0.099", True), ("0.1", False), ("0.101", False)]
)
def test_a_floor_that_looks_like_a_share(percent: str, is_asked: bool) -> None:
    found = asked((FLOOR, FLOOR.replace("light_percent: 1", f"light_percent: {percent}")))
    assert [each.path for each in found] == [
        ("ballasts", "pair", "floor", "light_percent")
    ] * is_asked


def test_what_was_probably_meant_by_a_share() -> None:
    (found,) = asked((FLOOR, FLOOR.replace("light_percent: 1", "light_percent: 0.03")))
    assert found.message == "a floor of 0.03 % of full light: was 3 % meant?"


@pytest.mark.parametrize(
    ("percent", "is_asked"), [("0.92", True), ("0.99", True), ("1", True), ("1.01", False)]
)
def test_a_peak_that_looks_like_a_share(percent: str, is_asked: bool) -> None:
    found = asked((PEAKS, PEAKS.replace("80", percent)))
    at = ("channels", "blue", "day", "peaks", 0, "light_percent")
    assert [each.path for each in found] == [at] * is_asked


def test_only_the_brightest_light_of_a_day_counts() -> None:
    steps = "peaks: [{light_percent: 0.5}, {from: 12:00, minutes: 30, light_percent: 90}]"
    assert asked((PEAKS, steps)) == []
    points = "[{time: 09:00, light_percent: 0}, "
    points += "{time: 12:00, light_percent: PEAK}, {time: 15:00, light_percent: 0}]"
    day = f"      kind: points\n      points: {points}\n"
    (found,) = asked((DAY, day.replace("PEAK", "0.92")))
    assert found.path == ("channels", "blue", "day", "points", 1, "light_percent")
    assert found.message == "a day with a peak of 0.92 % of full light: was 92 % meant?"
    assert asked((DAY, day.replace("PEAK", "92"))) == []


def test_a_day_of_the_sun() -> None:
    day = "      kind: sun\n      peak_light_percent: 0.9\n"
    place = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n"
    (found,) = asked((DAY, day), ("controller:\n", place))
    assert found.path == ("channels", "blue", "day", "peak_light_percent")


def test_a_dark_day_is_another_fault() -> None:
    assert asked((PEAKS, PEAKS.replace("80", "0"))) == []


def test_a_day_without_a_peak_for_a_slip_of_the_pen_is_asked_nothing() -> None:
    found = load("test.yaml", changed((PEAKS, PEAKS.replace("peaks", "peaaaks"))).encode())
    assert {each.code for each in found.report} == {"PHO201"}
