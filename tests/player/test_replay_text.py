"""A replay in words and numbers, by a table that is reckoned by hand."""

from __future__ import annotations

import csv
import datetime as dt
import io
from typing import Any

import pytest

from photoperiod.drive.grid import Row
from photoperiod.player.reference import Status
from photoperiod.player.replay_text import (
    day_csv,
    day_data,
    day_text,
    moment_data,
    moment_text,
    status_words,
)
from photoperiod.sky.clock import Clock
from photoperiod.source.json_schema import validate
from tests.player.tables import table

FIRST, LAST = dt.date(2027, 3, 1), dt.date(2027, 3, 5)
HOUR = 3600

#: 50 % is code 2048, 5 V, and by the square law a quarter of full light; from 9 to 21 h.
ROWS = [Row(9 * HOUR, 50, True), Row(21 * HOUR - 1, 50, True), Row(21 * HOUR, 0, False)]
STEADY = table({FIRST: ROWS}, last=LAST)


def test_a_moment_for_people() -> None:
    lines = moment_text(STEADY, FIRST, 12 * HOUR).splitlines()
    assert lines[0] == "Test bench, 2027-03-01 12:00:00 on the standard clock"
    assert lines[2].split() == ["channel", "light", "%", "level", "%", "volts", "code", "relay"]
    assert lines[3].split() == ["blue", "25.00", "50", "5.000", "2048", "on"]
    assert lines[-1] == "  crest: 32.5 µmol m⁻² s⁻¹"  # a quarter of 130


def test_a_moment_of_a_table_without_dates_names_none() -> None:
    text = moment_text(table({None: ROWS}), FIRST, 12 * HOUR)
    assert text.splitlines()[0] == "Test bench, 12:00:00 on the standard clock"
    day = day_text(table({None: ROWS}), dt.date(2000, 1, 1), 6 * HOUR)
    assert day.splitlines()[0] == "Test bench, any date on the standard clock"
    for held in (STEADY, table({None: ROWS})):  # one that was named
        assert day_text(held, FIRST, 6 * HOUR).startswith("Test bench, 2027-03-01 on the")


@pytest.mark.parametrize(
    ("date", "words"),
    [
        (dt.date(2027, 2, 28), "before the first date"),
        (FIRST, None),
        (LAST, None),
        (dt.date(2027, 3, 6), "after the last date"),
    ],
)
def test_a_date_outside_the_tables_is_told_of(date: dt.date, words: str | None) -> None:
    for text in (moment_text(STEADY, date, 0), day_text(STEADY, date, 6 * HOUR)):
        told = [line for line in text.splitlines() if line.startswith("  (")]
        assert len(told) == (words is not None)
        assert words is None or words in told[0]
    assert len(day_data(STEADY, date, 6 * HOUR)["status"]) == (words is not None)


def test_only_what_people_must_know_has_words() -> None:
    assert status_words(Status.FINE) == []
    assert len(status_words(Status.EARLY)) == len(status_words(Status.EXPIRED)) == 1


def test_a_moment_as_data() -> None:
    data = moment_data(STEADY, FIRST, 12 * HOUR)
    assert validate(data, "replay")[0] == []
    assert (data["date"], data["time"]) == ("2027-03-01", "12:00:00")
    assert data["channels"]["blue"] == {
        "count": 50, "converter_code": 2048, "volts": 5.0, "level_percent": 50.0,
        "light_percent": 25.0, "relay": "on",
    }  # fmt: skip
    assert data["ppfd_umol_m2_s"] == {"crest": 32.5}


def test_a_day_for_people() -> None:
    lines = day_text(STEADY, FIRST, 6 * HOUR).splitlines()
    assert lines[0] == "Test bench, 2027-03-01 on the standard clock"
    assert [line.split() for line in lines[2:7]] == [
        ["time", "blue", "%"], ["00:00", "dark"], ["06:00", "dark"], ["12:00", "25"], ["18:00", "25"],
    ]  # fmt: skip
    # 12 h of a quarter are 3 full-light hours; 3 · 130 · 0.0036 = 1.404 mol m⁻² d⁻¹
    assert "  blue: 3.00 full-light hours, lit for 12 h 00 min" in lines
    assert "  crest: DLI 1.40 mol m⁻² d⁻¹ (by full_ppfd as measured)" in lines


def test_seconds_are_shown_where_lines_fall_between_minutes() -> None:
    assert "\n  00:00:30 " in day_text(STEADY, FIRST, 30)
    assert "00:00:00" not in day_text(STEADY, FIRST, 60)


def test_a_day_as_csv() -> None:
    text = day_csv(STEADY, FIRST, 6 * HOUR)
    assert text.count("\r\n") == text.count("\n") == 5
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert [row["time"] for row in rows] == ["00:00:00", "06:00:00", "12:00:00", "18:00:00"]
    assert [row["light_percent"] for row in rows] == ["0.0", "0.0", "25.0", "25.0"]
    assert [row["relay"] for row in rows] == ["off", "off", "on", "on"]


def test_a_day_as_data() -> None:
    data: Any = day_data(STEADY, FIRST, 6 * HOUR)
    assert validate(data, "replay")[0] == []
    assert data["channels"]["blue"] == {"full_light_hours": 3.0, "lit_hours": 12.0}
    assert data["dli_mol_m2_d"]["crest"] == pytest.approx(1.404, abs=1e-4)
    assert [moment["channels"]["blue"]["light_percent"] for moment in data["moments"]] == [
        0.0, 0.0, 25.0, 25.0,
    ]  # fmt: skip


def test_a_controller_without_a_relay_shows_none() -> None:
    bare = table(
        {None: [Row(0, 50)]},
        lambda text: text.replace("relay: {kind: column}", "relay: {kind: none}").replace(
            "dark: {kind: relay}", "dark: {kind: standby, below_volts: 0.2}"
        ),
    )
    assert moment_data(bare, FIRST, 0)["channels"]["blue"]["relay"] is None
    assert moment_text(bare, FIRST, 0).splitlines()[3].split()[-1] == "-"


def test_doses_of_a_date_on_which_the_clock_changes_are_those_of_the_time_that_passes() -> None:
    # Lisbon goes forward at 01:00 of 2027-03-28, back at 02:00 of 2027-10-31 (IANA). A lamp at a quarter of
    # full from 00:00 to 06:00 gives a quarter of 5 and of 7 h: 130 × 1.25 × 0.0036 = 0.585 mol m⁻².
    rows = [Row(0, 50, True), Row(6 * HOUR - 1, 50, True), Row(6 * HOUR, 0, False)]
    night = table({dt.date(2027, 3, 1): rows}, last=dt.date(2027, 11, 5))
    clock = Clock.civil("Europe/Lisbon")
    for date, hours, lit in ((dt.date(2027, 3, 27), 1.5, 6), (dt.date(2027, 3, 28), 1.25, 5),
                             (dt.date(2027, 10, 31), 1.75, 7)):  # fmt: skip
        data = day_data(night, date, 6 * HOUR, clock)
        assert data["channels"]["blue"] == {"full_light_hours": hours, "lit_hours": lit}
        assert data["dli_mol_m2_d"]["crest"] == pytest.approx(130 * hours * 0.0036, abs=1e-4)
        text = day_text(night, date, 6 * HOUR, clock)
        assert f"blue: {hours:.2f} full-light hours, lit for {lit} h" in text
        assert ("the clock changes on this date" in text) is (lit != 6)
    # a table of no date has whole days
    assert day_data(table({None: rows}), dt.date(2027, 3, 28), 6 * HOUR, clock)["channels"][
        "blue"
    ] == {"full_light_hours": 1.5, "lit_hours": 6}
