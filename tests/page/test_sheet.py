from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.page.sheet import NEVER_TOUCH, NOT_NORMAL, range_of, sheet_of
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from tests.changes.bench import scheduled
from tests.changes.bench import span as days
from tests.page.pages import TWO_WEEKS, changed, example, page, program
from tests.program.test_part_losses import OUT, TUBED


def test_hours_are_those_of_the_plan() -> None:
    """The lamp of the tests is lit from 09:00 to 21:00."""
    sheet = sheet_of(program(), {"blue": 0})
    assert [(each.channel, each.times, each.most) for each in sheet.lit] == [
        ("blue", "09:00 to 21:00", "79 %")
    ]
    assert sheet.dark == "All lamps are dark from 21:00 to 09:00."
    assert (sheet.dates, sheet.changes) == ("any date", "")


def test_the_strip_of_each_lamp_says_what_its_thickest_place_means() -> None:
    """The example asks for 80 % of blue and 70 % of white: strips as thick as each other."""
    figure = sheet_of(program(example("smallest")), {"blue": 0, "white": 1}).figure
    assert "its own lamp" in figure.caption
    told = [w.text.split() for w in figure.words if w.text.startswith("most ")]
    assert [unit for _, _, unit in told] == ["%", "%"]
    assert [int(most) for _, most, _ in told] == pytest.approx([80, 70], abs=1)


def test_it_is_for_two_weeks_and_no_longer() -> None:
    long = DateSpan(TWO_WEEKS.first, TWO_WEEKS.first + dt.timedelta(days=60))
    assert sheet_of(program(changed(), long), {"blue": 0}).dates == "2027-03-02 to 2027-03-15"


def test_hours_that_change_are_told_as_the_earliest_and_the_latest() -> None:
    span = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    found = program(example("teaching-reef"), span)
    sheet = sheet_of(found, dict.fromkeys(found.channels, 0))
    blue = sheet.lit[0]
    assert blue.times.startswith("09:00–")
    assert "New table on 2027-03-02 and 2027-03-04" in sheet.changes
    # The controller holds one table: who loads it, and when, is told
    assert len(sheet.loads) == 2
    assert sheet.loads[0].startswith("1 table") and "2027-03-02" in sheet.loads[0]
    moon = sheet.lit[-1]
    assert moon.times == "22:00 to 01:59"


def test_the_sheet_says_that_the_controller_needs_somebody_only_where_it_does() -> None:
    span = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    one = page(example("teaching-reef"), span)
    assert "The controller can't do everything by itself" in one
    assert "The controller does everything by itself" not in one
    assert "who loads tables" in one
    holds_all = example("teaching-reef").replace("  tables: 1\n", "  tables: 8\n")
    several = page(holds_all, span)
    assert "The controller does everything by itself" in several
    assert "who loads tables" not in several
    found = program(holds_all, span)
    assert sheet_of(found, dict.fromkeys(found.channels, 0)).loads == ()


def test_a_part_that_is_out_brings_no_new_table() -> None:
    found = compile_program(scheduled(OUT, text=TUBED), days("2027-05-01", "2027-05-06"))
    sheet = sheet_of(found, dict.fromkeys(found.channels, 0))
    assert (sheet.changes, sheet.loads) == ("", ())


def test_a_dark_lamp_and_one_that_never_goes_out() -> None:
    dark = changed(("peaks: [{light_percent: 80}]", "peaks: [{light_percent: 0}]"))
    assert sheet_of(program(dark), {"blue": 0}).lit[0].times == "dark all day"
    never = program(example("never-dark"))
    sheet = sheet_of(never, dict.fromkeys(never.channels, 0))
    assert "day and night" in {each.times for each in sheet.lit}
    assert sheet.dark == "Some lamp is lit at any hour."


def test_people_come_first() -> None:
    assert "residual-current" in NOT_NORMAL[0][0]
    assert "mercury" in NOT_NORMAL[1][1]
    assert any("several hundred volts" in each for each in NEVER_TOUCH)


@pytest.mark.parametrize(
    ("runs", "told"),
    [
        ([(86_390, 95_700)], "00:00 to 02:35"),  # ten seconds before midnight, to the minute
        ([(86_390, 95_700), (86_460, 95_760)], "00:00–00:01 to 02:35–02:36"),
        ([(66_660, 86_390)], "18:31 to 24:00"),  # what ends there ends that day
        ([(75_600, 86_400 + 32_400)], "21:00 to 09:00"),
    ],
)
def test_hours_that_begin_at_midnight_begin_at_0000(runs: list[tuple[int, int]], told: str) -> None:
    assert range_of(runs) == told
