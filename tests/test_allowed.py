"""What a schedule may say, and what must not be said of it: all stages together."""

from __future__ import annotations

import pytest

from photoperiod.days.day_curves import DayCurves
from tests.codes.damage import changed
from tests.conftest import load

# What must be allowed


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ('"double \\" quote"', 'double " quote'),
        ("'single '' quote'", "single ' quote"),
        ('"two\\nlines"', "two\nlines"),
        ('"tab\\tand\\u00a0space"', "tab\tand\u00a0space"),
        (
            "\U0001f420 \U0001f469\u200d\U0001f52c e\u0301 水槽",
            "\U0001f420 \U0001f469\u200d\U0001f52c e\u0301 水槽",
        ),
        ("l" * 200, "l" * 200),
        ("\U0001f420" * 200, "\U0001f420" * 200),
        ("../../etc", "../../etc"),
        ("<b>&amp;</b>", "<b>&amp;</b>"),
        ("=1+1", "=1+1"),
        ("'yes'", "yes"),
        ("on", "on"),
        ("7:30", "7:30"),
    ],
)
def test_any_label(written, meant):
    text = changed(("  blue-b: {watts: 54}", f"  blue-b:\n    label: {written}\n    watts: 54"))
    outcome = load("test.yaml", text.encode())
    assert list(outcome.report) == []
    assert outcome.schedule.tubes["blue-b"].label == meant


@pytest.mark.parametrize("time", ["9:00", "09:00", "09:00:00", "'09:00'", '"9:00"'])
def test_ways_to_write_a_time(time):
    outcome = load("test.yaml", changed(("start: 09:00", f"start: {time}")).encode())
    assert list(outcome.report) == []
    assert min(DayCurves(outcome.schedule).by_clock["blue"].corners()) == 9 * 3600


@pytest.mark.parametrize("end", ["24:00", "00:00", "24:00:00"])
def test_ways_to_end_at_midnight(end):
    outcome = load("test.yaml", changed(("end: 21:00", f"end: {end}")).encode())
    assert not outcome.report.has_errors
    assert 0 in DayCurves(outcome.schedule).by_clock["blue"].corners()


@pytest.mark.parametrize(
    "change",
    [
        ("{time: 18:00", "{time: 11:00"),  # 24 hours after the first
        ("{time: 13:00", "{time: 11:00"),  # a step
        ("{time: 20:00", "{time: 24:00"),
        ("{time: 20:00", "{time: 02:00"),  # the next morning
        ("from: 15:00", "from: 12:30"),  # right where the ramp before it ends
        ("end: 21:00, minutes: 60", "end: 21:00, minutes: 330"),
        ("end: 21:00, minutes: 60", "end: 24:00, minutes: 60"),
        ("minutes: 60, shape: sine", "minutes: 0, shape: sine"),
        ("dli: [3, 9]", "dli: [9, 9]"),
        ("below_volts: 0.5", "below_volts: 0.6"),
        ("ppfd_max: 400", "ppfd_max: 4e2"),
        ("channels: 2", "channels: 0x2"),
        ("setpoints_per_channel: 16", "setpoints_per_channel: 16.0"),
        ("{volts: 7.0, light_percent: 60}", "{volts: 7.0, light_percent: 60.0}"),
        ("time_step_minutes: 1", "time_step_minutes: 0.5"),
        ("unit: percent, step: 1,", "unit: percent, step: 0.1,"),
        ("unit: percent, step: 1,", "unit: millivolts, step: 12.5,"),
        ("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 6}"),
        ("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 1}"),
        ("fitted: 2027-03-02", "fitted: 2028-02-29"),
        ("fitted: 2027-03-02", "fitted: 2027-03-02T23:59"),
        ("light_percent: 80", "light_percent: 0"),
        ("light_percent: 80", "light_percent: 100"),
    ],
)
def test_limits_themselves_are_allowed(change):
    changes = [change]
    if change == ("{time: 18:00", "{time: 11:00"):
        changes.append(("        - {time: 20:00, light_percent: 0}\n", ""))
    outcome = load("test.yaml", changed(*changes).encode())
    assert list(outcome.report) == []
    assert outcome.schedule is not None


# What must not be believed


@pytest.mark.parametrize(
    ("changes", "untrue"),
    [
        # no relay level suits this ballast, so no range can be offered
        (
            [
                ("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 15}"),
                ("unit: percent, step: 1,", "unit: percent, step: 20,"),
            ],
            "choose from 20 to 10 %",
        ),
        # the point is no later than the one above it, it is one too many
        (
            [("{time: 13:00", "{time: 11:00"), ("{time: 18:00", "{time: 11:00")],
            "write the points in the order",
        ),
        # a step of nothing would be out of range
        ([("step: 1,", "step: 3.0e-12,")], "a step of 0 "),
        ([("time_step_minutes: 1", "time_step_minutes: 1.0e-9")], "steps of 0 minutes"),
        # no day has 46 hours
        (
            [
                ("start: 09:00, minutes: 60", "start: 23:00, minutes: 0"),
                ("from: 12:00, minutes: 30", "from: 22:00, minutes: 1440"),
                ("        - {from: 15:00, minutes: 30, light_percent: 60}\n", ""),
            ],
            "46:00",
        ),
        # 4.0002 V does rise above 4.0001 V; the words must show why they were refused
        (
            [
                ("{volts: 4.0, light_percent: 20}", "{volts: 4.0002, light_percent: 20}"),
                ("{volts: 7.0, light_percent: 60}", "{volts: 4.0001, light_percent: 60}"),
            ],
            "4 V does not rise above the 4 V",
        ),
        ([("ppfd_max: 400", "ppfd_max: !!int [4]")], "unknown tag '!!int'"),
        ([("title: Test bench", "title: !!map Test")], "unknown tag '!!map'"),
        # no bracket and no indentation has to do with these
        ([("title: Test bench", "title: *star*")], "bracket"),
        ([("title: Test bench", "title: 'Keeper's bench'")], "bracket"),
        # the line that is marked has one ':' and is indented right; the one above it has none
        ([("  clock: standard\n", "  clock standard\n")], "a second ':' in one line"),
        ([("start: 09:00", "start: noonish")], "follow the sun"),
        # a line end does not look like anything
        ([("start: 09:00", 'start: "09:00\\n"')], "looks alike"),
        # moonlight has no points
        ([("end: 02:00", "end: 22:00")], "write `kind: points`"),
        # 0.9975 V, not 1 V, is below a floor at 1 V
        ([("most_volts: 10.0", "most_volts: 0.9998")], "top, 1 V,"),
    ],
    ids=range(15),
)
def test_nothing_untrue_is_said(changes, untrue):
    report = load("test.yaml", changed(*changes).encode()).report
    report = [diagnostic for diagnostic in report if diagnostic.severity != "note"]
    assert len(report) == 1
    assert untrue not in report[0].message
    assert untrue not in report[0].help


def test_a_decimal_comma_is_understood():
    text = changed(("full_volts: 10.0", "full_volts: '9,5'"))
    diagnostic = next(iter(load("test.yaml", text.encode()).report))
    assert diagnostic.code == "PHO203"
    assert diagnostic.help == "write it with a decimal point: 9.5"


def test_a_second_can_be_a_time_step():
    text = changed(("time_step_minutes: 1", "time_step_minutes: 0.0167"))
    schedule = load("test.yaml", text.encode()).schedule
    assert schedule is not None
    assert schedule.controller.times.step_s == 1


def test_a_long_slow_fall_of_a_measured_response_is_no_noise():
    # 1.9 % and 1.9 % down: each a dip that might be noise, both together a fall
    fall = "{volts: 7.0, light_percent: 62.1}\n        - {volts: 7.5, light_percent: 60.2}"
    text = changed(
        ("{volts: 4.0, light_percent: 20}", "{volts: 4.0, light_percent: 64}"),
        ("{volts: 7.0, light_percent: 60}", fall),
    )
    found = [(d.code, d.message) for d in load("test.yaml", text.encode()).report]
    assert found == [("PHO310", "the light has fallen by 3.8 % of full here")]
