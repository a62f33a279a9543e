"""Which day type holds on which date."""

from __future__ import annotations

import datetime as dt

import pytest

from photoperiod.program.dates import DateSpan
from photoperiod.program.day_sequence import DaySequence
from photoperiod.schedule.model import Schedule
from tests.conftest import load
from tests.program.bench import WORKED, march, scheduled

YEAR = DateSpan(dt.date(2027, 1, 1), dt.date(2027, 12, 31))

PLACE = "place: {latitude: 38.1, longitude: -11.5, time_zone: Europe/Lisbon}\n"


def with_place(*changes: tuple[str, str]) -> Schedule:
    text = WORKED.replace("controller:\n", f"{PLACE}controller:\n")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    found = load("test.yaml", text.encode())
    assert found.schedule is not None, [d.message for d in found.report]
    return found.schedule


def test_one_clock_and_no_sky_make_one_day_type() -> None:
    sequence = DaySequence(scheduled(WORKED), march(1, 10))
    assert sequence.on(dt.date(2027, 3, 1)) is sequence.on(dt.date(2027, 7, 9)) is sequence.first()
    assert sequence.until(dt.date(2027, 3, 1), dt.date(2029, 1, 1)) == dt.date(2029, 1, 1)


def test_a_clock_that_changes_makes_day_types_of_their_own() -> None:
    # Europe/Lisbon is set forward on 2027-03-28 and back on 2027-10-31; the controller stays.
    found = with_place(("title: Worked by hand\n", "title: Worked by hand\nplan_clock: civil\n"))
    assert found.needs_dates
    sequence = DaySequence(found, YEAR)
    winter, summer = sequence.on(dt.date(2027, 1, 9)), sequence.on(dt.date(2027, 7, 9))
    assert winter is not summer
    assert (
        sequence.on(dt.date(2027, 12, 9)) is winter and sequence.on(dt.date(2027, 4, 9)) is summer
    )
    # an hour earlier by the clock that is not set; a row of level 0 stands a minute before
    begins = {season.fits["blue"].rows[0].second + 60 for season in (winter, summer)}
    assert begins == {8 * 3600, 9 * 3600}
    last = YEAR.last
    assert sequence.until(YEAR.first, last) == dt.date(2027, 3, 27)
    assert sequence.until(dt.date(2027, 3, 28), last) == dt.date(2027, 3, 28)
    assert sequence.until(dt.date(2027, 3, 29), last) == dt.date(2027, 10, 30)
    assert sequence.until(dt.date(2027, 11, 1), last) == last


@pytest.fixture(scope="module")
def spring() -> DaySequence:
    found = with_place((
        """      kind: ramps
      dawn: {start: 09:00, minutes: 60}
      peaks: [{light_percent: 80}]
      dusk: {end: 21:00, minutes: 60}
""", "      kind: sun\n      peak_light_percent: 80\n"))  # fmt: skip
    return DaySequence(found, DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 20)))


def test_within_the_span_dates_have_the_day_type_of_their_season(spring: DaySequence) -> None:
    first = spring.on(dt.date(2027, 3, 1))
    assert first.season is not None and first is spring.first()
    until = spring.until(dt.date(2027, 3, 1), dt.date(2027, 3, 20))
    assert until < dt.date(2027, 3, 20)  # a fortnight of spring is not one table
    assert spring.on(until) is first
    after = spring.on(until + dt.timedelta(days=1))
    assert after is not first and after.season is not None
    assert spring.until(dt.date(2027, 3, 20), dt.date(2027, 3, 20)) == dt.date(2027, 3, 20)


def test_outside_the_span_dates_have_the_day_type_of_their_month(spring: DaySequence) -> None:
    day = spring.on(dt.date(2026, 2, 3))
    assert day is spring.typical(dt.date(2027, 2, 27)) and day.season is None
    assert day is not spring.typical(dt.date(2027, 3, 3))
    assert spring.typical(dt.date(2027, 3, 3)) is not spring.on(dt.date(2027, 3, 3))
    assert spring.until(dt.date(2026, 2, 3), dt.date(2026, 4, 1)) == dt.date(2026, 2, 28)
    assert spring.until(dt.date(2026, 2, 3), dt.date(2026, 2, 5)) == dt.date(2026, 2, 5)
    assert spring.until(dt.date(2026, 12, 3), dt.date(2027, 1, 9)) == dt.date(2026, 12, 31)


def spread_over(minutes: int) -> list[list[dt.date]]:
    """Return the dates of a spring that share a day type, where the plan follows so much a day."""
    found = with_place((
        "title: Worked by hand\n",
        f"title: Worked by hand\nplan_clock: civil\nclock_change_minutes_per_day: {minutes}\n",
    ))  # fmt: skip
    span = DateSpan(dt.date(2027, 3, 20), dt.date(2027, 6, 15))
    sequence = DaySequence(found, span)
    runs: list[list[dt.date]] = []
    for date in span:
        if runs and sequence.on(date) is sequence.on(runs[-1][-1]):
            runs[-1].append(date)
        else:
            runs.append([date])
    return runs


def test_a_plan_that_is_a_minute_later_is_not_worth_a_load() -> None:
    # Lisbon is set forward on 2027-03-28. By a minute a day the plan has followed after 60 days, on 05-26.
    # Two dates a minute apart are served alike: 0 and 1, 2 and 3, to 58 and 59; and then 60 for good.
    runs = spread_over(1)
    assert runs[0][0] == dt.date(2027, 3, 20) and runs[0][-1] == dt.date(2027, 3, 28)
    assert [len(run) for run in runs[1:-1]] == [2] * 29
    assert runs[-1][0] == dt.date(2027, 5, 26)


def test_a_plan_that_is_two_minutes_later_is() -> None:
    runs = spread_over(2)
    assert runs[0][-1] == dt.date(2027, 3, 27)
    assert [len(run) for run in runs[1:-1]] == [1] * 29


def test_how_far_the_plan_is_ahead_of_the_controller() -> None:
    # The controller stays in standard time; Lisbon's summer time is an hour ahead of it.
    found = with_place(("title: Worked by hand\n", "title: Worked by hand\nplan_clock: civil\n"))
    days = DaySequence(found, YEAR).days
    assert [days.shift_s(dt.date(2027, month, 1)) for month in (1, 7, 12)] == [0, 3600, 0]
