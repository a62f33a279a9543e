"""The picture of a program: its first day, and what later tables change."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from photoperiod.program.dates import DateSpan
from photoperiod.report import program_picture as module
from photoperiod.report.day_picture import LEGEND
from photoperiod.report.program_picture import program_picture
from tests.conftest import ROOT, SCHEDULE, compiled

NEW_TUBES = (ROOT / "examples" / "new-tubes.yaml").read_text(encoding="utf-8")
MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))


def test_a_day_without_a_date() -> None:
    # Lit from 09:00, cell 18, to 21:00, cell 42. The lamp is at its floor or above in all of them.
    program = compiled(SCHEDULE).program
    assert program is not None
    lines = program_picture(program, 80)
    assert lines[0] == "THE DAY, on the controller's clock (standard)"
    row = lines[2].partition("|")[2].partition("|")[0]
    assert re.fullmatch(r" {18}[^ ]{24} {6}", row)
    assert lines[-2:] == list(LEGEND)
    assert all(len(line) <= 80 for line in lines)


def test_later_tables_show_what_they_change() -> None:
    # The tubes of blue burn in on 2 and 3 March, those of white on 9 and 10 March.
    program = compiled(NEW_TUBES, MARCH).program
    assert program is not None
    lines = [line for line in program_picture(program, 80) if "^" not in line]
    assert lines[0].startswith("THE DAY OF 2027-03-01, ")
    shown = [line.partition(" ")[0] if "|" in line else line for line in lines[2:-1]]
    assert shown == [
        "blue", "white", "from 2027-03-02", "blue", "from 2027-03-04", "blue",
        "from 2027-03-09", "white", "from 2027-03-11", "white",
    ]  # fmt: skip
    starts = {line.index("|") for line in lines if "|" in line}
    assert len(starts) == 1


def test_of_many_tables_the_first_is_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_DRAWN", 3)
    program = compiled(NEW_TUBES, MARCH).program
    assert program is not None
    assert not any(line.startswith("from ") for line in program_picture(program, 80))


def test_nothing_is_drawn_where_it_is_too_narrow() -> None:
    program = compiled(NEW_TUBES, MARCH).program
    assert program is not None
    assert program_picture(program, 60) == []
