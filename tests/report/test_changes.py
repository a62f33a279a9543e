"""What changes do, as lines."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.model import ChangedDose, ChangeEffect
from photoperiod.report.changes import change_lines, first_date_line
from photoperiod.report.summary import render_summary
from photoperiod.tubes.hours import LastLight, LedgerState, NoDayBefore
from tests.changes.bench import DARK, scheduled, span
from tests.program.test_part_losses import OUT, TUBED


def test_a_section_tells_dates_channels_and_doses() -> None:
    program = compile_program(scheduled(DARK), span("2027-06-06", "2027-06-09"))
    change = program.schedule.changes[0]
    days = [dt.date(2027, 6, 7), dt.date(2027, 6, 9)]
    doses = [
        {"crest": ChangedDose(without=8.0, given=4.8), "sand": ChangedDose(without=2.0, given=2.0)},
        {"crest": ChangedDose(without=8.0, given=7.2), "sand": ChangedDose(without=2.0, given=2.0)},
    ]
    effect = ChangeEffect(
        index=0,
        change=change,
        first=days[0],
        last=days[1],
        doses=dict(zip(days, doses, strict=True)),
    )
    assert change_lines(dataclasses.replace(program, effects=(effect,))) == [
        "CHANGES",
        "  dark days: 2027-06-07 to 2027-06-09, blue and white",
        "    crest: DLI 4.8 to 7.2 mol/m² instead of 8 (60 to 90 %)",
        "    sand: DLI 2 mol/m², as without it",
    ]
    assert change_lines(dataclasses.replace(program, effects=())) == []


def test_the_summary_has_the_section_and_says_that_the_first_date_is_not_compared() -> None:
    program = compile_program(scheduled(DARK), span("2027-06-06", "2027-06-09"))
    text = render_summary(program, [])
    assert "CHANGES\n  dark days: 2027-06-07 to 2027-06-09, blue and white\n" in text
    told = "The first date is not compared with the day before: no --ledger was given."
    assert told in text
    known = compile_program(
        program.schedule,
        program.span,
        LedgerState(light={"crest": LastLight(peak_ppfd=9.0)}),
    )
    assert first_date_line(known) == []
    assert "not compared" not in render_summary(known, [])


@pytest.mark.parametrize(
    ("ledger", "why"),
    [
        (None, "no --ledger was given"),
        (LedgerState(why_no_light=NoDayBefore.NEW), "the ledger is not there yet"),
        (LedgerState(why_no_light=NoDayBefore.BEGINS_HERE), "the ledger begins with this date"),
        (
            LedgerState(light={"hall": LastLight(peak_ppfd=9.0)}),
            "the ledger has none of these zones on that day",
        ),
    ],
)
def test_the_one_reason_that_holds_is_told(ledger: LedgerState | None, why: str) -> None:
    program = compile_program(scheduled(DARK), span("2027-06-06", "2027-06-09"), ledger)
    assert first_date_line(program) == [
        f"The first date is not compared with the day before: {why}."
    ]


def test_a_day_without_a_date_is_compared_with_nothing_and_does_not_say_so() -> None:
    assert first_date_line(compile_program(scheduled(), None)) == []


def test_a_tube_that_is_out_stands_in_the_section() -> None:
    program = compile_program(scheduled(OUT, text=TUBED), span("2027-05-01", "2027-05-04"))
    head, first, *_ = change_lines(program)
    assert head == "CHANGES"
    assert first == "  tube 'blue-b' of 'blue' out: 2027-05-03 to 2027-05-04, blue"
    assert first in render_summary(program, [])
