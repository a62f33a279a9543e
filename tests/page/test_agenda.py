from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.page.agenda import Kind, agenda_figure, errands, listed
from photoperiod.program.dates import DateSpan
from tests.page.pages import FIRST, TWO_WEEKS, changed, example, program

MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))


def test_a_day_of_no_date_has_no_errands() -> None:
    assert errands(program()) == ()
    assert agenda_figure(program()) is None


def test_loads_fittings_and_the_end_stand_in_the_order_of_dates() -> None:
    found = errands(program(example("teaching-reef"), MARCH))
    assert [(each.date.day, each.kind) for each in found if each.date <= MARCH.last] == [
        (1, Kind.LOAD),
        (2, Kind.LOAD),
        (2, Kind.FIT),
        (4, Kind.LOAD),
        (31, Kind.COMPILE),
    ]
    assert "unplug before you relamp" in found[2].words
    assert "before 08:00" in found[2].words
    later = [each for each in found if each.date > MARCH.last]
    assert {each.kind for each in later} == {Kind.DUE}
    assert all(each.words.endswith("(a forecast)") for each in later)


def test_a_tube_that_is_due_and_a_clock_that_changes_are_errands() -> None:
    due = changed(("{watts: 54}", "{watts: 54, lit_hours: 100, replace_after_hours: 160}"))
    kinds = {each.kind: each for each in errands(program(due, TWO_WEEKS))}
    assert kinds[Kind.DUE].date == FIRST + dt.timedelta(days=4)
    span = DateSpan(dt.date(2027, 3, 26), dt.date(2027, 3, 30))
    clock = [e for e in errands(program(example("natural-year"), span)) if e.kind is Kind.CLOCK]
    assert [each.date for each in clock] == [dt.date(2027, 3, 28)]


def test_each_kind_has_a_line_and_a_mark_of_its_own_shape() -> None:
    found = agenda_figure(program(example("teaching-reef"), MARCH))
    assert found is not None
    assert [w.text for w in found.words if w.look == "end"] == ["loads", "tubes to fit", "compile"]
    assert len([s for s in found.shapes if s.look.startswith("mark")]) == 5


def test_many_loads_are_told_by_months(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("photoperiod.page.agenda.MOST_LISTED", 2)
    found = listed(program(example("teaching-reef"), MARCH))
    assert [(each.date.day, each.words) for each in found if each.kind is Kind.LOAD] == [
        (1, "3 loads in this month")
    ]
    assert [each.date.day for each in found if each.date <= MARCH.last] == [1, 2, 31]
