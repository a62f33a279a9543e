"""The summary for a person: numbers that can be worked out by hand stand where they belong."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache

import pytest

from photoperiod.program.dates import DateSpan
from photoperiod.report.summary import MOST_SHOWN, clock_change_text, columns, render_summary
from photoperiod.setpoints import single_fit
from photoperiod.sky.clock import Clock
from tests.conftest import ROOT, SCHEDULE, changed, compiled

OWES = (
    "  blue-a: {watts: 54}",
    "  blue-a: {watts: 54, fitted: 2027-03-02, burn_in_full_hours: 12}",
)
MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 5))

#: Tubes burn in on 2 and 3, 9 and 10 March, so that there are five tables.
NEW_TUBES = (ROOT / "examples" / "new-tubes.yaml").read_text(encoding="utf-8")


@cache
def summary(text: str = SCHEDULE, span: DateSpan | None = None) -> str:
    outcome = compiled(text, span)
    assert outcome.program is not None
    return render_summary(outcome.program, list(outcome.report))


def cells(text: str, first: str) -> list[list[str]]:
    """Return the cells of the lines that begin with a word; cells are two or more blanks apart."""
    lines = [line for line in text.splitlines() if line.startswith(first + "  ")]
    return [[cell.strip() for cell in line.split("  ") if cell.strip()] for line in lines]


def test_a_day_without_a_date() -> None:
    # 09:00 to 21:00 with hours of ramps to 80 %: 0.8 x 11 h = 8.8 h; x 130 x 0.0036 = 4.12 mol/m².
    text = summary()
    assert text.startswith("Test bench\none day without a date")
    ((_, rows, error, hours, _, dark, starts),) = cells(text, "blue")
    assert rows.endswith(" of 16")
    assert re.fullmatch(r"[0-9.]+ % at [0-9:]+", error)
    assert hours.endswith("(8.80)")
    assert (dark, starts) == ("12 h 00 min", "1")
    ((_, dli, band, _, limit, night, share),) = cells(text, "crest")
    assert dli.endswith("(4.12)")
    assert (band, limit, night) == ("3 to 5", "200", "12 h 00 min")
    assert share == f"blue {dli.split()[0]}"
    for absent in ("TABLE", "LOADS", "CLOCK CHANGES", "ACCEPTED", "tube "):
        assert absent not in text


def test_days_of_burn_in() -> None:
    # 8.8 h at full about 15:00 are 10:36 to 19:24. Of 12 h owed the second day pays the last 3.2 h,
    # until 13:48. The tube is lit for 8.8 + 8.8 + 12 + 12 h.
    text = summary(changed(OWES), MARCH)
    assert "2027-03-01 to 2027-03-05 (5 dates)" in text
    assert "3 tables, see the loads below" in text
    assert "TABLE FROM 2027-03-02 TO 2027-03-03\nblue burns in: at full from 10:36 to 19:24" in text
    assert [hours[3] for hours in cells(text, "blue")][1].endswith("(8.80)")
    assert cells(text, "blue-a") == [["blue-a", "blue", "41.6", "paid on 2027-03-03 at 13:48"]]
    loads = text[text.index("LOADS") :].splitlines()[1:4]
    assert [line.split(", up to ")[1] for line in loads] == [
        "2027-03-01",
        "2027-03-03",
        "2027-03-05",
    ]


def test_a_debt_that_is_left() -> None:
    text = summary(changed(OWES), DateSpan(MARCH.first, dt.date(2027, 3, 2)))
    assert cells(text, "blue-a") == [["blue-a", "blue", "8.8", "still owes 3.2 h at full"]]


def test_a_tube_that_comes_later() -> None:
    text = summary(changed(OWES), DateSpan(MARCH.first, MARCH.first))
    assert cells(text, "blue-a")[0][3] == "fitted after these dates"
    assert "(1 date)" in text


def test_a_hard_finding_that_is_accepted_is_named_with_its_reason() -> None:
    text = summary(
        changed(
            ("ppfd_max: 200", "ppfd_max: 90"),
            ("zones:\n", "accept: [{finding: ppfd-above-most, because: seedlings}]\nzones:\n"),
        )
    )
    accepted = text[text.index("ACCEPTED BY THE SCHEDULE") :]
    assert "ppfd-above-most: " in accepted
    assert accepted.rstrip().endswith("because: seedlings")


def test_columns_are_as_wide_as_their_widest_cell() -> None:
    assert columns(("a", "head"), [("水槽", "1"), ("x", "\U0001f469\u200d\U0001f52c")]) == [
        "a     head",
        "水槽  1",
        "x     \U0001f469\u200d\U0001f52c",
    ]


@pytest.mark.parametrize(
    ("month", "says"),
    [
        (3, "2027-03-28 01:00 UTC: the plan's clock goes forward by 60 min"),
        (10, "2027-10-31 01:00 UTC: the plan's clock goes back by 60 min"),
    ],
)
def test_clock_changes(month: int, says: str) -> None:
    # IANA: Europe/Lisbon.
    clock = Clock.civil("Europe/Lisbon")
    begin, _ = clock.day_bounds(dt.date(2027, month, 1))
    (change,) = clock.changes(begin, begin + 31 * 86_400)
    assert clock_change_text("plan", change) == says


def test_many_tables_have_a_line_each() -> None:
    days = "\n".join(
        f"  t{n}: {{watts: 54, fitted: 2027-03-{2 + 3 * n:02d}, burn_in_full_hours: 8}}"
        for n in range(6)
    )
    names = ", ".join(f"t{n}" for n in range(6))
    text = summary(
        changed(("  blue-a: {watts: 54}", days), ("tubes: [blue-a]", f"tubes: [{names}]")),
        DateSpan(MARCH.first, dt.date(2027, 3, 25)),
    )
    assert "table from" in text
    rows = cells(text, "2027-03-01") + cells(text, "2027-03-02")
    assert rows[0][:2] == ["2027-03-01", "2027-03-01"]
    assert rows[1][4] == "blue"
    count = sum(line[:8] == "2027-03-" for line in text.splitlines())
    assert count > MOST_SHOWN


def test_each_load_and_table_is_named_with_its_dates() -> None:
    march = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    text = summary(NEW_TUBES, march)
    for first, last in (("01", "01"), ("02", "03"), ("04", "08"), ("09", "10"), ("11", "31")):
        assert f"TABLE FROM 2027-03-{first} TO 2027-03-{last}\n" in text
        assert (
            f"  on 2027-03-{first}, before its first light: 1 table, up to 2027-03-{last}" in text
        )


def test_one_table_needs_no_list_of_loads() -> None:
    one = DateSpan(dt.date(2027, 3, 12), dt.date(2027, 3, 31))
    assert "LOADS" not in summary(NEW_TUBES, one)


def test_a_date_of_a_clock_change_says_how_long_it_is() -> None:
    # Lisbon's clock goes forward on 2027-03-28 and back on 2027-10-31 (IANA).
    place = (
        "place: {latitude: 38.72, longitude: -9.14, time_zone: Europe/Lisbon}\nplan_clock: civil\n"
    )
    text = changed(("controller:\n  clock: standard", place + "controller:\n  clock: civil"))
    spring = summary(text, DateSpan(dt.date(2027, 3, 27), dt.date(2027, 3, 29)))
    assert (
        "THE SAME TABLE FROM 2027-03-28 TO 2027-03-28\n"
        "the clock changes on this date: doses are those of the 23 h that pass\n"
    ) in spring
    assert "THE SAME TABLE FROM 2027-03-29 TO 2027-03-29\n" in spring
    assert spring.count("the clock changes on this date") == 1
    assert "2027-03-28 01:00 UTC: the controller's clock goes forward by 60 min\n" in spring
    assert "LOADS" not in spring
    autumn = summary(text, DateSpan(dt.date(2027, 10, 31), dt.date(2027, 10, 31)))
    assert "doses are those of the 25 h that pass\n" in autumn


def test_a_second_objective_that_took_too_much_work_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = "which of the tables within 5 % of it is closest in the mean took too much work to find"
    assert said not in summary()
    monkeypatch.setattr(single_fit, "REFINEMENT_WORK", 1000)
    assert said in summary(changed(("title: Test bench", "title: Hasty bench")))
