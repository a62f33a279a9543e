"""Days that follow the sky, from the schedule to its tables: events, sun and moon, seasons."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from tests.conftest import compile_and_check, load
from tests.days.bench import (
    EVENTS,
    LISBON,
    MOON,
    NIGHT,
    SUN,
    TEXT,
    dates_of,
    outcome,
    program,
    zone,
)
from tests.sky.truth import Truth

# The sky --------------------------------------------------------------------------------------------


def test_a_day_of_the_sun_is_bright_by_the_sine_of_its_altitude() -> None:
    # By hand: at noon of an equinox the sun of 38.7° N stands 51.3° high, at noon of the summer
    # solstice 74.74°; sin 51.3° / sin 74.74° = 0.8090.
    p = program("2027-03-20", "2027-03-20", day=SUN % "")
    blue = p.channels["blue"]
    assert blue.curve.most_light == pytest.approx(0.8 * 0.8090, abs=0.002)
    # lit from sunrise of the sun's centre to its sunset: about twelve hours
    assert blue.curve.light(np.arange(86_400.0)).astype(bool).mean() == pytest.approx(
        0.5, abs=0.005
    )
    each = program("2027-12-21", "2027-12-21", day=SUN % ", peak_of: day").channels["blue"]
    assert each.curve.most_light == pytest.approx(0.8, abs=1e-6)


def test_a_clear_sky_takes_more_from_a_low_sun() -> None:
    # Haurwitz 1945: sin h exp(-0.059 / sin h), beside the year's highest sun, at the equinox
    p = program("2027-03-20", "2027-03-20", day=SUN % ", model: clear-sky")

    def clear(h: float) -> float:
        sine = np.sin(np.radians(h))
        return float(sine * np.exp(-0.059 / sine))

    assert p.channels["blue"].curve.most_light == pytest.approx(
        0.8 * clear(51.3) / clear(74.74), abs=0.002
    )


def test_ramps_stand_between_events() -> None:
    # Lisbon, 2027-06-21 and 2027-12-21, UTC+0: sunrise 05:12 and 07:51, sunset 20:05 and 17:18.
    # From memory, of the tables of the Lisbon observatory, within two minutes.
    found = dates_of(("2027-06-21", "2027-06-21"), EVENTS % ("sunrise", "sunset"))
    (begin, end) = found[dt.date(2027, 6, 21)]
    assert begin == pytest.approx(5 * 3600 + 12 * 60, abs=120)
    assert end == pytest.approx(20 * 3600 + 5 * 60, abs=120)
    found = dates_of(("2027-12-21", "2027-12-21"), EVENTS % (
        '{at: sunrise, not_after: "07:30"}', '{at: sunset + 60 min, not_before: "18:30"}'))  # fmt: skip
    (begin, end) = found[dt.date(2027, 12, 21)]
    assert begin == 7 * 3600 + 1800 and abs(end - (18 * 3600 + 1800)) <= 1


TROMSO = {"latitude": 69.65, "longitude": 18.96, "zone": "Europe/Oslo"}


def test_an_event_that_does_not_happen_stops_it_at_its_line_unless_it_is_said_what_counts() -> None:
    # Tromsø's polar night begins in the last days of November (common knowledge, no source).
    day = EVENTS.replace("end: sunrise + 45 min", "minutes: 5").replace(
        "start: sunset - 45 min", "minutes: 5"
    )
    found = outcome(day % ("sunrise", "sunset"), **TROMSO)
    found = compile_and_check(found, DateSpan(dt.date(2027, 11, 20), dt.date(2027, 12, 3)))
    assert found.program is None
    first, *_ = [d for d in found.report if d.code == "PHO801"]
    assert re.fullmatch(r"there is no sunrise on 2027-11-2[5-9]", first.message)
    assert first.source_range is not None and first.source_range.line == 31
    assert "if_none" in first.help
    polar = day % ('{at: sunrise, if_none: "09:00"}', '{at: sunset, if_none: "15:00"}')
    lit = dates_of(("2027-12-01", "2027-12-03"), polar, **TROMSO)
    assert all(times == [9 * 3600, 15 * 3600 - 1] for times in lit.values())
    # a day that is too short for its ramps is told of with its date
    long = EVENTS.replace("sunrise + 45 min", "sunrise + 150 min")
    found = outcome(long % ("sunrise", "sunset"), **TROMSO)
    found = compile_and_check(found, DateSpan(dt.date(2027, 11, 10), dt.date(2027, 11, 20)))
    (told,) = [d for d in found.report if d.severity == "error"]
    assert told.code == "PHO304" and "(on 2027-11-" in told.message


def test_polar_days_and_nights_of_the_sun_are_lit_and_dark_throughout() -> None:
    winter = dates_of(("2027-12-20", "2027-12-21"), SUN % "", **TROMSO)
    assert all(times == [] for times in winter.values())
    summer = outcome(SUN % "", **TROMSO).schedule
    assert summer is not None
    for date in (dt.date(2027, 6, 20), dt.date(2027, 6, 21)):
        assert (DayCurves(summer).curves(date)["blue"].light(np.arange(86_400.0)) > 0).all()


def test_a_borrowed_sun_has_its_mean_noon_where_it_is_asked_for() -> None:
    reef = 'sky: {latitude: -17.5, longitude: -149.8, noon_at: "13:30"%s}\n'
    for plan in ("standard", "civil"):
        found = outcome(SUN % "", plan=plan, controller=plan, top=reef % "")
        assert found.schedule is not None, [d.message for d in found.report]
        days = DayCurves(found.schedule)
        noons = []
        for date in DateSpan(dt.date(2027, 1, 1), dt.date(2027, 12, 31)):
            light = days.curves(date)["blue"].light(np.arange(0, 86_400.0, 60))
            noons.append(float(np.average(np.arange(light.size), weights=light)) / 60)
        # the equation of time runs from -14 to +16 minutes; summer time adds an hour to civil plans
        summer = np.array(noons) > 14
        assert bool(summer.any()) is (plan == "civil")
        winter_noons = np.array(noons)[~summer]
        assert 13.5 - 17 / 60 <= winter_noons.min() <= winter_noons.max() <= 13.5 + 15 / 60
    # at 17.5° S days last 11.0 to 13.2 h (geometric, by hand: cos H = -tan 17.5° tan 23.44°)
    flat = dates_of(("2027-06-21", "2027-06-21"), SUN % "", top=reef % "")
    (begin, end) = flat[dt.date(2027, 6, 21)]
    half = np.degrees(np.arccos(np.tan(np.radians(17.5)) * np.tan(np.radians(23.44)))) / 15
    assert (end - begin) / 3600 == pytest.approx(2 * half, abs=0.05)
    none = dates_of(("2027-06-21", "2027-06-21"), SUN % "", top=reef % ", seasons_percent: 0")
    (begin, end) = none[dt.date(2027, 6, 21)]
    assert (end - begin) / 3600 == pytest.approx(12, abs=0.04)


def test_a_moon_by_phase_follows_its_brightness_not_its_disc() -> None:
    # Full moon on 2027-03-22 10:44 UT, last quarter on 2027-03-30 00:54 UT (from memory, of the
    # Astronomical Almanac). Krisciunas & Schaefer 1991: a half moon gives 9.1 % of a full one.
    found = outcome(MOON % "phase")
    assert found.schedule is not None, [d.message for d in found.report]
    days = DayCurves(found.schedule)

    def light(date: dt.date) -> float:
        return float(days.curves(date)["blue"].light(np.array([23 * 3600.0]))[0])

    half = light(dt.date(2027, 3, 29))
    assert half == pytest.approx(0.5 * 0.091, abs=0.003)
    full = max(light(dt.date(2027, 3, day)) for day in (21, 22))
    assert 0.35 < full < 0.5  # half a day off full costs a tenth or more


def test_a_moon_by_rise_comes_some_fifty_minutes_later_each_night() -> None:
    lit = dates_of(("2027-03-22", "2027-03-27"), MOON % "phase-and-rise")
    rises = [times[-1] for times in lit.values() if len(times) in (2, 3) or times]
    evening = [t for times in lit.values() for t in times if t > 18 * 3600]
    delays = np.diff(evening) / 60
    assert len(evening) >= 4 and rises
    assert ((delays > 35) & (delays < 75)).all()


def test_a_sky_outside_its_model_is_refused() -> None:
    found = outcome(SUN % "")
    found = compile_and_check(found, DateSpan(dt.date(2150, 1, 1), dt.date(2150, 1, 2)))
    (told,) = [d for d in found.report if d.code == "PHO802"]
    assert told.message == "the sky of 2150-01-01 is not known"
    assert found.program is None


def test_offsets_that_cross_another_event_are_refused() -> None:
    late = EVENTS.replace("sunrise + 45 min", '"23:00"').replace(
        "start: sunset - 45 min", "minutes: 5"
    )
    found = outcome(late % ("sunrise + 700 min", "sunset"))
    found = compile_and_check(found, DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 2)))
    assert found.program is None
    told = next(d for d in found.report if d.severity == "error")
    assert told.code == "PHO303"
    assert "'sunset' comes before the first light at 18:" in told.message


def test_tables_never_light_a_moon_before_it_rises() -> None:
    p = program("2027-03-01", "2027-03-14", day=MOON % "phase-and-rise")
    found = outcome(MOON % "phase-and-rise")
    assert found.schedule is not None
    days = DayCurves(found.schedule)
    seconds = np.arange(86_400.0)
    for table in p.tables:
        for date in table.span or ():
            wanted = days.curves(date)["blue"].light(seconds) > 0
            near = wanted.copy()  # five minutes of tolerance, and a time step
            for move in range(60, 361, 60):
                near |= np.roll(wanted, move) | np.roll(wanted, -move)
            assert not (table.channels["blue"].replay.lit & ~near).any()
    shown, nights, extra = p.moon_nights["blue"]
    assert extra == 0 and 0 < shown <= nights <= 14


def test_too_few_tables_for_a_moon_are_told_of() -> None:
    found = outcome(MOON % "phase-and-rise", top="dated_tables: {tables: 2}\n")
    found = compile_and_check(found, DateSpan(dt.date(2027, 3, 15), dt.date(2027, 3, 26)))
    assert found.program is not None and len(found.program.controller_tables) <= 2
    (told,) = [d for d in found.report if d.code == "PHO426"]
    assert "is off by" in told.message and "needs one table a night" in told.help
    shown, nights, _ = found.program.moon_nights["blue"]
    assert shown < nights


def test_a_bound_that_is_no_time_is_one_fault() -> None:
    found = outcome(EVENTS % ('{at: sunrise, not_before: "O05:00", not_after: "10:00"}', "sunset"))
    (told,) = [d for d in found.report if d.severity == "error"]
    assert told.code == "PHO206" and found.schedule is None


# The day of the sun to which an event belongs ---------------------------------------------------------


def wall(name: str, unix: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(unix, zone(name)).replace(tzinfo=None)


def events_by_de421(
    latitude: float, longitude: float, first: str, last: str, which: str
) -> list[float]:
    """Sunrises or sunsets by skyfield and DE421, no code of ours. [Unix seconds]"""
    begin, end = (dt.datetime.fromisoformat(day).replace(tzinfo=dt.UTC) for day in (first, last))
    place = Truth(latitude, longitude)
    return place.passages("sun", which == "sunrise", begin.timestamp(), end.timestamp())


@pytest.mark.parametrize("first", ["2027-05-10", "2027-07-18"])
def test_bounds_hold_where_the_sunset_passes_midnight(first: str) -> None:
    # Tromsø: sunsets move past midnight as the midnight sun comes, and back as it goes
    day = EVENTS.replace("end: sunrise + 45 min", "minutes: 5").replace(
        "start: sunset - 45 min", "minutes: 5"
    )
    bounded = day % ('"05:00"', '{at: sunset, not_before: "14:00", not_after: "21:00",'
                     ' if_sun_stays_up: "21:00"}')  # fmt: skip
    last = str(dt.date.fromisoformat(first) + dt.timedelta(days=16))
    lit = dates_of((first, last), bounded, plan="civil", controller="civil", **TROMSO)
    assert all(times == [5 * 3600, 21 * 3600 - 1] for times in lit.values())
    sets = events_by_de421(69.65, 18.96, first, last, "sunset")
    assert any(wall("Europe/Oslo", unix).hour == 0 for unix in sets)


def test_a_bound_after_midnight_belongs_to_the_evening_and_an_offset_may_pass_it() -> None:
    oslo = {"latitude": 59.9, "longitude": 10.75, "zone": "Europe/Oslo"}
    span = ("2027-06-04", "2027-06-10")
    for start, check in (
        ("sunset + 90 min", lambda second: 23.9 * 3600 < second < 24.2 * 3600),
        ('{at: sunset + 90 min, not_after: "23:30"}', lambda second: second == 23.5 * 3600),
        ('{at: sunset + 90 min, not_before: "00:30"}', lambda second: second == 24.5 * 3600),
    ):
        lit = dates_of(span, NIGHT % (start, '"04:00"'), plan="civil", controller="civil", **oslo)
        starts = [
            (date.toordinal() * 86_400 + second + 1, light)
            for date, seconds in lit.items()
            for light, second in enumerate(seconds)
            if second + 1 != 4 * 3600
        ]
        begins = [unix for unix, _ in starts]
        # one a day, about 22:30 and 90 minutes (the tables of any almanac; USNO in tests/sky)
        assert len(begins) >= 6
        for unix in begins:
            second = unix % 86_400
            assert check(second if second > 43_200 else second + 86_400)


def test_every_sunrise_begins_a_day_where_two_fall_on_one_date() -> None:
    # Dhaka on UTC: sunrise at 2027-03-24 falls from just after to just before midnight UTC
    dhaka = {"latitude": 23.8, "longitude": 90.4, "zone": "Asia/Dhaka"}
    rises = events_by_de421(23.8, 90.4, "2027-03-20", "2027-03-28", "sunrise")
    shown = [dt.datetime.fromtimestamp(unix, dt.UTC) for unix in rises]
    assert len({moment.date() for moment in shown}) < len(shown)
    day = EVENTS.replace("end: sunrise + 45 min", "minutes: 5").replace(
        "start: sunset - 45 min", "minutes: 5"
    )
    found = outcome(day % ("sunrise", "sunset"), plan="utc", controller="utc", **dhaka)
    assert found.schedule is not None
    days = DayCurves(found.schedule)
    for date in DateSpan(dt.date(2027, 3, 21), dt.date(2027, 3, 27)):
        lit_h = (days.curves(date)["blue"].light(np.arange(86_400.0)) > 0).sum() / 3600
        assert lit_h == pytest.approx(12.2, abs=0.15)  # a little over an equinox's


def test_the_moon_of_an_hour_that_comes_twice_is_that_of_its_instant() -> None:
    # New York, 2034-11-05: clocks go back at 06:00 UTC; moonrise 06:10:59 UTC by skyfield and DE421
    york = {"latitude": 40.7, "longitude": -74.0, "zone": "America/New_York"}
    moon = '    moonlight: {kind: phase-and-rise, full_light_percent: 100, start: "20:00", end: "06:00"}\n'
    lit = dates_of(("2034-11-05", "2034-11-05"), moon, plan="civil", controller="utc", **york)
    (begin, end) = lit[dt.date(2034, 11, 5)]
    assert begin == pytest.approx(6 * 3600 + 10 * 60 + 59, abs=20)
    assert end == 11 * 3600 - 1  # 06:00 standard time


def test_a_date_before_the_span_that_can_not_be_built_stops_nothing() -> None:
    # Tromsø: the sun comes back on 2027-01-15 (11:34 by DE421), and not on the 14th
    day = EVENTS.replace("end: sunrise + 45 min", "minutes: 2").replace(
        "start: sunset - 45 min", "minutes: 2"
    )
    span = ("2027-01-15", "2027-01-16")
    lit = dates_of(span, day % ("sunrise", "sunset"), plan="civil", controller="civil", **TROMSO)
    assert [len(times) for times in lit.values()] == [2, 2]


def test_a_day_from_sunset_to_sunset_is_told_to_be_too_long() -> None:
    night = NIGHT % ("sunset", "sunset")
    found = outcome(night, **LISBON)
    found = compile_and_check(found, DateSpan(dt.date(2027, 6, 10), dt.date(2027, 6, 11)))
    (told,) = {d.message: d for d in found.report if d.severity == "error"}.values()
    assert told.code == "PHO305" and "more than 24 hours later" in told.message


def test_a_season_breaks_where_the_lesser_part_of_a_day_is_wrong() -> None:
    # Hobart on UTC: clocks change at 16:00 UTC, so most light of that date is before it
    day = """\
    day:
      kind: ramps
      dawn: {start: "09:00", minutes: 60}
      peaks: [{light_percent: 80}]
      dusk: {end: "20:00", minutes: 60}
    moonlight: {kind: phase, full_light_percent: 2, start: "21:00", end: "07:00"}
"""
    hobart = {"latitude": -42.9, "longitude": 147.3, "zone": "Australia/Hobart"}
    p = program("2027-09-28", "2027-10-08", day=day, plan="civil", controller="utc",
                top="dated_tables: {tables: 2}\n", **hobart)  # fmt: skip
    assert [str(t.span.first) for t in p.tables if t.span] == ["2027-09-28", "2027-10-03"]


# Seasons and what is told of them ---------------------------------------------------------------------

SUN_AND_MOON = """\
    day: {kind: sun, peak_light_percent: 80}
  moon:
    ballast: pair
    full_ppfd: {zones: {crest: 5}}
    moonlight: {kind: phase-and-rise, full_light_percent: 20, start: "21:00", end: "07:00"}
"""
YEAR_OF_TUBE = "tubes:\n  a: {watts: 54, fitted: 2027-03-10T08:00, burn_in_full_hours: 16}\n"


def test_a_moon_has_no_say_in_which_dates_share_one_of_few_tables() -> None:
    span = ("2027-03-01", "2027-04-15")
    spans = []
    for day in (SUN_AND_MOON, "    day: {kind: sun, peak_light_percent: 80}\n"):
        p = program(*span, day=day, top="dated_tables: {tables: 4}\n", **LISBON)
        assert len(p.tables) == 4
        spans.append([t.span for t in p.tables])
        suns = [t.season.channels["blue"].error for t in p.tables if t.season]
        assert max(error.light for error in suns) < 0.10
    assert spans[0] == spans[1]


def test_each_table_says_what_its_own_first_date_wants_also_within_a_season() -> None:
    # a tube fitted in the middle of a season cuts it
    found = outcome("    tubes: [a]\n    day: {kind: sun, peak_light_percent: 80}\n",
                    top="dated_tables: {light_error_percent: 40, dose_error_percent: 40}\n"
                    + YEAR_OF_TUBE)  # fmt: skip
    assert found.schedule is not None, [d.message for d in found.report]
    p = compile_program(found.schedule, DateSpan(dt.date(2027, 3, 1), dt.date(2027, 4, 5)))
    assert len(p.tables) >= 3
    days = DayCurves(found.schedule)
    for table in p.tables:
        assert table.span is not None
        own = days.curves(table.span.first)["blue"].integral() / 3600
        assert table.channels["blue"].full_light_hours.plan == pytest.approx(own, rel=1e-9)
        # a day at full is no day of the season's table
        assert (table.season is None) == ("blue" in table.plan.windows)


def test_only_what_lifts_a_zone_over_its_limit_is_held_down() -> None:
    # by the plan the crest gets at most 80 + 0.0 …; a coarse grid of levels would round it up
    limit = "ppfd_max: 80.2, dli: [0, 60]"
    text = TEXT.replace("dli: [0, 60]", limit).replace("step: 1,", "step: 5,")
    day = SUN_AND_MOON.replace("kind: sun,", "kind: sun, peak_of: day,")
    made = load("test.yaml", text.format(
        day=day, plan="standard", controller="standard", top="", **LISBON).encode())  # fmt: skip
    assert made.schedule is not None, [d.message for d in made.report]
    made = compile_and_check(made, DateSpan(dt.date(2027, 3, 18), dt.date(2027, 3, 24)))
    assert made.program is not None
    assert not [d for d in made.report if d.code in ("PHO402", "PHO404")]
    for table in made.program.tables:
        assert table.zones["crest"].peak_ppfd <= 80.2 + 1e-6
    # the moon, which shines at night, is not among those that are held down
    assert any(t.channels["moon"].fit.replay.light.max() > 0 for t in made.program.tables)


def test_a_month_before_the_span_that_can_not_be_built_says_why_it_is_asked_for() -> None:
    day = "    tubes: [a]\n" + EVENTS.replace("end: sunrise + 45 min", "minutes: 2").replace(
        "start: sunset - 45 min", "minutes: 2"
    ) % ("sunrise", "sunset")  # fmt: skip
    tube = "tubes:\n  a: {watts: 54, fitted: 2026-11-20T08:00}\n"
    found = outcome(day, top=tube, **TROMSO)
    found = compile_and_check(found, DateSpan(dt.date(2027, 4, 1), dt.date(2027, 4, 3)))
    (told,) = [d for d in found.report if d.code == "PHO801"]
    assert "stands for its month: the hours that tubes burned before" in told.message
    # and without a tube, PPFD measured in the dark months stops nothing
    measured = EVENTS.replace("end: sunrise + 45 min", "minutes: 2").replace(
        "start: sunset - 45 min", "minutes: 2") % ("sunrise", "sunset")  # fmt: skip
    text = TEXT.replace("full_ppfd: {zones", "full_ppfd: {measured_on: 2026-12-20, zones")
    made = load("test.yaml", text.format(
        day=measured, plan="standard", controller="standard", top="", **TROMSO).encode())  # fmt: skip
    made = compile_and_check(made, DateSpan(dt.date(2027, 4, 1), dt.date(2027, 4, 3)))
    assert not made.report.has_errors and made.program is not None
