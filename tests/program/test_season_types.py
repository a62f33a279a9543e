"""Days that follow the sky share tables: channels that change nightly apart, limits together."""

from __future__ import annotations

import datetime as dt
import gc
import itertools

import numpy as np
import pytest

from photoperiod.days.day_curves import DayCurves
from photoperiod.program import season_types
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_samples import DaySamples
from photoperiod.program.day_types import DayType, SeasonCount
from photoperiod.program.season_types import season_day_types
from photoperiod.schedule.model import Schedule
from tests.program.bench import changed, scheduled

FIRST = dt.date(2027, 3, 10)
SPAN = DateSpan(FIRST, dt.date(2027, 3, 31))

#: The worked bench under the sun of Lisbon: ten rows, five minutes between them.
SPRING = changed(
    ("title: Worked by hand\n", "title: Spring\nplace: {latitude: 38.7, longitude: -9.1, time_zone:"
     " Europe/Lisbon}\nSEASONS"),
    ("clock: standard", "clock: CLOCK"),
    ("setpoints_per_channel: 12", "setpoints_per_channel: 10"),
    ("time_step_minutes: 1", "time_step_minutes: 5"),
    ("dark_hours_min: 8", "dark_hours_min: 4"),
)  # fmt: skip
SUN = "    day: {kind: sun, peak_light_percent: 80}\n"
TEXT = SPRING[: SPRING.index("    day:")].replace("  blue:", "  sun:") + SUN


def schedule(seasons: str = "", clock: str = "standard") -> Schedule:
    return scheduled(TEXT.replace("SEASONS", seasons).replace("CLOCK", clock))


def day_types(found: Schedule, told: list[tuple[int, int]]) -> list[tuple[dt.date, DayType]]:
    return with_counts(found, told)[0]


def with_counts(
    found: Schedule, told: list[tuple[int, int]]
) -> tuple[list[tuple[dt.date, DayType]], tuple[SeasonCount, ...]]:
    return season_day_types(
        found, DayCurves(found), SPAN, lambda done, total: told.append((done, total))
    )


def test_day_types_follow_each_other_and_keep_their_errors() -> None:
    told: list[tuple[int, int]] = []
    wide = "dated_tables: {light_error_percent: 8, dose_error_percent: 8}\n"
    found = day_types(schedule(wide), told)
    firsts = [first for first, _ in found]
    assert firsts == sorted(set(firsts)) and firsts[0] == SPAN.first and firsts[-1] <= SPAN.last
    assert 1 < len(found) < SPAN.days  # days of three weeks differ by more, neighbours by less
    for (first, day_type), after in zip(
        found, [*firsts[1:], SPAN.last + dt.timedelta(days=1)], strict=True
    ):
        assert day_type.season is not None
        sun = day_type.season.channels["sun"]
        assert (sun.first, sun.days) == (first, (after - first).days)
        assert sun.error.light <= 0.08 and sun.error.dose <= 0.08
    assert told[-1] == (SPAN.days, SPAN.days)
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_tables_are_counted_beside_the_fewest_that_are_possible() -> None:
    wide = "dated_tables: {light_error_percent: 8, dose_error_percent: 8}\n"
    found, (count,) = with_counts(schedule(wide), [])
    assert count.channels == ("sun",) and count.tables == len(found)
    # Doses from 0.92 to 1.08 of a table's own: days of one table differ at most as 1.08 to 0.92. The
    # declination of the sun goes from -4.2 to 4.2 degrees in these 22 days (any almanac), and the dose of a
    # sun over Lisbon from 0.90 to 1.09 of that of the equinox (sine law, by hand): two tables at least.
    assert 2 <= count.fewest <= count.tables
    assert with_counts(schedule("dated_tables: {tables: 2}\n"), [])[1] == ()


def test_samples_of_dates_go_when_tables_are_chosen_and_targets_are_made_again() -> None:
    def alive() -> int:
        gc.collect()
        return sum(isinstance(each, DaySamples) for each in gc.get_objects())

    before = alive()
    found = day_types(schedule("dated_tables: {light_error_percent: 8}\n"), [])
    assert alive() == before
    for _, day_type in found:
        (target,), (fit,) = day_type.targets.values(), day_type.fits.values()
        off = np.abs(fit.replay.light - target.reachable).max()
        assert off == fit.strict_light_error  # the very target that it was fitted to


@pytest.mark.parametrize("number", [1, 3])
def test_a_number_of_tables_is_kept(number: int) -> None:
    found = day_types(schedule(f"dated_tables: {{tables: {number}}}\n"), [])
    assert len(found) == number
    assert found[0][1].season is not None


def test_a_table_begins_with_the_day_after_a_clock_changed_in_its_first_half() -> None:
    # The controller's clock in Lisbon is set forward on 2027-03-28 at 01:00: that day counts as new.
    found = day_types(schedule("dated_tables: {tables: 2}\n", clock="civil"), [])
    assert [first for first, _ in found] == [FIRST, dt.date(2027, 3, 28)]
    before, after = (day_type.fits["sun"].rows[0].second for _, day_type in found)
    # An hour later by the clock; from one middle to the other, 11.5 days, the sun of Lisbon rises 1.6
    # minutes earlier each day (any almanac), and rows stand five minutes apart.
    assert after - before == pytest.approx(3600 - 11.5 * 1.6 * 60, abs=300)


MOON = """\
  moon:
    ballast: pair
    full_ppfd: {zones: {crest: 4}}
    moonlight: {kind: phase, full_light_percent: 50, start: sunset + 30 min, end: sunrise - 30 min}
"""


def runs(found: list[tuple[dt.date, DayType]], id: str) -> list[dt.date]:
    """Return the dates with which the rows of a channel change."""
    firsts = [found[0][0]]
    for (_, before), (first, after) in itertools.pairwise(found):
        if before.fits[id].rows != after.fits[id].rows:
            firsts.append(first)
    return firsts


def with_moon(asked: str) -> list[tuple[dt.date, DayType]]:
    text = (TEXT + MOON).replace("SEASONS", asked).replace("CLOCK", "standard")
    return day_types(scheduled(text), [])


def test_a_number_of_tables_for_the_sun_and_another_for_the_moon() -> None:
    found = with_moon("dated_tables: {sun: {tables: 2}, moon: {tables: 5}}\n")
    sun, moon = runs(found, "sun"), runs(found, "moon")
    assert (len(sun), len(moon)) == (2, 5)
    assert sorted({*sun, *moon}) == [first for first, _ in found]  # one set of tables for both
    # each channel's rows go on as long as they are said to
    for first, day_type in found:
        assert day_type.season is not None
        for id, firsts in (("sun", sun), ("moon", moon)):
            assert day_type.season.channels[id].first == max(
                each for each in firsts if each <= first
            )


def test_errors_for_the_sun_and_a_number_for_the_moon() -> None:
    found = with_moon(
        "dated_tables: {sun: {light_error_percent: 8, dose_error_percent: 8}, moon: {tables: 1}}\n"
    )
    assert runs(found, "moon") == [FIRST]
    wide = "dated_tables: {light_error_percent: 8, dose_error_percent: 8}\n"
    alone = day_types(schedule(wide), [])
    assert runs(found, "sun") == [first for first, _ in alone] == [first for first, _ in found]


def test_a_number_for_all_alike_is_that_of_all() -> None:
    found = with_moon("dated_tables: {tables: 3}\n")
    assert len(found) == 3
    assert runs(found, "sun") == [first for first, _ in found]


@pytest.mark.parametrize(("kept_dates", "times"), [(SPAN.days, 0), (SPAN.days - 1, 1)])
def test_what_the_samples_of_many_dates_took_is_given_back(
    monkeypatch: pytest.MonkeyPatch, kept_dates: int, times: int
) -> None:
    asked: list[None] = []
    monkeypatch.setattr(season_types, "KEPT_DATES", kept_dates)
    monkeypatch.setattr(season_types, "give_back_freed_memory", lambda: asked.append(None))
    day_types(schedule("dated_tables: {tables: 1}\n"), [])
    assert len(asked) == times
