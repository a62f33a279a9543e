"""The light wanted on a date, with the changes that act on it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from photoperiod.changes.changed_days import ChangedDays
from photoperiod.days.day_curves import DayCurves
from photoperiod.program.day_sequence import DaySequence
from tests.changes.bench import ACCLIMATION, CALM, DARK, MOVED, TEXT, scheduled

HOUR = 3600

#: By hand: 11 h × 0.8 and moonlight of 4 h × 0.02 [h at full].
WHOLE_H, NIGHT_H = 8.8, 0.08


def days(*changes: str, plans: str = "", text: str = TEXT) -> ChangedDays:
    return ChangedDays(scheduled(*changes, plans=plans, text=text))


def hours(found: DayCurves, date: str) -> float:
    return found.curves(dt.date.fromisoformat(date))["blue"].integral() / HOUR


def test_a_schedule_without_changes_has_its_plain_days() -> None:
    plain = DaySequence(scheduled(), None).days
    assert type(plain) is DayCurves
    date = dt.date(2027, 4, 1)
    assert plain.days_on(date) is plain
    assert plain.alike_until(date) == dt.date.max
    assert plain.acclimated(date) == frozenset()


def test_a_day_without_a_date_is_as_planned() -> None:
    found = days(ACCLIMATION).curves(None)["blue"]
    assert found == DayCurves(scheduled()).curves(None)["blue"]


def test_outside_its_dates_nothing_is_changed() -> None:
    found = days(ACCLIMATION, DARK)
    plain = DayCurves(scheduled()).curves(None)
    for date in ("2027-03-31", "2027-04-29", "2027-06-06", "2027-06-10"):
        assert found.curves(dt.date.fromisoformat(date)) == plain, date


def test_dark_moved_and_dimmed() -> None:
    found = days(ACCLIMATION, DARK, MOVED)
    assert hours(found, "2027-04-01") == pytest.approx(0.6 * WHOLE_H + NIGHT_H)
    assert hours(found, "2027-06-08") == 0
    curve = found.curves(dt.date(2027, 7, 1))["blue"]
    assert curve.light(np.array([9.5 * HOUR + 600])) == pytest.approx([0.4])
    assert found.acclimated(dt.date(2027, 4, 1)) == {"blue", "white"}
    assert found.alike_until(dt.date(2027, 4, 1)) == dt.date(2027, 4, 7)


def test_a_day_plan_takes_the_place_of_day_and_moonlight() -> None:
    found = days("{kind: other-day, from_date: 2027-05-01, day_plan: calm}", plans=CALM)
    # 8 h with ramps of an hour to 40 %, no moonlight: 7 × 0.4
    assert hours(found, "2027-05-01") == pytest.approx(2.8)
    white = found.curves(dt.date(2027, 5, 1))["white"]
    assert white == found.curves(dt.date(2027, 4, 1))["white"]


def test_changes_stack_day_plan_first_then_moved_then_dimmed() -> None:
    plan = "{kind: other-day, from_date: 2027-04-01, day_plan: calm}"
    move = "{kind: moved-hours, from_date: 2027-04-01, minutes_per_day: 60, minutes: 60}"
    found = days(ACCLIMATION, move, plan, plans=CALM).curves(dt.date(2027, 4, 1))["blue"]
    assert found.integral() / HOUR == pytest.approx(0.6 * 2.8)
    assert found.light(np.array([11.5, 15.0]) * HOUR) == pytest.approx([0.12, 0.24])


def test_equal_states_share_their_days() -> None:
    found = days(ACCLIMATION, DARK)
    a, b = (found.days_on(dt.date(2027, 4, day)) for day in (1, 7))
    assert a is b is not found.days_on(dt.date(2027, 4, 8))


def test_a_date_on_which_the_clock_changes() -> None:
    text = TEXT.replace(
        "controller:\n  clock: standard\n",
        "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\nplan_clock: civil\n"
        "controller:\n  clock: civil\n",
    )
    # Europe/Lisbon is set forward on 2027-03-28: an hour of the morning never comes.
    dark = "{kind: dark-days, from_date: 2027-03-28, days: 1, channels: [white]}"
    found = days(dark, text=text)
    passing = found.passing(dt.date(2027, 3, 28))
    assert passing is not None and passing.length_s == 23 * HOUR
    assert passing.plan_s("white") == 0
    assert passing.plan_s("blue") > 0
    assert found.passing(dt.date(2027, 3, 29)) is None
    # set back on 2027-10-31 while the moonlight burns till 02:00: the hour from 01:00 comes twice
    assert [each[1] for each in found.set_back(dt.date(2027, 10, 31), dt.date(2027, 10, 31))] == [
        "blue",
        "white",
    ]
