"""Outputs of a program of several dated tables."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json

import pytest

from photoperiod.dates import DateSpan
from photoperiod.formats.folder import render_all
from photoperiod.program.model import Program
from photoperiod.report.summary import render_summary
from photoperiod.text import clock_text
from tests.conftest import ROOT, compiled

TEXT = (ROOT / "examples" / "new-tubes.yaml").read_text(encoding="utf-8")
SPAN = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))


def program(text: str = TEXT, span: DateSpan = SPAN) -> Program:
    found = compiled(text, span).program
    assert found is not None
    return found


@pytest.fixture(scope="module")
def march() -> tuple[Program, dict[str, bytes]]:
    p = program()
    return p, render_all(p, [])


def test_the_example_needs_a_load_for_each_table(march: tuple[Program, dict[str, bytes]]) -> None:
    p, _ = march
    days = [(t.span.first.day, t.span.last.day, sorted(t.plan.windows)) for t in p.tables if t.span]
    assert days == [(1, 1, []), (2, 3, ["blue"]), (4, 8, []), (9, 10, ["white"]), (11, 31, [])]
    assert len(p.loads) == 5


def test_the_csv_holds_every_table_with_its_date(march: tuple[Program, dict[str, bytes]]) -> None:
    p, files = march
    rows = list(csv.DictReader(io.StringIO(files["table.csv"].decode())))
    expected = [
        (str(t.span.first), id, clock_text(row.second))
        for t in p.tables if t.span
        for id, c in t.channels.items()
        for row in c.fit.rows
    ]  # fmt: skip
    assert [(row["from_date"], row["channel"], row["time"]) for row in rows] == expected


def test_the_table_holds_rows_roles_and_dates(march: tuple[Program, dict[str, bytes]]) -> None:
    p, files = march
    data = json.loads(files["table.json"])
    assert len(data["tables"]) == len(p.tables)
    for shown, table in zip(data["tables"], p.tables, strict=True):
        assert table.span is not None
        assert (shown["from_date"], shown["to_date"]) == (
            str(table.span.first),
            str(table.span.last),
        )
        for id, c in table.channels.items():
            assert shown["channels"][id]["role"] == ("full" if id in table.plan.windows else "plan")
            rows = [(row["second"], row["count"]) for row in shown["channels"][id]["rows"]]
            assert rows == [(row.second, row.count) for row in c.fit.rows]


def test_the_summary_names_loads_and_windows(march: tuple[Program, dict[str, bytes]]) -> None:
    p, files = march
    data = json.loads(files["summary.json"])
    assert [load["load_before"] for load in data["loads"]] == [
        str(t.span.first) for t in p.tables if t.span
    ]
    assert data["tables"][1]["undimmed"] == {
        id: {"start": clock_text(start), "end": clock_text(stop)}
        for id, (start, stop) in p.tables[1].plan.windows.items()
    }
    text = render_summary(p, [])
    for table in p.tables:
        assert table.span is not None
        assert f"TABLE FROM {table.span.first} TO {table.span.last}\n" in text
        assert (
            f"  on {table.span.first}, before its first light: 1 table, up to {table.span.last}"
            in text
        )


def test_there_is_a_sheet_for_each_load_that_names_the_next(
    march: tuple[Program, dict[str, bytes]],
) -> None:
    p, files = march
    firsts = [str(t.span.first) for t in p.tables if t.span]
    sheets = [name for name in files if name.startswith("typing-sheet")]
    assert sheets == [f"typing-sheet-{first}.txt" for first in firsts]
    for number, first in enumerate(firsts):
        sheet = files[f"typing-sheet-{first}.txt"].decode()
        assert f"Load on {first}, before its first light; " in sheet
        following = firsts[number + 1 : number + 2]
        assert all(f"The next sheet is for {then}." in sheet for then in following)
        assert ("Compile again before then." in sheet) is (not following)
        boxes = sum(len(c.fit.rows) for c in p.tables[number].channels.values())
        assert sheet.count("[   ]") == boxes


def test_a_controller_of_two_tables_is_loaded_three_times() -> None:
    p = program(TEXT.replace("tables: 1", "tables: 2"))
    files = render_all(p, [])
    sheets = [name for name in files if name.startswith("typing-sheet")]
    assert sheets == [f"typing-sheet-2027-03-{day}.txt" for day in ("01", "04", "11")]
    sheet = files[sheets[0]].decode()
    assert "TABLE FROM 2027-03-01 TO 2027-03-01" in sheet
    assert "TABLE FROM 2027-03-02 TO 2027-03-03" in sheet
    assert "Tubes burn in: channel blue is undimmed from 11:10 to 18:51, else dark." in sheet


def test_one_table_has_one_sheet_without_a_date() -> None:
    p = program(span=DateSpan(dt.date(2027, 3, 12), dt.date(2027, 3, 31)))
    files = render_all(p, [])
    assert [name for name in files if name.startswith("typing")] == ["typing-sheet.txt"]
    assert "LOADS" not in render_summary(p, [])


def test_the_same_program_gives_the_same_bytes(march: tuple[Program, dict[str, bytes]]) -> None:
    assert render_all(program(), []) == march[1]


def test_a_table_with_a_lamp_that_burns_at_midnight_is_loaded_at_midnight() -> None:
    # the moonlight of this example lasts from 21:30 to 08:30 or so; see its file
    text = (ROOT / "examples" / "teaching-reef.yaml").read_text(encoding="utf-8")
    day = dt.date(2027, 3, 1)
    p = program(text, DateSpan(day, day))
    assert p.channels["moon"].fit.replay.lit[0]
    sheet = render_all(p, [])["typing-sheet.txt"].decode()
    assert "Load on 2027-03-01, as it begins, at midnight; it holds up to 2027-03-01." in sheet
