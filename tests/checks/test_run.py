from __future__ import annotations

import pytest

from photoperiod.checks.run import run_checks
from photoperiod.program.model import Program
from tests.checks.bench import (
    SPAN,
    Day,
    bench,
    handmade,
    on,
    with_channel,
    with_fit,
)
from tests.conftest import SCHEDULE, changed, compiled

DATED = {
    "burn-in-from-dark", "burn-in-waits", "change-beyond-dates", "clock-set-back-lit",
    "day-moves-too-far", "dimmed-during-burn-in", "dose-jumps", "light-not-held",
    "lit-at-change", "many-loads",
    "moon-seldom-shown", "part-is-out", "peak-jumps", "season-strays", "tube-overdue",
}  # fmt: skip

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


def test_a_finding_of_several_tables_has_the_numbers_of_the_first() -> None:
    program = restless(2, 3, of=3)
    four = [("06:00", 50), ("07:00", 0), *RESTLESS]
    later = Day(first=on(3), levels={"strong": four})
    program = handmade(
        bench(), Day(first=on(1)), Day(first=on(2), levels={"strong": RESTLESS}), later
    )
    (found,) = (each for each in run_checks(program)[0] if each.code == "PHO411")
    assert found.message == (
        "the tubes of 'strong' start 3 times a day (tables from 2027-03-02, 2027-03-03)"
    )


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
