"""The sheets to type rows in by hand: one for each load."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.formats.cautions import CAUTIONS
from photoperiod.formats.typing_sheet import render_files
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from tests.conftest import ROOT, SCHEDULE, compiled
from tests.formats.conftest import MARCH, NEW_TUBES


def sheets_of(text: str, span: DateSpan | None) -> dict[str, str]:
    files = render_files(compiled(text, span).program, [])
    return {name: raw.decode() for name, raw in files.items()}


def test_there_is_a_sheet_for_each_load_that_names_the_next(
    march: tuple[Program, dict[str, bytes]],
) -> None:
    program, files = march
    firsts = [str(t.span.first) for t in program.tables if t.span]
    sheets = [name for name in files if name.startswith("typing-sheet")]
    assert sheets == [f"typing-sheet-{first}.txt" for first in firsts]
    for number, first in enumerate(firsts):
        sheet = files[f"typing-sheet-{first}.txt"].decode()
        hours = {"blue": ("09:00", "21:00"), "white": ("08:30", "21:30")}
        until, after = hours["blue" if number in (1, 2) else "white"]  # what the load changes
        day_before = dt.date.fromisoformat(first) - dt.timedelta(days=1)
        when = f"between {day_before} {after} and {first} {until}"
        assert (
            f"Load {when if number else f'on {first}, before its first light'}; it holds" in sheet
        )
        following = firsts[number + 1 : number + 2]
        assert all(f"The next sheet is for {then}." in sheet for then in following)
        assert ("Compile again before then." in sheet) is (not following)
        # blue burns in on 2 and 3 March, white on 9 and 10 March: each load changes one channel
        changed = (("blue", "white"), ("blue",), ("blue",), ("white",), ("white",))[number]
        boxes = sum(len(program.tables[number].channels[id].fit.rows) for id in changed)
        assert sheet.count("[   ]") == boxes


def test_a_channel_that_did_not_change_is_not_typed_again(
    march: tuple[Program, dict[str, bytes]],
) -> None:
    _, files = march
    sheet = files["typing-sheet-2027-03-02.txt"].decode()
    blue, white = sheet.split("Channel blue: ")[1].split("Channel white: ")
    said = "NOT CHANGED since the load before: nothing to type."
    assert said not in blue and said in white
    assert "typed" in blue and "   typed" not in white
    assert "    1  08:29 " in white  # the rows stand there still, to compare: dawn is at 08:30
    assert said not in files["typing-sheet-2027-03-01.txt"].decode()


def test_tubes_to_fit_stand_on_the_sheet(march: tuple[Program, dict[str, bytes]]) -> None:
    _, files = march
    said = {name: raw.decode().count("Unplug before relamping.") for name, raw in files.items()}
    # one of the cautions says "unplug before relamping", too, without a capital
    assert [name for name, count in said.items() if count and name.startswith("typing")] == [
        "typing-sheet-2027-03-02.txt",
        "typing-sheet-2027-03-09.txt",
    ]
    sheet = files["typing-sheet-2027-03-02.txt"].decode()
    assert "Fit blue-a and blue-b on 2027-03-02 before 08:00. Unplug before relamping.\n" in sheet


def test_a_controller_of_two_tables_is_loaded_three_times() -> None:
    sheets = sheets_of(NEW_TUBES.replace("tables: 1", "tables: 2"), MARCH)
    assert list(sheets) == [f"typing-sheet-2027-03-{day}.txt" for day in ("01", "04", "11")]
    sheet = sheets["typing-sheet-2027-03-01.txt"]
    assert "TABLE FROM 2027-03-01 TO 2027-03-01" in sheet
    assert "TABLE FROM 2027-03-02 TO 2027-03-03" in sheet
    assert "Tubes burn in: channel blue is undimmed from 11:10 to 18:51, else dark." in sheet
    # each table is typed whole into a place of its own
    first, second = sheet.split("TABLE FROM ")[1:]
    assert "The same rows as" not in first
    assert second.count("The same rows as in the table from 2027-03-01.") == 1
    assert "NOT CHANGED" not in sheet
    # the first table of a load is held against the last of the load before, in which blue burns in
    third, _ = sheets["typing-sheet-2027-03-04.txt"].split("TABLE FROM ")[1:]
    assert third.count("The same rows as in the table from 2027-03-02.") == 1
    assert third.count("The same rows") == 1


def test_one_table_has_one_sheet_without_a_date() -> None:
    sheets = sheets_of(NEW_TUBES, DateSpan(dt.date(2027, 3, 12), dt.date(2027, 3, 31)))
    assert list(sheets) == ["typing-sheet.txt"]


def test_a_table_of_no_date_is_loaded_once_and_every_caution_stands_there() -> None:
    sheet = sheets_of(SCHEDULE, None)["typing-sheet.txt"]
    assert "Load once; these rows have no date." in sheet
    words = " ".join(sheet.split())
    assert all(" ".join(caution.split()) in words for caution in CAUTIONS)
    assert all(len(line) <= 90 for line in sheet.splitlines())


def test_a_table_with_moonlight_past_midnight_is_loaded_after_it() -> None:
    # the moonlight of this example lasts from 22:00 to 02:00; see its file
    text = (ROOT / "examples" / "teaching-reef.yaml").read_text(encoding="utf-8")
    day = dt.date(2027, 3, 1)
    sheet = sheets_of(text, DateSpan(day, day))["typing-sheet.txt"]
    assert "Load on 2027-03-01 between 02:00 and 08:" in sheet


@pytest.mark.parametrize("evil", ["\u202ereversed", "\x1b[31mred"])
def test_a_title_can_not_steer_a_terminal(evil: str) -> None:
    escaped = evil.encode("unicode_escape").decode().replace("\\x1b", "\\e")
    sheet = sheets_of(SCHEDULE.replace("title: Test bench", f'title: "{escaped}"'), None)
    assert not set("\x1b\u202e") & set("".join(sheet.values()))


def test_the_sheet_says_what_is_not_guarded() -> None:
    sheet = sheets_of(SCHEDULE, None)["typing-sheet.txt"]
    words = "NOT GUARDED: rise within a minute in zone 'crest' (no ppfd_rise_per_minute_max)"
    assert words in " ".join(sheet.split())
    guarded = SCHEDULE.replace(
        "dark_hours_min: 8", "dark_hours_min: 8, ppfd_rise_per_minute_max: 3"
    )
    assert "GUARDED" not in sheets_of(guarded, None)["typing-sheet.txt"]
