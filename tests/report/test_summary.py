"""The summary for a person: numbers that can be worked out by hand stand where they belong."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from functools import cache

import pytest

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.report import summary as summary_module
from photoperiod.report.summary import MOST_SHOWN, OF_READINGS, clock_change_text, render_summary
from photoperiod.schedule.model import PpfdSpread
from photoperiod.setpoints import single_fit
from photoperiod.setpoints.fit import remembered
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


def details(text: str = SCHEDULE, span: DateSpan | None = None) -> str:
    program = compiled(text, span).program
    assert program is not None
    return render_summary(program, [], detail=True)


def cells(text: str, first: str) -> list[list[str]]:
    """Return the cells of the lines that begin with a word; cells are two or more blanks apart."""
    lines = [line for line in text.splitlines() if line.startswith(first + "  ")]
    return [[cell.strip() for cell in line.split("  ") if cell.strip()] for line in lines]


def test_a_day_without_a_date() -> None:
    # 09:00 to 21:00 with hours of ramps to 80 %: 0.8 x 11 h = 8.8 h; x 130 x 0.0036 = 4.12 mol/m².
    text = summary()
    assert text.startswith("Test bench\none day without a date")
    ((_, dli, dose, peak, limit, night),) = cells(text, "crest")
    assert float(dli) == pytest.approx(4.12, abs=0.05)
    assert float(peak) == pytest.approx(0.8 * 130, abs=1.5)
    assert (dose, limit, night) == ("inside 3 to 5", "200 kept", "12 h 00 min (8 h)")
    ((_, hours, lit, dark, rows),) = cells(text, "blue")
    assert hours.endswith("(8.80)")
    assert (lit, dark) == ("12 h 00 min", "12 h 00 min")
    assert rows.endswith(" of 16")
    for absent in ("TABLE", "LOADS", "CLOCK CHANGES", "ACCEPTED", "tube ", "kWh", "proof:"):
        assert absent not in text


def test_doses_come_before_loads_and_loads_before_channels() -> None:
    text = summary(NEW_TUBES, DateSpan(MARCH.first, dt.date(2027, 3, 31)))
    places = [
        text.index(word) for word in ("zone   DLI", "LOADS", "TABLE FROM", "energy:", "tube ")
    ]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("band", "says"),
    [
        ("[3, 5]", "inside 3 to 5"),
        ("[5, 9]", "below 5 to 9"),
        ("[1, 3]", "above 1 to 3"),
        ("[1, 4.08]", "above 1 to 4.08"),
    ],
)
def test_a_dose_beside_its_band(band: str, says: str) -> None:
    ((_, _, dose, *_),) = cells(summary(changed(("dli: [3, 5]", f"dli: {band}"))), "crest")
    assert dose == says


def test_a_zone_whose_darkest_place_gets_too_little() -> None:
    # the mean of crest is 4.08, inside 3 to 5; its points get from 70 to 150 % of that: 4.08 × 0.7 = 2.86
    program = compiled(SCHEDULE).program
    assert program is not None and OF_READINGS not in summary()
    blue = program.schedule.channels["blue"]
    spread = {"crest": PpfdSpread(limits=195, dli_least=91)}
    mapped = replace(program.schedule, channels={"blue": replace(blue, ppfd_spread=spread)})
    text = render_summary(compile_program(mapped, None), [])
    ((_, dli, dose, peak, *_),) = cells(text, "crest")
    assert (dli, dose) == ("4.08", "below 3 to 5: 2.86 in its darkest place")
    assert float(peak) == pytest.approx(1.5 * float(cells(summary(), "crest")[0][3]), abs=0.1)
    assert OF_READINGS in text


def test_a_zone_without_limits_says_so() -> None:
    ((_, _, dose, _, limit, _),) = cells(
        summary(changed(("dli: [3, 5], ppfd_max: 200, ", ""))), "crest"
    )
    assert (dose, limit) == ("no band", "none")


def test_a_night_that_is_too_short() -> None:
    ((*_, night),) = cells(summary(changed(("dark_hours_min: 8", "dark_hours_min: 13"))), "crest")
    assert night == "12 h 00 min, too short (13 h)"


def test_over_many_dates_the_shortest_night_and_the_highest_peak_count() -> None:
    program = compiled(NEW_TUBES, DateSpan(MARCH.first, dt.date(2027, 3, 31))).program
    assert program is not None
    third = program.tables[2]
    worst = replace(third.zones["racks"], night_s=7 * 3600, peak_ppfd=270.0)
    table = replace(third, day=replace(third.day, zones={"racks": worst}))
    tables = (*program.tables[:2], table, *program.tables[3:])
    ((*_, peak, limit, night),) = cells(
        render_summary(replace(program, tables=tables), []), "racks"
    )
    assert (peak, limit, night) == ("270", "260 passed", "7 h 00 min, too short (9 h)")


def test_doses_over_many_dates_are_the_least_and_the_most() -> None:
    # New tubes are brighter than those that were measured: 6.43 is the plan as measured, and the
    # example's dose rises with each pair of new tubes.
    text = summary(NEW_TUBES, DateSpan(MARCH.first, dt.date(2027, 3, 31)))
    ((_, dli, dose, *_),) = cells(text, "racks")
    least, most = map(float, dli.split(" to "))
    assert least < 6.0 < 6.43 < most
    assert dose == "inside 5 to 9"
    part = summary(
        NEW_TUBES.replace("dli: [5, 9]", "dli: [6, 9]"),
        DateSpan(MARCH.first, dt.date(2027, 3, 31)),
    )
    assert cells(part, "racks")[0][2] == "on some dates below 6 to 9"


def test_a_limit_that_is_not_shown_to_be_kept() -> None:
    outcome = compiled(SCHEDULE)
    found = finding_on_limit()
    assert outcome.program is not None
    ((_, _, _, _, limit, _),) = cells(render_summary(outcome.program, [found]), "crest")
    assert limit == "200 not shown to be kept"


def finding_on_limit() -> Diagnostic:
    return Diagnostic(code="PHO430", message="not shown", path=("zones", "crest", "ppfd_max"))


def test_days_of_burn_in() -> None:
    # 8.8 h at full about 15:00 are 10:36 to 19:24. Of 12 h owed the second day pays the last 3.2 h,
    # until 13:48. The tube is lit for 8.8 + 8.8 + 12 + 12 h.
    text = summary(changed(OWES), MARCH)
    assert "2027-03-01 to 2027-03-05 (5 dates)" in text
    assert (
        "TABLE FROM 2027-03-02 TO 2027-03-03: blue changes\n"
        "blue burns in: at full from 10:36 to 19:24" in text
    )
    assert [hours[1] for hours in cells(text, "blue")][1].endswith("(8.80)")
    assert cells(text, "blue-a") == [["blue-a", "blue", "41.6", "paid on 2027-03-03 at 13:48"]]
    loads = text[text.index("LOADS") :].splitlines()[1:5]
    assert loads == [
        "  on 2027-03-01, before its first light: 1 table, up to 2027-03-01",
        "  between 2027-03-01 21:00 and 2027-03-02 09:00: 1 table, up to 2027-03-03",
        "    fit blue-a before the first light of 2027-03-02",
        "  between 2027-03-03 21:00 and 2027-03-04 09:00: 1 table, up to 2027-03-05",
    ]


def test_a_table_shows_the_channels_that_it_changes() -> None:
    text = summary(NEW_TUBES, DateSpan(MARCH.first, dt.date(2027, 3, 31)))
    parts = text[: text.index("energy:")].split("TABLE FROM ")[1:]
    shown = [re.findall(r"^(blue|white)  ", part, re.MULTILINE) for part in parts]
    assert shown == [["blue", "white"], ["blue"], ["blue"], ["white"], ["white"]]


def test_energy_over_all_dates() -> None:
    # A ballast of 100 W at full and at its floor, lit for 12 h a day by its table: 1.2 kWh, nothing in
    # the dark. On two days of burn-in it is lit for 8.8 h: 0.88 kWh.
    watts = (
        "    below_floor: nearest\n",
        "    below_floor: nearest\n    watts: {full: 100, floor: 100}\n",
    )
    assert "energy: 1.20 kWh a day\n" in summary(changed(watts))
    assert "\nenergy: not known, because no ballast has `watts`\n" in summary(SCHEDULE)
    total = 3 * 1.2 + 2 * 0.88
    assert f"energy: {total:.2f} kWh over 5 dates\n" in summary(changed(watts, OWES), MARCH)


def test_details_add_errors_proofs_and_doses_by_channel() -> None:
    program = compiled(SCHEDULE).program
    assert program is not None
    short, long = (render_summary(program, [], detail=detail) for detail in (False, True))
    for words in ("worst light error", "no table of 16 rows", "DLI by channel", "does not round"):
        assert words not in short
        assert words in long
    assert "`--detail` adds" in short and "`--detail` adds" not in long


def test_tubes_that_owe_nothing_are_a_detail() -> None:
    # 12 h a day on five dates
    assert cells(summary(span=MARCH), "blue-a") == []
    assert cells(details(span=MARCH), "blue-a") == [["blue-a", "blue", "60.0", "nothing owed"]]


def test_lines_fit_where_columns_do_not() -> None:
    program = compiled(NEW_TUBES, DateSpan(MARCH.first, dt.date(2027, 3, 31))).program
    assert program is not None
    for room in (40, 60, 80):
        for detail in (False, True):
            text = render_summary(program, [], detail=detail, room=room)
            assert max(map(len, text.splitlines())) <= room
    assert re.search(
        r"^racks\n  DLI mol/m²: [0-9.]+ to [0-9.]+\n  dose: inside 5 to 9\n",
        render_summary(program, [], room=60),
        re.MULTILINE,
    )


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
    assert accepted.splitlines()[1].endswith("because: seedlings")


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


def test_a_moon_counts_as_shown_by_half_of_its_light() -> None:
    program = compiled(SCHEDULE, MARCH).program
    assert program is not None
    text = render_summary(replace(program, moon_nights={"blue": (3, 5, 0)}), [])
    assert (
        "\nblue shows half of the moon's light or more on 3 of 5 dates that have a moon\n" in text
    )


def test_many_tables_are_listed_and_have_no_sections() -> None:
    text = summary(many_new_tubes(), DateSpan(MARCH.first, dt.date(2027, 3, 25)))
    assert "TABLE FROM" not in text
    assert cells(text, "from")[0][:3] == ["from", "to", "tables"]
    assert cells(text, "2027-03-02")[0][:3] == ["2027-03-02", "2027-03-02", "1"]


def many_new_tubes() -> str:
    """Return a schedule with a new tube every three days, so that there are many tables."""
    days = "\n".join(
        f"  t{n}: {{watts: 54, fitted: 2027-03-{2 + 3 * n:02d}, burn_in_full_hours: 8}}"
        for n in range(6)
    )
    names = ", ".join(f"t{n}" for n in range(6))
    return changed(("  blue-a: {watts: 54}", days), ("tubes: [blue-a]", f"tubes: [{names}]"))


def test_loads_of_a_month_stand_in_a_line_if_there_are_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    span = DateSpan(MARCH.first, dt.date(2027, 3, 25))
    program = compiled(many_new_tubes(), span).program
    assert program is not None
    monkeypatch.setattr(summary_module, "MOST_LOADS_LISTED", 20)
    listed = render_summary(program, [])
    dates = re.findall(r"^  (?:on|between .* and) (2027-03-\d\d)[ ,]", listed, re.MULTILINE)
    assert len(dates) == len(program.loads) > MOST_SHOWN
    monkeypatch.setattr(summary_module, "MOST_LOADS_LISTED", 3)
    said = (
        f"LOADS\n  2027-03: {len(dates)} loads; the typing sheets name the dates\n  fit t0 before"
    )
    assert said in render_summary(program, [])
    monkeypatch.setattr(summary_module, "MOST_DAYS_LISTED", 20)
    days = [date[-2:] for date in dates]
    said = f"  2027-03: {len(dates)} loads, on {', '.join(days[:-1])} and {days[-1]}\n"
    assert said in render_summary(program, [])
    monkeypatch.setattr(summary_module, "MOST_LOADS_LISTED", 0)
    assert f"  {len(dates)} in 1 months; the typing" in render_summary(program, [])


def test_each_load_and_table_is_named_with_its_dates() -> None:
    march = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    text = summary(NEW_TUBES, march)
    for first, last in (("01", "01"), ("02", "03"), ("04", "08"), ("09", "10"), ("11", "31")):
        assert f"TABLE FROM 2027-03-{first} TO 2027-03-{last}" in text
        assert re.search(
            rf"^  (on|between .* and) 2027-03-{first}[ ,].*: 1 table, up to 2027-03-{last}$",
            text,
            re.MULTILINE,
        )


def test_one_table_has_one_load_and_no_heading() -> None:
    one = DateSpan(dt.date(2027, 3, 12), dt.date(2027, 3, 31))
    text = summary(NEW_TUBES, one)
    assert text.count("  on 2027-03-12, before its first light: 1 table, up to 2027-03-31\n") == 1
    assert "TABLE" not in text


def test_a_date_of_a_clock_change_says_how_long_it_is() -> None:
    # Lisbon's clock goes forward on 2027-03-28 and back on 2027-10-31 (IANA).
    place = (
        "place: {latitude: 38.72, longitude: -9.14, time_zone: Europe/Lisbon}\nplan_clock: civil\n"
    )
    text = changed(("controller:\n  clock: standard", place + "controller:\n  clock: civil"))
    spring = details(text, DateSpan(dt.date(2027, 3, 27), dt.date(2027, 3, 29)))
    assert (
        "THE SAME TABLE FROM 2027-03-28 TO 2027-03-28\n"
        "the clock changes on this date: doses are those of the 23 h that pass\n"
    ) in spring
    assert "THE SAME TABLE FROM 2027-03-29 TO 2027-03-29\n" in spring
    assert spring.count("the clock changes on this date") == 1
    assert "2027-03-28 01:00 UTC: the controller's clock goes forward by 60 min\n" in spring
    assert spring.count("1 table, up to") == 1
    autumn = summary(text, DateSpan(dt.date(2027, 10, 31), dt.date(2027, 10, 31)))
    assert "doses are those of the 25 h that pass\n" in autumn


def test_a_second_objective_that_took_too_much_work_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = "which of the tables within 5 % of it is closest in the mean took too much work to find"
    assert said not in details()
    remembered.forget()  # the tables of the same day, which were just made with all the work
    monkeypatch.setattr(single_fit, "REFINEMENT_WORK", 1000)
    assert said in details(changed(("title: Test bench", "title: Hasty bench")))
