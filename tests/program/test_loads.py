"""What a keeper does at a load: channels that are new, and tubes to fit."""

from __future__ import annotations

import datetime as dt
import itertools

from photoperiod.program.dates import DateSpan
from photoperiod.program.loads import changed_channels, fittings
from photoperiod.program.model import Program
from tests.conftest import ROOT, changed, compiled

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
