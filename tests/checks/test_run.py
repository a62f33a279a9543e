from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from photoperiod.checks.run import run_checks
from photoperiod.drive.grid import Row
from photoperiod.program.channel_day import Amounts, Role
from photoperiod.program.model import Program
from tests.checks.bench import (
    SPAN,
    Day,
    bench,
    handmade,
    on,
    two_dates,
    with_channel,
    with_fit,
    with_zone,
)
from tests.conftest import SCHEDULE, changed, compiled

DATED = {
    "burn-in-from-dark", "burn-in-waits", "change-beyond-dates", "clock-set-back-lit",
    "day-moves-too-far", "dimmed-during-burn-in", "dose-jumps", "light-not-held",
    "lit-at-change", "many-loads",
    "moon-seldom-shown", "older-tubes-assumed", "part-is-out", "peak-jumps", "season-strays", "tube-overdue",
}  # fmt: skip

#: Gives a channel or a zone of a table other values.
Put = Callable[..., Program]

#: Three starts a day are a finding (PHO411), two are not.
CALM = [("08:00", 60), ("10:00", 0), ("12:00", 60), ("18:00", 0)]
RESTLESS = [("08:00", 60), ("10:00", 0), ("12:00", 60), ("14:00", 0), ("16:00", 60), ("18:00", 0)]


def test_the_test_schedule_has_nothing_to_complain_of() -> None:
    outcome = compiled(SCHEDULE, SPAN)
    assert outcome.report.sorted() == []
    assert outcome.report.not_run == {}


def test_without_dates_it_is_said_what_was_not_checked() -> None:
    outcome = compiled(SCHEDULE)
    assert set(outcome.report.not_run) == DATED
    assert set(outcome.report.not_run.values()) == {"needs dates: --date, or --from and --to"}
    outcome = compiled(changed(("  port: {most_volts: 10.0, sink_milliamps: 20}\n", "")), SPAN)
    assert outcome.report.not_run == {"port-overloaded": "needs controller.port.sink_milliamps"}


def test_a_schedule_without_tubes_misses_nothing_without_dates() -> None:
    text = bench(
        ("tubes:\n  tube-a: {watts: 54}\n  tube-b: {watts: 54}\n", ""),
        ("    tubes: [tube-a]\n", ""),
        ("    tubes: [tube-b]\n", ""),
    )
    assert run_checks(handmade(text))[1] == {}


def test_checks_that_did_not_run_find_nothing() -> None:
    findings, not_run = run_checks(handmade())
    assert findings == []
    assert set(not_run) == DATED


def restless(*tables: int, of: int, text: str = "") -> Program:
    """Return a program of so many dates from 1 March on, on some of which strong starts too often."""
    days = (
        Day(first=on(n), levels={"strong": RESTLESS if n in tables else CALM})
        for n in range(1, of + 1)
    )
    return handmade(text or bench(), *days)


@pytest.mark.parametrize(
    ("tables", "of", "end"),
    [
        ((1,), 1, ""),
        ((1, 2, 3), 3, ""),
        ((1,), 3, " (table from 2027-03-01)"),
        ((3,), 3, " (table from 2027-03-03)"),
        ((1, 3), 3, " (tables from 2027-03-01, 2027-03-03)"),
        ((1, 2, 4), 4, " (tables from 2027-03-01, 2027-03-02, 2027-03-04)"),
        ((1, 2, 4, 5), 6, " (tables from 2027-03-01, 2027-03-02, 2027-03-04 and 1 more, the last from"
         " 2027-03-05)"),
        ((1, 2, 3, 4, 6), 7, " (tables from 2027-03-01, 2027-03-02, 2027-03-03 and 2 more, the last"
         " from 2027-03-06)"),
    ],
)  # fmt: skip
def test_a_finding_names_the_tables_that_have_it_unless_all_have(
    tables: tuple[int, ...], of: int, end: str
) -> None:
    found, _ = run_checks(restless(*tables, of=of))
    (message,) = (each.message for each in found if each.code == "PHO411")
    assert message == f"the tubes of 'strong' start 3 times a day{end}"


def test_a_finding_on_a_day_of_no_date_names_none() -> None:
    program = handmade(bench(), Day(levels={"strong": RESTLESS}))
    (found,) = (each for each in run_checks(program)[0] if each.code == "PHO411")
    assert found.message == "the tubes of 'strong' start 3 times a day"


def test_a_check_that_compares_tables_sees_them_all() -> None:
    nights = [
        Day(first=on(n), levels={"weak": [("00:00", level)]}) for n, level in ((1, 50), (2, 80))
    ]
    found, _ = run_checks(handmade(bench(), *nights))
    (message,) = (each.message for each in found if each.code == "PHO422")
    assert message.endswith("from 50 to 80 % of full at once (1 such change)")


def test_a_table_of_many_dates_is_named_by_its_first() -> None:
    days = [Day(first=on(1), last=on(3)), Day(first=on(4), last=on(9), levels={"strong": RESTLESS})]
    (found,) = (each for each in run_checks(handmade(bench(), *days))[0] if each.code == "PHO411")
    assert found.message.endswith(" (table from 2027-03-04)")


def starting(*starts: int) -> str:
    """Return what is said of a tube that starts so many times on each of as many dates."""
    program = restless(of=len(starts))
    for table, count in enumerate(starts):
        program = with_channel(program, "strong", table, starts=count)
    (found,) = (each for each in run_checks(program)[0] if each.code == "PHO411")
    return found.message


@pytest.mark.parametrize(
    ("starts", "message"),
    [
        ((1, 3, 4), "4 times a day (tables from 2027-03-02, 2027-03-03; worst in the table from 2027-03-03)"),
        ((1, 4, 3), "4 times a day (tables from 2027-03-02, 2027-03-03; worst in the table from 2027-03-02)"),
        ((3, 5, 4), "5 times a day (worst in the table from 2027-03-02)"),
        ((1, 4, 4), "4 times a day (tables from 2027-03-02, 2027-03-03)"),
        ((4, 4, 4), "4 times a day"),
        ((3, 4, 3, 3, 1), "4 times a day (tables from 2027-03-01, 2027-03-02, 2027-03-03 and 1 more, the last"
         " from 2027-03-04; worst in the table from 2027-03-02)"),
    ],
)  # fmt: skip
def test_a_finding_of_several_tables_has_the_numbers_of_the_worst(
    starts: tuple[int, ...], message: str
) -> None:
    assert starting(*starts).endswith(message)


#: A row more than BENCH holds.
MANY = tuple(Row(900 * n, 0, False) for n in range(25))

#: What makes two tables break a check, the second worse: a channel or zone, and its values in both.
WORSE_LATER: list[tuple[str, Put, str, dict[str, Any], dict[str, Any], str]] = [
    ("PHO401", with_channel, "weak", {"most_volts": 11.0}, {"most_volts": 12.0}, "reaches 12 V"),
    ("PHO401", with_channel, "weak", {"wanted_peak": 1.2}, {"wanted_peak": 1.3}, "asks for 130 %"),
    ("PHO404", with_fit, "weak", {"rows": MANY, "rows_needed": 25}, {"rows": MANY, "rows_needed": 26},
     "needs 26 rows"),
    ("PHO404", with_fit, "weak", {"worst_light_error": 0.5}, {"worst_light_error": 0.6}, "by 60 %"),
    ("PHO407", with_zone, "crest", {"steepest_rise_per_minute": 101.0},
               {"steepest_rise_per_minute": 102.0}, "by 102 µmol"),
    ("PHO408", with_zone, "crest", {"night_s": 7200.0}, {"night_s": 3600.0}, "for 1 h 00 min"),
    ("PHO410", with_fit, "weak", {"worst_light_error": 0.2}, {"worst_light_error": 0.3}, "30 % more"),
    ("PHO413", with_channel, "weak", {"undefined_seconds": 2000}, {"undefined_seconds": 3000},
               "spends 3000 s"),
    ("PHO416", with_channel, "weak", {"rounding_errors": {"down": 0.1}},
               {"rounding_errors": {"down": 0.2}}, "by up to 20 %"),
    ("PHO409", with_channel, "weak", {"full_light_hours": Amounts(plan=10, reachable=9, replay=9)},
               {"full_light_hours": Amounts(plan=10, reachable=8, replay=8)}, "to 8 full-light hours"),
    ("PHO418", with_channel, "weak", {"full_light_hours": Amounts(plan=10, reachable=10, replay=9)},
               {"full_light_hours": Amounts(plan=10, reachable=10, replay=8)}, "gives 8 full-light"),
    ("PHO428", with_zone, "crest",
     {"wanted_peak_ppfd": 130.0, "peak_ppfd": 119.0, "dli": Amounts(plan=4, reachable=4, replay=3)},
     {"wanted_peak_ppfd": 125.0, "peak_ppfd": 118.0, "dli": Amounts(plan=4, reachable=4, replay=2)},
     "is 2 instead of 4"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "put", "id", "first", "second", "words"), WORSE_LATER)
def test_the_worst_of_two_dates_is_told(
    code: str, put: Put, id: str, first: dict[str, Any], second: dict[str, Any], words: str
) -> None:
    text = bench(
        (
            "crest: {dark_hours_min: 0}",
            "crest: {dark_hours_min: 8, ppfd_rise_per_minute_max: 100, ppfd_max: 120}",
        ),
        (", rounding: half-up", ""),
    )
    program = put(put(two_dates(text), id, 0, **first), id, 1, **second)
    (found,) = (each for each in run_checks(program)[0] if each.code == code)
    assert words in found.message
    assert found.message.endswith(" (worst in the table from 2027-03-02)")


#: A strong that goes dark at noon for five minutes, and for one.
GAPS = [
    Day(levels={"strong": [("08:00", 60), ("12:00", 0), (end, 60), ("18:00", 0)]})
    for end in ("12:05", "12:01")
]


def test_the_shortest_of_dark_gaps_is_told() -> None:
    (found,) = (each for each in run_checks(two_dates(bench(), *GAPS))[0] if each.code == "PHO417")
    assert "goes dark at 12:00 for 1 min" in found.message
    assert found.message.endswith(" (worst in the table from 2027-03-02)")


def test_the_brightest_safe_state_is_told() -> None:
    """Strong gives crest 60 µmol m⁻² s⁻¹ when it is as bright as measured, 54 when it is not."""
    text = bench(
        ("tubes: [tube-b]", "tubes: [tube-b]\n    safe_light_percent: 60"),
        ("crest: {dark_hours_min: 0}", "crest: {dark_hours_min: 0, ppfd_max: 50}"),
    )
    program = two_dates(text, Day(brightness={"strong": (0.9, 0.9)}), Day())
    (found,) = (each for each in run_checks(program)[0] if each.code == "PHO427")
    assert "gets 60 µmol" in found.message
    assert found.message.endswith(" (worst in the table from 2027-03-02)")


def test_the_brightest_of_welded_relays_is_told() -> None:
    """A line through the night from level 0 to 30 % and to 60 %: a quarter of an hour before, 59 %."""
    text = bench(("between: hold", "between: line"))
    dim, bright = (
        Day(levels={"strong": [("08:00", level), ("17:45", level), ("18:00", 0)]})
        for level in (30, 60)
    )
    (found,) = (
        each
        for each in run_checks(two_dates(text, dim, bright))[0]
        if each.code == "PHO429" and each.path[-1] == "strong"
    )
    assert "would give up to 59 % light" in found.message
    assert found.message.endswith(" (worst in the table from 2027-03-02)")


def test_a_burn_in_does_not_hide_a_ramp_that_is_too_steep() -> None:
    """Each has a way out of its own: the ramp of 2 March can be made longer, the burn-in can't."""
    text = bench(
        ("crest: {dark_hours_min: 0}", "crest: {dark_hours_min: 0, ppfd_rise_per_minute_max: 50}")
    )
    full = Day(levels={"strong": [("08:00", 100), ("18:00", 0)]}, roles={"strong": Role.FULL})
    found = [each for each in run_checks(two_dates(text, full))[0] if each.code == "PHO407"]
    assert [each.help.split()[0] for each in found] == ["'strong'", "make"]
    assert [each.message.rsplit(" (", 1)[1] for each in found] == [
        "table from 2027-03-01)",
        "table from 2027-03-02)",
    ]


def test_two_findings_at_one_place_are_told_apart() -> None:
    """PHO401 may find a table and a plan of one channel; each is told with its own tables."""
    program = restless(of=3)
    program = with_channel(program, "weak", 0, most_volts=11.0, wanted_peak=1.2)
    program = with_channel(program, "weak", 2, most_volts=11.0, wanted_peak=1.2)
    ends = [
        each.message.rsplit(" (", 1)[1] for each in run_checks(program)[0] if each.code == "PHO401"
    ]
    assert ends == ["tables from 2027-03-01, 2027-03-03)"] * 2


def test_findings_come_by_code_then_by_table_and_channel() -> None:
    program = restless(2, of=2)
    program = with_fit(program, "weak", 1, worst_light_error=0.3)
    program = with_fit(program, "strong", 0, worst_light_error=0.2)
    program = with_channel(program, "weak", 1, most_volts=11.0)
    found, _ = run_checks(program)
    assert [(each.code, each.path[-1]) for each in found] == [
        ("PHO401", "weak"),
        ("PHO410", "strong"),
        ("PHO410", "weak"),
        ("PHO411", "strong"),
        ("PHO418", "strong"),  # dark between its stretches, it gives less than its plan
        ("PHO432", "controller"),  # two tables, and it holds one
    ]


def test_hard_findings_are_accepted_on_the_way() -> None:
    text = bench() + "accept:\n  - {finding: volts-out-of-reach, because: an old port}\n"
    program = with_channel(handmade(text), "weak", most_volts=11.0)
    (found,) = (each for each in run_checks(program)[0] if each.code == "PHO401")
    assert found.accepted == "an old port"
