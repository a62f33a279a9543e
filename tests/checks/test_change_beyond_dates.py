"""Changes that lie beside the compiled dates."""

from __future__ import annotations

from photoperiod.checks.change_beyond_dates import change_beyond_dates
from photoperiod.program.dated_tables import compile_program
from tests.changes.bench import CALM, DARK, MOVED, scheduled, span

CODE = "PHO442"


def found(change: str, first: str, last: str, plans: str = "") -> list[str]:
    program = compile_program(scheduled(change, plans=plans), span(first, last))
    return [f"{each.code} {each.path[1]} {each.message}" for each in change_beyond_dates(program)]


def test_changes_within_the_dates_are_silent() -> None:
    assert found(DARK, "2027-06-07", "2027-06-09") == []
    assert found(DARK, "2027-06-01", "2027-06-30") == []


def test_a_change_that_is_cut_off_before_or_after() -> None:
    (cut,) = found(DARK, "2027-06-01", "2027-06-08")
    assert cut.startswith(
        "PHO442 0 the change goes on until 2027-06-09, but the tables end on 2027-06-08"
    )
    (early,) = found(DARK, "2027-06-01", "2027-06-06")
    assert "begins on 2027-06-07, after the dates" in early
    (late,) = found(DARK, "2027-06-10", "2027-06-11")
    assert "ended on 2027-06-09, before the dates" in late


def test_what_stays_is_no_matter() -> None:
    assert found(MOVED, "2027-08-01", "2027-08-02") == []
    (cut,) = found(MOVED, "2027-07-01", "2027-07-02")
    assert "goes on until 2027-07-03" in cut
    other = "{kind: other-day, from_date: 2027-04-01, day_plan: calm}"
    assert found(other, "2027-08-01", "2027-08-02", CALM) == []
