"""What a keeper does at a load: channels that are new, and tubes to fit."""

from __future__ import annotations

import datetime as dt
import itertools

import numpy as np
import pytest

from photoperiod.program.dates import DateSpan
from photoperiod.program.loads import changed_channels, fittings, load_by
from photoperiod.program.model import Program
from tests.conftest import ROOT, changed, compiled
from tests.program import bench

NEW_TUBES = (ROOT / "examples" / "new-tubes.yaml").read_text(encoding="utf-8")
MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))


def program_of(text: str, span: DateSpan | None) -> Program:
    program = compiled(text, span).program
    assert program is not None
    return program


def test_channels_that_a_table_changes() -> None:
    # blue burns in on 2 and 3 March, white on 9 and 10 March
    tables = program_of(NEW_TUBES, MARCH).controller_tables
    found = [changed_channels(now, before) for before, now in itertools.pairwise(tables)]
    assert found == [("blue",), ("blue",), ("white",), ("white",)]


def test_tubes_are_named_at_the_load_on_whose_dates_they_are_fitted() -> None:
    two = (
        "  blue-a: {watts: 54}",
        "  blue-a: {watts: 54, fitted: 2027-03-03T18:00, burn_in_full_hours: 12}\n"
        "  blue-b: {watts: 54, fitted: 2027-03-03T18:00}\n"
        "  blue-c: {watts: 54, fitted: 2027-03-31}",
    )
    program = program_of(
        changed(two, ("tubes: [blue-a]", "tubes: [blue-a, blue-b, blue-c]")), MARCH
    )
    words = {
        load[0].span: [each.words for each in fittings(program, load)] for load in program.loads
    }
    listed = [word for each in words.values() for word in each]
    assert listed == [
        "fit blue-a and blue-b on 2027-03-03 before 18:00",
        "fit blue-c before the first light of 2027-03-31",
    ]
    for span, each in words.items():
        for word in each:
            date = dt.date(2027, 3, 3 if "blue-a" in word else 31)
            assert span is not None and span.first <= date <= span.last


def test_tubes_that_were_fitted_before_are_not_named() -> None:
    old = ("  blue-a: {watts: 54}", "  blue-a: {watts: 54, fitted: 2027-02-28}")
    program = program_of(changed(old), MARCH)
    assert [fittings(program, load) for load in program.loads] == [[]]
    undated = program_of(changed(old), None)
    assert [fittings(undated, load) for load in undated.loads] == [[]]


def told(program: Program) -> list[str]:
    """Return when each table of a program is loaded."""
    tables = program.controller_tables
    return [load_by(now, before) for before, now in zip((None, *tables), tables, strict=False)]


def test_a_table_is_loaded_while_what_it_changes_is_dark() -> None:
    # by the file: blue burns from 09:00 to 21:00 and white from 08:30 to 21:30, but on days of burn-in
    assert told(program_of(NEW_TUBES, MARCH)) == [
        "on 2027-03-01, before its first light",
        "between 2027-03-01 21:00 and 2027-03-02 09:00",
        "between 2027-03-03 21:00 and 2027-03-04 09:00",
        "between 2027-03-08 21:30 and 2027-03-09 08:30",
        "between 2027-03-10 21:30 and 2027-03-11 08:30",
    ]


def test_moonlight_past_midnight_that_does_not_change_keeps_nobody_awake() -> None:
    moon = "    moonlight: {kind: steady, light_percent: 3, start: 22:30, end: 00:30}\n"
    channel = "  moon:\n    ballast: pair\n    full_ppfd: {zones: {racks: 4}}\n" + moon
    assert NEW_TUBES.endswith("\n") and "\nchannels:\n" in NEW_TUBES
    text = NEW_TUBES.replace("\nchannels:\n", "\nchannels:\n" + channel)
    found = told(program_of(text, DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 2))))
    assert found == [
        "on 2027-03-01 between 00:30 and 08:30",  # all channels are new
        "between 2027-03-01 21:00 and 2027-03-02 09:00",
    ]


def test_light_past_midnight_belongs_to_the_date_before_and_may_end_first() -> None:
    # blue burns from 22:00 to 06:00, and white, which no burn-in changes, from 08:00 to 22:00
    first, *others = told(bench.program(start="22:00", end="06:00"))
    assert first == "on 2027-03-01 between 06:00 and 08:00"
    assert others and all(each.endswith(" between 06:00 and 22:00") for each in others)


def test_where_no_dark_hours_are_left_midnight_is_told() -> None:
    # white begins at 08:00, and blue goes on from the evening before until 08:00
    first, *_ = told(bench.program(start="22:00", end="08:00"))
    assert first == "on 2027-03-01, as it begins, at midnight"


@pytest.mark.parametrize(
    ("first_s", "last_s", "words"),
    [
        (28_830, 70_215, "between 2027-03-01 19:31 and 2027-03-02 08:00"),  # 08:00:30 to 19:30:15
        (28_830, 86_400, "on 2027-03-02 before 08:00"),
        (0, 70_215, "between 2027-03-01 19:31 and 2027-03-02 00:00"),  # its own light
        (0, 86_400, "on 2027-03-02, as it begins, at midnight"),
    ],
)
def test_hours_of_a_load_are_whole_minutes_in_the_dark(
    monkeypatch: pytest.MonkeyPatch, first_s: int, last_s: int, words: str
) -> None:
    seconds = np.arange(86_400)
    monkeypatch.setattr(
        "photoperiod.program.loads._lit",
        lambda table, id: (seconds >= first_s) & (seconds < last_s),
    )
    before, now, *_ = program_of(NEW_TUBES, MARCH).controller_tables
    assert load_by(now, before) == words


def test_one_channel_ends_at_midnight_and_another_begins(monkeypatch: pytest.MonkeyPatch) -> None:
    text = NEW_TUBES.replace("dusk: {end: 21:00", "dusk: {end: 24:00").replace(
        "fitted: 2027-03-09T08:00", "fitted: 2027-03-02T08:00"
    )
    assert text.count("2027-03-02T08:00") == 2 and text.count("end: 24:00") == 1
    # blue ends with the day, white begins at 08:30, and both burn in: after midnight it is
    program = program_of(text, MARCH)
    assert told(program)[1] == "on 2027-03-02 before 08:30"
    seconds = np.arange(86_400)  # blue until 24:00, white from 00:00 on
    monkeypatch.setattr(
        "photoperiod.program.loads._lit",
        lambda table, id: seconds > 80_000 if id == "blue" else seconds < 60,
    )
    assert told(program)[1] == "on 2027-03-02, as it begins, at midnight"
