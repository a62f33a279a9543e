from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.page.agenda import NAMES, agenda_figure, listed
from photoperiod.program.dates import DateSpan
from photoperiod.upkeep.agenda import ErrandKind, agenda
from tests.page.pages import TWO_WEEKS, changed, example, page, program

MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))


def test_a_day_of_no_date_has_no_errands() -> None:
    assert listed(program()) == ()
    assert agenda_figure(program()) is None


def test_every_errand_is_listed_at_its_date() -> None:
    found = program(example("teaching-reef"), MARCH)
    assert [(each.date, each.kind) for each in listed(found)] == [
        (each.date, each.kind) for each in agenda(found)
    ]
    fit = next(each for each in listed(found) if each.kind is ErrandKind.FIT)
    assert fit.date == dt.date(2027, 3, 2)
    assert "before 08:00" in fit.words
    assert "Unplug before you relamp." in fit.words


def test_each_kind_has_a_line_and_a_shape_of_its_own() -> None:
    assert NAMES.keys() == set(ErrandKind)
    found = agenda_figure(program(example("teaching-reef"), MARCH))
    assert found is not None
    names = [w.text for w in found.words if w.look == "end"]
    assert names == ["loads", "fit tubes", "burn-in", "readings", "compile"]
    marks = [s for s in found.shapes if s.look.startswith(("mark", "solid"))]
    assert len(marks) == len(agenda(program(example("teaching-reef"), MARCH)))


def test_a_tube_that_is_due_and_a_clock_that_changes_are_drawn() -> None:
    due = changed(("{watts: 54}", "{watts: 54, lit_hours: 100, replace_after_hours: 160}"))
    found = agenda_figure(program(due, TWO_WEEKS))
    assert found is not None
    assert "tubes due" in [w.text for w in found.words]
    span = DateSpan(dt.date(2027, 3, 26), dt.date(2027, 3, 30))
    clock = agenda_figure(program(example("natural-year"), span))
    assert clock is not None
    assert "clocks" in [w.text for w in clock.words]


def test_many_loads_are_told_by_months(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("photoperiod.page.agenda.MOST_LISTED", 2)
    found = listed(program(example("teaching-reef"), MARCH))
    assert [(each.date.day, each.words) for each in found if each.kind is ErrandKind.LOAD] == [
        (1, "3 loads in this month.")
    ]
    dates = [each.date for each in found]
    assert dates == sorted(dates)


def test_readings_that_only_time_asks_for_are_one_line_with_its_dates() -> None:
    span = DateSpan(dt.date(2027, 1, 1), dt.date(2027, 8, 1))
    text = example("smallest")
    found = program(text, span)
    readings = [each for each in listed(found) if each.kind is ErrandKind.READING]
    assert len([each for each in agenda(found) if each.kind is ErrandKind.READING]) == 4
    (one,) = readings
    assert one.dates == (dt.date(2027, 1, 1), dt.date(2027, 7, 2))  # 182 days later
    assert one.words.startswith(
        "Read PPFD of blue and white in each zone, at full and alone, because no date of measuring is"
        " told, and then because 182 days have passed. Measure warm"
    )
    assert "<time>2027-01-01</time>,<br><time>2027-07-02</time>" in page(text, span)


def test_readings_of_other_dates_and_of_new_tubes_keep_their_lines() -> None:
    found = program(example("teaching-reef"), MARCH)
    readings = [each for each in agenda(found) if each.kind is ErrandKind.READING]
    lines = [each for each in listed(found) if each.kind is ErrandKind.READING]
    new = [each for each in readings if "tubes are new" in each.words]
    assert new and [each.words for each in new] == [e.words for e in lines if "new" in e.words]
