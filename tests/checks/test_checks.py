"""Every check has a schedule that breaks it, found at its line, column and words."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest

from photoperiod.checks.registry import CHECKS
from photoperiod.checks.run import run_checks
from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.model import Diagnostic, Severity
from photoperiod.program.model import DateSpan
from photoperiod.report.text import excerpt
from tests.conftest import SCHEDULE, Outcome, changed, compiled

SPAN = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 5))

NEVER = ("    dark: {kind: relay}\n", "    dark: {kind: never}\n")
NO_RELAY = ("  relay: {kind: column}\n", "  relay: {kind: none}\n")
MOON = (
    "channels:\n",
    "channels:\n  moon:\n    ballast: pair\n    full_ppfd: {zones: {crest: 20}}\n"
    "    moonlight: {kind: steady, light_percent: 2, start: 21:00, end: 09:00}\n",
)

PLACE = (
    "controller:\n",
    "place: {latitude: 38.7, longitude: -9.1, time_zone: Europe/Lisbon}\ncontroller:\n",
)

#: Other dates for cases that need them.
SPANS = {"PHO425": DateSpan(dt.date(2027, 10, 30), dt.date(2027, 11, 1))}

#: code, changes to SCHEDULE, line, column, marked words, part of the message
NEW = ("{watts: 54}", "{watts: 54, fitted: 2027-03-02T08:00, burn_in_full_hours: 12}")
CASES = [
    ("PHO401", [("most_volts: 10.0", "most_volts: 5.0")], 26, 3, "blue",
     "'blue' asks for 80 % light, but the 5 V of the port give 25 %"),
    ("PHO402", [("ppfd_max: 200", "ppfd_max: 90")], 24, 34, "90",
     "zone 'crest' gets 102.9 µmol m⁻² s⁻¹"),
    ("PHO427", [("    tubes: [blue-a]\n", "    tubes: [blue-a]\n    safe_light_percent: 90\n"),
              ("ppfd_max: 200", "ppfd_max: 110")],
     29, 25, "90", "in the safe state zone 'crest' gets 117.3 µmol m⁻² s⁻¹, over its limit of 110"),
    ("PHO403", [NEVER, NO_RELAY], 27, 14, "pair",
     "'blue' is never dark: ballast 'pair' holds 1 % light all night"),
    ("PHO404", [("setpoints_per_channel: 16", "setpoints_per_channel: 1")], 26, 3, "blue",
     "'blue' needs 2 rows to light and go dark as planned, the controller holds 1"),
    ("PHO404", [("  channels: 2\n", "  channels: 1\n"), MOON], 5, 13, "1",
     "the plan has 2 channels, the controller drives 1"),
    ("PHO405", [("dli: [3, 5]", "dli: [9, 14]")], 24, 16, "[9, 14]",
     "zone 'crest' gets a DLI of 4.08 mol m⁻² d⁻¹, below its band of 9 to 14"),
    ("PHO405", [("dli: [3, 5]", "dli: [1, 2]")], 24, 16, "[1, 2]", "above its band of 1 to 2"),
    ("PHO406", [("{watts: 54}", "{watts: 54, fitted: 2027-03-02T10:00, burn_in_full_hours: 12}"),
              ("title: Test bench\n", "title: Test bench\nburn_in: leave\n")],
     23, 69, "12", "tube 'blue-a' is dimmed on 2027-03-02 at 10:00 to 89 % level with 12 h"),
    ("PHO407", [("ppfd_max: 200", "ppfd_rise_per_minute_max: 1")], 24, 50, "1",
     "zone 'crest' rises by"),
    ("PHO408", [MOON, ("light_percent: 2,", "light_percent: 3,")], 24, 3, "crest",
     "zone 'crest' is below 0.15 µmol m⁻² s⁻¹ for 0 h 00 min at a stretch, less than 8 h"),
    ("PHO408", [("dark_hours_min: 8", "dark_hours_min: 13")], 24, 3, "crest", "less than 13 h"),
    ("PHO409", [("light_percent: 80}", "light_percent: 1.0}"), ("floor: {volts: 1.0, light_percent: 1}",
     "floor: {volts: 2.0, light_percent: 2}")], 26, 3, "blue", "change the day of 'blue' from 0.11"),
    ("PHO410", [("setpoints_per_channel: 16", "setpoints_per_channel: 3")], 26, 3, "blue",
     "more than a tolerance of 30 s explains"),
    ("PHO411", [("      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
               "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
               "      kind: points\n      points:\n" + "".join(
                   f"        - {{time: {time}, light_percent: {light}}}\n"
                   for time, light in (("09:00", 50), ("12:00", 50), ("12:00", 0), ("13:00", 0),
                                       ("13:00", 50), ("15:00", 50), ("15:00", 0), ("16:00", 0),
                                       ("16:00", 50), ("20:00", 50))))],
     26, 3, "blue", "the tubes of 'blue' start 3 times a day"),
    ("PHO412", [("    ballast: pair\n", "    ballast: pair\n    ballast_count: 11\n")], 26, 3, "blue",
     "the 11 ballasts of 'blue' source up to 22 mA, the port sinks 20 mA"),
    ("PHO413", [("    dark: {kind: relay}\n", "    dark: {kind: standby, below_volts: 0.2}\n"),
              ("      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
               "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
               "      kind: points\n      points:\n" + "".join(
                   f"        - {{time: {time}, light_percent: {light}}}\n"
                   for time, light in (("09:00", 1), ("12:00", 1), ("12:00", 0), ("13:00", 0),
                                       ("13:00", 1), ("15:00", 1), ("15:00", 0), ("16:00", 0),
                                       ("16:00", 1), ("20:00", 1))))],
     26, 3, "blue", "s a day between 0.2 V and 1 V, where its light is not defined"),
    ("PHO414", [("{watts: 54}", "{watts: 54, lit_hours: 8990, replace_after_hours: 9000}")],
     22, 61, "9000", "tube 'blue-a' will have burned 9050 h by 2027-03-05, more than 9000 h"),
    ("PHO415", [("channels:\n", "accept:\n  - {finding: night-not-dark, because: an old reason}\n"
               "channels:\n")], 26, 15, "night-not-dark", "'night-not-dark' is accepted but"),
    ("PHO416", [("step: 1,", "step: 5,"), (", rounding: half-up", "")], 11, 3, "emits",
     "would change 'blue' by up to"),
    ("PHO418", [("time_step_minutes: 1", "time_step_minutes: 240"), ("between: line", "between: hold"),
              ("ppfd_max: 200", "ppfd_max: 300")], 26, 3, "blue", "full-light hours a day, the"),
    ("PHO419", [NEW, ("ppfd_max: 200", "ppfd_max: 120")], 26, 3, "blue",
     "'blue' owes burn-in and is dimmed by the plan from 2027-03-02 to 2027-03-05: zone 'crest'"
     " would get 129.9 µmol m⁻² s⁻¹ from it alone, over its ppfd_max of 120"),
    ("PHO420", [NEW, ("ppfd_max: 200", "peak_rise_percent_max: 10")], 24, 3, "crest",
     "the peak of zone 'crest' rises on 2027-03-02 from 102.9 to 129.9 µmol m⁻² s⁻¹"),
    ("PHO421", [NEW], 26, 3, "blue", "'blue' burns in at full from 10:36 to 19:24"),
    ("PHO422", [NEW, ("start: 09:00", "start: 18:00"), ("end: 21:00", "end: 06:00")], 26, 3, "blue",
     "the table changes at the midnight that begins 2027-03-02 while 'blue' is lit: from 79.19 to 99.95 %"
     " of full at once (2 such changes)"),
    ("PHO423", [MOON], 29, 5, "moonlight",
     "the moonlight of 'moon' gives zone 'crest' up to 0.4 µmol m⁻² s⁻¹; from 0.15 on"),
    ("PHO424", [PLACE, MOON, ("{kind: steady, light_percent", "{kind: phase, full_light_percent")],
     30, 5, "moonlight", "'moon' shows the moon on 0 of 5 dates that have one"),
    ("PHO426", [("controller:\n", PLACE[1].replace("controller:", "seasons: {tables: 1}\ncontroller:")),
              (MOON[0], MOON[1].replace("{kind: steady, light_percent: 2,",
                                        "{kind: phase-and-rise, full_light_percent: 90,"))],
     28, 3, "moon", "the table of 'moon' from 2027-03-01 stands for 5 dates, on some of which its light is off by"),  # noqa: E501
    ("PHO425", [PLACE, ("clock: standard", "clock: civil"), ("start: 09:00, minutes: 60", "start: 00:10, minutes: 600")],  # noqa: E501
     27, 3, "blue", "on 2027-10-31 the controller's clock is set back while the light of 'blue' changes"),
    ("PHO417", [("      dusk: {end: 21:00, minutes: 60}\n", "      dusk: {end: 21:00, minutes: 60}\n"
               "    moonlight: {kind: steady, light_percent: 2, start: 21:05, end: 23:00}\n")],
     26, 3, "blue", "'blue' goes dark at 21:00 for 5 min and lights again"),
]  # fmt: skip


def found(outcome: Outcome, code: str) -> Diagnostic:
    matching = [d for d in outcome.report if d.code == code]
    assert len(matching) == 1, [d.message for d in outcome.report]
    return matching[0]


def test_the_test_schedule_has_nothing_to_complain_of() -> None:
    outcome = compiled(SCHEDULE, SPAN)
    assert outcome.report.sorted() == []
    assert outcome.report.not_run == {}


@pytest.mark.parametrize(
    ("code", "changes", "line", "column", "marked", "words"),
    CASES,
    ids=[f"{case[0]}-{number}" for number, case in enumerate(CASES)],
)
def test_case(
    code: str, changes: list[tuple[str, str]], line: int, column: int, marked: str, words: str
) -> None:
    outcome = compiled(changed(*changes), SPANS.get(code, SPAN))
    diagnostic = found(outcome, code)
    assert words in diagnostic.message
    span = diagnostic.source_range
    assert span is not None
    assert (span.line, span.column) == (line, column)
    source_line = outcome.document.lines[line - 1]
    assert source_line[column - 1 : span.end_column - 1] == marked
    shown, marks = excerpt(outcome.document.lines, span)
    assert shown == f"  {line} | {source_line}"
    assert marks == f"  {' ' * len(str(line))} | {' ' * (column - 1)}{'~' * len(marked)}"
    severity = Severity(CODES[code].severity)
    assert diagnostic.severity is severity
    assert diagnostic.help or code == "PHO405"


def test_every_check_code_has_a_case() -> None:
    assert {case[0] for case in CASES} == {code for code in CODES if code[3] == "4"}


def test_every_check_is_registered_once_in_the_order_of_codes() -> None:
    codes = [check.code for check in CHECKS]
    assert codes == sorted(set(codes))
    assert set(codes) | {"PHO415"} == {code for code in CODES if code[3] == "4"}
    for check in CHECKS:
        assert check.run.__doc__
        assert CODES[check.code].name.replace("-", "_") == check.run.__name__


def test_a_hard_finding_accepted_by_name_no_longer_stands_in_the_way() -> None:
    accept = "accept:\n  - {finding: night-not-dark, because: a refugium of algae}\nchannels:\n"
    outcome = compiled(changed(NEVER, NO_RELAY, ("channels:\n", accept)), SPAN)
    diagnostic = found(outcome, "PHO403")
    assert diagnostic.severity is Severity.ACCEPTED
    assert diagnostic.accepted == "a refugium of algae"
    assert not outcome.report.has_errors
    assert "PHO415" not in {d.code for d in outcome.report}


@pytest.mark.parametrize("limit", ["channels: [other]", "zones: [crest]"])
def test_an_acceptance_for_others_does_not_help(limit: str) -> None:
    other = (
        "  other:\n    ballast: pair\n    full_ppfd: {zones: {crest: 1}}\n"
        "    day: {kind: points, points: [{time: 00:00, light_percent: 50},"
        " {time: 24:00, light_percent: 50}]}\n"
    )
    accept = (
        f"accept:\n  - {{finding: night-not-dark, {limit}, because: an old reason}}\nchannels:\n"
    )
    outcome = compiled(changed(NEVER, NO_RELAY, ("channels:\n", accept + other)), SPAN)
    assert found(outcome, "PHO403").severity is Severity.ERROR
    assert found(outcome, "PHO415").severity is Severity.WARNING


def test_without_dates_it_is_said_what_was_not_checked() -> None:
    outcome = compiled(SCHEDULE)
    assert set(outcome.report.not_run) == {
        "burn-in-from-dark", "burn-in-waits", "clock-set-back-lit", "dimmed-during-burn-in",
        "lit-at-change", "moon-seldom-shown", "peak-jumps", "season-strays", "tube-overdue",
    }  # fmt: skip
    outcome = compiled(changed(("  port: {most_volts: 10.0, sink_milliamps: 20}\n", "")), SPAN)
    assert set(outcome.report.not_run) == {"port-overloaded"}


def test_volts_above_the_port_are_found_in_a_table_that_was_tampered_with() -> None:
    program = compiled(SCHEDULE, SPAN).program
    assert program is not None
    blue = replace(program.channels["blue"], most_volts=10.5)
    (table,) = program.tables
    table = replace(table, day=replace(table.day, channels={"blue": blue}))
    findings, _ = run_checks(replace(program, tables=(table,)))
    assert [d.code for d in findings] == ["PHO401"]
    assert "reaches 10.5 V, above the 10 V of the port" in findings[0].message


def test_a_channel_that_is_wanted_lit_all_day_is_no_broken_night() -> None:
    day = SCHEDULE[SCHEDULE.index("    day:\n") :]
    always = (
        "    day: {kind: points, points: [{time: 00:00, light_percent: 50},"
        " {time: 24:00, light_percent: 50}]}\n"
    )
    outcome = compiled(changed(NEVER, NO_RELAY, (day, always)), SPAN)
    assert "PHO403" not in {d.code for d in outcome.report}


#: Each way to break a burn-in of 12 h from 2027-03-02 08:00 on: the day, when it is first dimmed, and
#: the hours owed by then. A step of the plan may take one minute of the table.
BREAKS = {
    "dimmed all day": ([("10:00", 0), ("10:00", 80), ("18:00", 80), ("18:00", 0)], "10:00", 12),
    "a dawn that is no edge": ([("09:50", 0), ("10:00", 100), ("18:00", 100), ("18:00", 0)],
                               "09:50", 12),
    "dimmed after some hours": ([("10:00", 0), ("10:00", 100), ("15:00", 100), ("15:00", 40),
                                 ("19:00", 40), ("19:00", 0)], "15:00", 7),
    "a dusk that is no edge": ([("10:00", 0), ("10:00", 100), ("15:00", 100), ("15:30", 0)],
                               "15:00", 7),
    "moonlight after the day": ([("10:00", 0), ("10:00", 100), ("17:00", 100), ("17:00", 0),
                                 ("20:00", 0), ("20:00", 5), ("22:00", 5), ("22:00", 0)],
                                "20:00", 5),
}  # fmt: skip


@pytest.mark.parametrize("way", BREAKS)
def test_every_way_to_break_a_burn_in_is_found_in_a_day_of_ones_own(way: str) -> None:
    points, time, owed = BREAKS[way]
    shown = ", ".join(
        f'{{time: "{at}", light_percent: {light}}}' for at, light in [("00:00", 0), *points]
    )
    ramps = SCHEDULE[SCHEDULE.index("      kind: ramps\n") :]
    text = changed(
        NEW,
        ("title: Test bench\n", "title: Test bench\nburn_in: leave\n"),
        (ramps, f"      kind: points\n      points: [{shown}]\n"),
    )
    outcome = compiled(text, SPAN)
    diagnostic = found(outcome, "PHO406")
    told = re.match(
        r"tube 'blue-a' is dimmed on 2027-03-02 at ([0-9:]+) to ([0-9.]+) % level with ([0-9.]+) h",
        diagnostic.message,
    )
    assert told is not None, diagnostic.message
    hour, minute, *second = (int(part) for part in told[1].split(":"))
    when = hour * 3600 + minute * 60 + sum(second)
    hours, minutes = (int(part) for part in time.split(":"))
    assert abs(when - hours * 3600 - minutes * 60) <= 60
    assert float(told[3]) == pytest.approx(owed, abs=0.05)
    assert outcome.program is not None
    level = outcome.program.channels["blue"].replay.counts[when]  # steps of 1 %
    assert float(told[2]) == level < 100
    assert diagnostic.source_range is not None and diagnostic.source_range.line == 23


def test_the_planner_leaves_nothing_of_these_to_find() -> None:
    outcome = compiled(changed(NEW), SPAN)
    assert "PHO406" not in {d.code for d in outcome.report}
    assert outcome.program is not None
    assert outcome.program.tubes["blue-a"].hours.owed_hours == 0
