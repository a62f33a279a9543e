from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.page.shown import ShownTable, dates_text, shown_tables
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Table
from tests.page.pages import FIRST, TWO_WEEKS, example, program


def test_a_day_of_no_date_is_shown_once() -> None:
    (only,) = shown_tables(program())
    assert (only.name, only.key, only.why) == ("any date", "day-1", "")


def test_a_table_whose_rows_come_again_is_drawn_once() -> None:
    span = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    found = program(example("teaching-reef"), span)
    assert len(found.tables) == 3
    bright, other = shown_tables(found)
    assert {bright.name, other.name} == {"2027-03-01", "2027-03-02 to 2027-03-03"}
    doses = {
        each.name: sum(z.dli.replay for z in each.table.zones.values()) for each in (bright, other)
    }
    assert doses[bright.name] > doses[other.name]
    assert (bright.why, other.why) == ("the most light", "")


def test_of_many_tables_the_brightest_is_drawn_first_then_the_first_and_the_dimmest() -> None:
    span = DateSpan(dt.date(2027, 6, 10), dt.date(2027, 6, 24))
    found = program(example("southern-summer"), span)
    shown = shown_tables(found)
    assert len({table.rows for table in found.tables}) > 6
    assert len(shown) <= 3
    assert "the most light" in shown[0].why
    assert any(each.why.startswith("the first date") for each in shown)
    assert [each.name for each in shown[1:]] == sorted(each.name for each in shown[1:])
    doses = {id(table): sum(z.dli.replay for z in table.zones.values()) for table in found.tables}
    assert doses[id(_shown_as("the most light", shown))] == max(doses.values())
    assert doses[id(_shown_as("the least light", shown))] == min(doses.values())


def test_of_many_channels_fewer_tables_are_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first of many tables is the dimmest, too: it and the brightest are four days of two channels."""
    span = DateSpan(dt.date(2027, 6, 10), dt.date(2027, 6, 24))
    found = program(example("southern-summer"), span)
    assert len(found.channels) == 2
    monkeypatch.setattr("photoperiod.page.shown.MOST_CHANNEL_DAYS", 4)
    bright, first = shown_tables(found)
    assert first.why.startswith("the first date")
    assert bright.why == "the most light"
    monkeypatch.setattr("photoperiod.page.shown.MOST_CHANNEL_DAYS", 3)
    assert [each.key for each in shown_tables(found)] == [bright.key]
    monkeypatch.setattr("photoperiod.page.shown.MOST_CHANNEL_DAYS", 1)
    assert [each.key for each in shown_tables(found)] == [bright.key]


def _shown_as(why: str, shown: tuple[ShownTable, ...]) -> Table:
    (found,) = (each for each in shown if why in each.why)
    return found.table


def test_dates_in_words() -> None:
    assert dates_text(None) == "any date"
    assert dates_text(DateSpan(FIRST, FIRST)) == "2027-03-02"
    assert dates_text(TWO_WEEKS) == "2027-03-02 to 2027-03-15"
