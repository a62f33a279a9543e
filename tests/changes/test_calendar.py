"""Which changes act on which date."""

from __future__ import annotations

import datetime as dt

from photoperiod.changes.calendar import AS_PLANNED, ChangeCalendar, DayState
from tests.changes.bench import ACCLIMATION, CALM, DARK, MOVED, scheduled


def on(calendar: ChangeCalendar, date: str) -> DayState:
    return calendar.on(dt.date.fromisoformat(date))


def test_each_kind_acts_on_its_dates_and_on_no_other() -> None:
    found = ChangeCalendar(scheduled(ACCLIMATION, DARK, MOVED))
    assert on(found, "2027-03-31") == AS_PLANNED
    assert on(found, "2027-04-01") == DayState(shares=(("blue", 0.6), ("white", 0.6)))
    assert on(found, "2027-04-28") == DayState(shares=(("blue", 0.9), ("white", 0.9)))
    assert on(found, "2027-04-29") == AS_PLANNED
    assert (
        on(found, "2027-06-09").dark == on(found, "2027-06-09").dark_at_night == ("blue", "white")
    )
    assert on(found, "2027-06-10") == AS_PLANNED
    assert on(found, "2027-07-02") == DayState(moved_s=(("blue", 1200), ("white", 1200)))
    assert on(found, "2030-01-01") == DayState(moved_s=(("blue", 1800), ("white", 1800)))


def test_dates_that_go_alike_are_one_stretch() -> None:
    found = ChangeCalendar(scheduled(ACCLIMATION, DARK, MOVED))
    day = dt.date.fromisoformat
    assert found.begin(day("2027-03-31")) is None
    assert found.until(day("2027-03-01")) == day("2027-03-31")
    assert found.begin(day("2027-04-10")) == day("2027-04-08")
    assert found.until(day("2027-04-10")) == day("2027-04-14")
    assert found.until(day("2027-04-29")) == day("2027-06-06")
    assert found.until(day("2027-07-03")) == dt.date.max
    assert found.turns(day("2027-04-08"), day("2027-04-22")) == [
        day("2027-04-15"),
        day("2027-04-22"),
    ]


def test_what_is_dark_is_not_acclimated() -> None:
    dark = (
        "{kind: dark-days, from_date: 2027-04-05, days: 1, channels: [white], keep_moonlight: true}"
    )
    found = on(ChangeCalendar(scheduled(ACCLIMATION, dark)), "2027-04-05")
    assert found == DayState(dark=("white",), shares=(("blue", 0.6),))
    assert found.without_acclimation == DayState(dark=("white",))


def test_the_day_plan_that_began_last_holds() -> None:
    other = "{kind: other-day, from_date: 2027-05-01, day_plan: calm}"
    storm = "{kind: other-day, from_date: 2027-06-01, day_plan: dusky, days: 2}"
    plans = CALM + CALM.removeprefix("day_plans:\n").replace("calm", "dusky")
    found = ChangeCalendar(scheduled(storm, other, plans=plans))
    held = [on(found, f"2027-{date}").day_plans for date in ("04-30", "05-31", "06-02", "06-03")]
    assert held == [(), (("blue", "calm"),), (("blue", "dusky"),), (("blue", "calm"),)]


def test_moves_add_up() -> None:
    back = "{kind: moved-hours, from_date: 2027-09-01, minutes_per_day: 15, minutes: -30}"
    found = ChangeCalendar(scheduled(MOVED, back))
    assert dict(on(found, "2027-09-01").moved_s)["blue"] == 15 * 60
    assert on(found, "2027-09-02") == AS_PLANNED
