"""Plans by one clock on controllers by another, days that follow the sky, and what stops them."""

from __future__ import annotations

import datetime as dt
import itertools
import re
from importlib import resources
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from photoperiod.api import compile
from photoperiod.days.day_curves import DayCurves
from photoperiod.errors import WrongUse
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from tests.conftest import Outcome, compile_and_check, load
from tests.sky.truth import Truth

#: One level of 1 % on a square-law ballast, and what a line between two of them may be off by
#: [fraction of full].
LIGHT_TOLERANCE = 0.025

TEXT = """\
schedule: 1
tank: bench
title: Two clocks
place: {{latitude: {latitude}, longitude: {longitude}, time_zone: {zone}}}
plan_clock: {plan}
{top}controller:
  clock: {controller}
  setpoints_per_channel: 16
  tables: 366
  time_step_minutes: 1
  between: line
  after_last_row: wrap
  relay: {{kind: column}}
  emits: {{unit: percent, step: 1, every_seconds: 1, rounding: half-up}}
  converter: {{kind: nominal, bits: 12, full_scale_volts: 10.0}}
ballasts:
  pair:
    response: {{kind: square-law}}
    floor: {{volts: 1.0, light_percent: 1}}
    full_volts: 10.0
    dark: {{kind: relay}}
    below_floor: nearest
zones:
  crest: {{dli: [0, 60], dark_hours_min: 0}}
channels:
  blue:
    ballast: pair
    full_ppfd: {{zones: {{crest: 100}}}}
{day}
"""
RAMPS = """\
    day:
      kind: ramps
      dawn: {start: "09:00", minutes: 60}
      peaks: [{light_percent: 80}]
      dusk: {end: "21:00", minutes: 60}
"""
LISBON = {"latitude": 38.7, "longitude": -9.1, "zone": "Europe/Lisbon"}


def outcome(day: str = RAMPS, plan: str = "standard", controller: str = "standard", top: str = "",
            **place: object) -> Outcome:  # fmt: skip
    text = TEXT.format(day=day, plan=plan, controller=controller, top=top, **(LISBON | place))
    return load("test.yaml", text.encode())


def program(first: str, last: str, **more: object) -> Program:
    found = outcome(**more)  # type: ignore[arg-type]
    assert found.schedule is not None, [d.message for d in found.report]
    span = DateSpan(dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    return compile_program(found.schedule, span)


# Clocks: instants are stepped through zone data read here, not by the module under test -------------


def zone(name: str) -> ZoneInfo:
    with resources.files("tzdata").joinpath("zoneinfo", *name.split("/")).open("rb") as file:
        return ZoneInfo.from_file(file, key=name)


def walls(name: str | None, offset_s: int, unix: np.ndarray) -> list[tuple[dt.date, int]]:
    """What a clock shows at instants: civil time of a zone, or a fixed offset from UTC."""
    found = []
    tz = zone(name) if name else dt.timezone(dt.timedelta(seconds=offset_s))
    for instant in unix.tolist():
        moment = dt.datetime.fromtimestamp(instant, tz)
        second = moment.hour * 3600 + moment.minute * 60 + moment.second
        found.append((moment.date(), second))
    return found


def ramps(second: np.ndarray) -> np.ndarray:
    """The light of RAMPS, by hand."""
    hour = second / 3600
    return 0.8 * np.clip(np.minimum(hour - 9, 21 - hour), 0, 1)


def played(p: Program, shown: list[tuple[dt.date, int]]) -> np.ndarray:
    return np.array(
        [p.table_on(date).channels["blue"].replay.light[second] for date, second in shown]
    )


#: Zone, its standard offset [h], and a date on which its clocks go forward and one on which they go
#: back; the length of those days. IANA time zone data base, 2026f: europe, northamerica,
#: australasia, antarctica.
CHANGES = [
    ("Europe/Lisbon", 0, "2027-03-28", 23, "2027-10-31", 25),
    ("America/New_York", -5, "2027-03-14", 23, "2027-11-07", 25),
    ("America/Havana", -5, "2027-03-14", 23, "2027-11-07", 25),
    ("Australia/Lord_Howe", 10.5, "2027-10-03", 23.5, "2027-04-04", 24.5),
    ("Antarctica/Troll", 0, "2027-03-28", 22, "2027-10-31", 26),
]


@pytest.mark.parametrize(("plan", "controller"), [
    ("standard", "civil"), ("civil", "standard"), ("utc", "civil"), ("civil", "utc"),
    ("standard", "utc"),
])  # fmt: skip
@pytest.mark.parametrize(("name", "offset_h", "forward", "short_h", "back", "long_h"), CHANGES)
def test_the_controller_does_at_every_instant_what_the_plan_says(
    plan: str, controller: str, name: str, offset_h: float, forward: str, short_h: float, back: str,
    long_h: float,
) -> None:  # fmt: skip
    offset_s = int(offset_h * 3600)
    clocks = {"civil": (name, 0), "standard": (None, offset_s), "utc": (None, 0)}
    for day, hours in ((forward, short_h), (back, long_h)):
        date = dt.date.fromisoformat(day)
        local = zone(name)
        begin, end = (
            dt.datetime.combine(date + dt.timedelta(days=n), dt.time(), local).timestamp()
            for n in (0, 1)
        )
        if not name.endswith("Havana"):  # where midnight itself is left out or comes twice
            assert (end - begin) / 3600 == hours
        p = program(str(date - dt.timedelta(days=2)), str(date + dt.timedelta(days=2)),
                    plan=plan, controller=controller, zone=name)  # fmt: skip
        noon = int(dt.datetime.combine(date, dt.time(12), dt.UTC).timestamp())
        unix = np.arange(noon - 36 * 3600, noon + 36 * 3600, 60)
        unix = unix[unix % 3600 != 0]  # a corner may be a second off
        given = played(p, walls(*clocks[controller], unix))
        wanted = ramps(np.array([second for _, second in walls(*clocks[plan], unix)]))
        assert np.abs(given - wanted).max() < LIGHT_TOLERANCE


def test_a_ramp_through_the_night_of_the_change_is_followed_to_the_minute() -> None:
    night = """\
    day:
      kind: points
      points:
        - {time: "23:00", light_percent: 0}
        - {time: "05:00", light_percent: 90}
        - {time: "06:00", light_percent: 0}
"""
    p = program("2027-03-26", "2027-03-30", controller="civil", day=night)
    start = int(dt.datetime(2027, 3, 27, 22, tzinfo=dt.UTC).timestamp())
    unix = np.arange(start, start + 9 * 3600, 60)[1::2]
    given = played(p, walls("Europe/Lisbon", 0, unix))
    hour = np.array([second / 3600 for _, second in walls(None, 0, unix)])
    since = (hour - 23) % 24
    wanted = 0.9 * np.where(since <= 6, since / 6, np.clip(7 - since, 0, 1)) * (since < 7)
    assert np.abs(given - wanted).max() < LIGHT_TOLERANCE
    # where the clock is set back the table gives the same twice, and that is told
    back = outcome(night, controller="civil")
    assert back.schedule is not None
    checked = compile_and_check(back, DateSpan(dt.date(2027, 10, 30), dt.date(2027, 11, 1)))
    (told,) = [d for d in checked.report if d.code == "PHO425"]
    # an hour of the ramp is 15 % of full
    assert told.message.startswith(
        "on 2027-10-31 the controller's clock is set back while the light of"
    )
    assert "wrong by up to 15 % of full" in told.message


def test_tables_change_on_the_dates_of_the_clock() -> None:
    p = program("2027-01-01", "2027-12-31", controller="civil")
    spans = [(str(t.span.first), str(t.span.last)) for t in p.tables if t.span]
    assert spans == [
        ("2027-01-01", "2027-03-27"), ("2027-03-28", "2027-03-28"), ("2027-03-29", "2027-10-30"),
        ("2027-10-31", "2027-10-31"), ("2027-11-01", "2027-12-31"),
    ]  # fmt: skip
    # the light of these days lies outside the hours of the change, so that four of them are two
    assert [len(each.tables) for each in p.controller_tables] == [1, 2, 2]
    assert [change.at_unix_s for _, change in p.clock_changes] == [
        int(dt.datetime(2027, month, day, 1, tzinfo=dt.UTC).timestamp())
        for month, day in ((3, 28), (10, 31))
    ]


def test_a_shift_is_spread_over_days_if_asked_for() -> None:
    # 60 minutes by 10 a day: six midnights, from that which begins 2027-03-28 on
    p = program("2027-03-20", "2027-04-10", plan="civil", controller="standard",
                top="clock_change_minutes_per_day: 10\n")  # fmt: skip
    firsts = {}
    for date in p.span or ():
        rows = p.table_on(date).channels["blue"].fit.rows
        # a row of level 0 may stand before it, so that a welded relay gives no light in the dark
        firsts[date.day, date.month] = next(row.second for row in rows if row.relay)
    assert firsts[27, 3] == 9 * 3600
    for n in range(6):
        date = dt.date(2027, 3, 28) + dt.timedelta(days=n)
        assert firsts[date.day, date.month] == 9 * 3600 - 600 * (n + 1)
    assert firsts[10, 4] == 8 * 3600


#: A lamp from 00:00 to 06:00 of the plan in the Azores, whose clocks go forward at 00:00 (−1) of 2027-03-28
#: and back at 01:00 (+0) of 2027-10-31, both at 01:00 UTC (IANA, file europe). For each pair of clocks the
#: hours that the plan lights on the controller's date, and those that the table gives, by hand. So with both
#: civil the hour from 00:00 never comes in spring, and comes twice in autumn. With a plan by standard time,
#: in autumn it is dark at first in the hour that comes twice, but the table lights it both times.
AZORES = {"latitude": 37.0, "longitude": -29.0, "zone": "Atlantic/Azores"}
PAIRS = [
    ("civil", "civil", (5, 5), (7, 7)),
    ("standard", "civil", (6, 6), (6, 7)),
    ("utc", "civil", (5, 5), (7, 7)),
    ("civil", "standard", (6, 6), (6, 6)),
    ("civil", "utc", (5, 5), (7, 7)),
    ("standard", "utc", (6, 6), (6, 6)),
    ("standard", "standard", (6, 6), (6, 6)),
    ("utc", "utc", (6, 6), (6, 6)),
]
SIX_HOURS = """\
    day:
      kind: points
      points:
        - {time: "00:00", light_percent: 0}
        - {time: "00:00", light_percent: 100}
        - {time: "06:00", light_percent: 100}
        - {time: "06:00", light_percent: 0}
"""
#: A table has a minute for a step, and full is code 4095 of 4096. [h]
STEP_TOLERANCE_H = 0.04


@pytest.mark.parametrize(("plan", "controller", "spring", "autumn"), PAIRS)
def test_doses_on_the_date_of_a_change_are_those_of_the_time_that_passes(
    plan: str, controller: str, spring: tuple[int, int], autumn: tuple[int, int]
) -> None:
    for day, hours in (("2027-03-28", spring), ("2027-10-31", autumn)):
        date = dt.date.fromisoformat(day)
        p = program(str(date - dt.timedelta(days=2)), str(date + dt.timedelta(days=2)), day=SIX_HOURS,
                    plan=plan, controller=controller, **AZORES)  # fmt: skip
        table = p.table_on(date)
        found = table.channels["blue"].full_light_hours
        assert found.plan == pytest.approx(hours[0], abs=1e-9)
        assert found.reachable == pytest.approx(hours[0], abs=STEP_TOLERANCE_H)
        assert found.replay == pytest.approx(hours[1], abs=STEP_TOLERANCE_H)
        # PPFD at full is 100: 0.36 mol an hour
        zone = table.zones["crest"]
        assert zone.dli.replay == pytest.approx(0.36 * found.replay, rel=1e-6)
        assert zone.dli_at_end == pytest.approx(zone.dli.replay)
        assert zone.photoperiod_s / 3600 == pytest.approx(hours[1], abs=STEP_TOLERANCE_H)
        assert table.channels["blue"].lit_seconds / 3600 == pytest.approx(
            hours[1], abs=STEP_TOLERANCE_H
        )
        before = p.table_on(date - dt.timedelta(days=2)).channels["blue"].full_light_hours
        assert before.replay == pytest.approx(6, abs=STEP_TOLERANCE_H)


def test_a_date_of_a_change_stands_alone_but_needs_no_table_of_its_own() -> None:
    p = program(
        "2027-01-01", "2027-12-31", day=SIX_HOURS, plan="civil", controller="civil", **AZORES
    )
    spans = [
        (str(t.span.first), str(t.span.last), t.day.length_s // 3600) for t in p.tables if t.span
    ]
    assert spans == [
        ("2027-01-01", "2027-03-27", 24), ("2027-03-28", "2027-03-28", 23),
        ("2027-03-29", "2027-10-30", 24), ("2027-10-31", "2027-10-31", 25),
        ("2027-11-01", "2027-12-31", 24),
    ]  # fmt: skip
    assert len(p.controller_tables) == 1
    assert len(p.clock_changes) == 4  # of the plan's clock and of the controller's


ALWAYS = """\
    day:
      kind: points
      points:
        - {time: "00:00", light_percent: 50}
        - {time: "24:00", light_percent: 50}
"""


@pytest.mark.parametrize("plan", ["standard", "utc", "civil"])
def test_a_midnight_that_never_comes_is_no_dark_hour(plan: str) -> None:
    text = TEXT.replace("dark: {{kind: relay}}", "dark: {{kind: never}}")
    found = load("test.yaml", text.format(day=ALWAYS, plan=plan, controller="civil", top="",
                                          **AZORES).encode())  # fmt: skip
    assert found.schedule is not None, [d.message for d in found.report]
    light = (
        DayCurves(found.schedule).curves(dt.date(2027, 3, 28))["blue"].light(np.arange(86_400.0))
    )
    assert light == pytest.approx(0.5)
    checked = compile_and_check(found, DateSpan(dt.date(2027, 3, 26), dt.date(2027, 3, 30)))
    assert not {d.code for d in checked.report} & {"PHO403", "PHO404", "PHO422"}
    assert checked.program is not None and len(checked.program.controller_tables) == 1


def test_light_before_a_midnight_that_never_comes_is_that_of_the_plan() -> None:
    # By standard time the lamp shines from 22:30 to 23:30, and the controller's date of 23 h begins at 00:00
    # of it: in the hour that never comes, 00:00 to 01:00, stands what the plan wants from 23:00 on.
    night = NIGHT % ('"22:30"', '"23:30"')
    lit = dates_of(("2027-03-28", "2027-03-28"), night, controller="civil", **AZORES)
    assert lit[dt.date(2027, 3, 28)] == [1800 - 1, 23 * 3600 + 1800 - 1]
    found = outcome(night, controller="civil", **AZORES)
    assert found.schedule is not None
    passing = DayCurves(found.schedule).passing(dt.date(2027, 3, 28))
    assert passing is not None
    assert passing.length_s == 23 * 3600 and passing.seconds[0] == 3600
    assert passing.plan_s("blue") == pytest.approx(0.02 * 1800)  # the rest comes after 24:00


def base_noons(name: str, longitude: float, plan: str, first: str, last: str) -> list[float]:
    """When the borrowed noon is on each date, by the plan's clock. [h]"""
    reef = 'sky: {latitude: -17.5, longitude: -149.8, noon_at: "13:30"}\n'
    found = outcome(SUN % "", plan=plan, controller=plan, top=reef, zone=name, longitude=longitude)
    assert found.schedule is not None, [d.message for d in found.report]
    days = DayCurves(found.schedule)
    span = DateSpan(dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    return [days.sky_on(date).shown("noon", date)[0] / 3600 for date in span]


@pytest.mark.parametrize(("name", "longitude"), [
    ("America/Vancouver", -123.1), ("America/Edmonton", -113.5), ("America/Winnipeg", -97.1),
])  # fmt: skip
def test_a_borrowed_noon_moves_with_the_base_of_the_zone(name: str, longitude: float) -> None:
    # Their base changes on 2026-11-01; the equation of time runs from -14 to +16 minutes.
    for first, last in (("2026-10-25", "2026-11-08"), ("2026-12-28", "2027-01-04"),
                        ("2027-06-28", "2027-07-04")):  # fmt: skip
        noons = base_noons(name, longitude, "standard", first, last)
        assert 13.5 - 17 / 60 <= min(noons) <= max(noons) <= 13.5 + 15 / 60
        assert np.abs(np.diff(noons)).max() < 1 / 60
    # in UTC nothing changes but by the equation of time
    assert (
        np.abs(np.diff(base_noons(name, longitude, "utc", "2026-10-25", "2026-11-08"))).max()
        < 1 / 60
    )


def midnights_left_out() -> list[tuple[str, dt.date]]:
    """Every zone of the package, and its dates from 2025 to 2035 whose midnight never comes."""
    names = (resources.files("tzdata") / "zones").read_text(encoding="utf-8").split()
    found = []
    for name in names:
        local = zone(name)
        for n in range(11 * 366):
            date = dt.date(2025, 1, 1) + dt.timedelta(days=n)
            midnight = dt.datetime.combine(date, dt.time(), local)
            if midnight.utcoffset() != midnight.replace(fold=1).utcoffset():
                back = dt.datetime.fromtimestamp(midnight.timestamp(), local)
                if back.replace(tzinfo=None) != midnight.replace(tzinfo=None):
                    found.append((name, date))
    return found


@pytest.mark.slow
def test_every_midnight_that_never_comes_is_played_as_planned() -> None:
    cases = midnights_left_out()
    assert {
        "Atlantic/Azores",
        "Africa/Cairo",
        "America/Santiago",
        "Asia/Beirut",
        "America/Havana",
    } <= {name for name, _ in cases}
    for name, date in cases:
        local = zone(name)
        before = dt.datetime.combine(date, dt.time(), local).utcoffset()
        assert before is not None
        start = int(dt.datetime.combine(date, dt.time(12), dt.UTC).timestamp()) - 30 * 3600
        unix = np.arange(start, start + 60 * 3600, 60)
        unix = unix[unix % 3600 != 0]
        # clocks go forward from standard time: the offset before is that of a plan by standard time
        shown = {"standard": walls(None, int(before.total_seconds()), unix),
                 "utc": walls(None, 0, unix), "civil": walls(name, 0, unix)}  # fmt: skip
        for plan, controller in itertools.product(shown, shown):
            found = outcome(RAMPS, plan=plan, controller=controller, zone=name)
            assert found.schedule is not None
            days = DayCurves(found.schedule)
            wanted = ramps(np.array([second for _, second in shown[plan]]))
            given = np.empty(unix.size)
            for day in {each for each, _ in shown[controller]}:
                index = [n for n, each in enumerate(shown[controller]) if each[0] == day]
                seconds = np.array([float(shown[controller][n][1]) for n in index])
                given[index] = days.curves(day)["blue"].light(seconds)
            assert given == pytest.approx(wanted, abs=1e-9), (name, date, plan, controller)
            passing = days.passing(date)
            assert (passing is not None) == (controller == "civil")
            if passing is not None:
                midnight = dt.datetime.combine(date + dt.timedelta(days=1), dt.time(), local)
                begin = dt.datetime.combine(date, dt.time(), local).timestamp()
                length = midnight.timestamp() - begin  # the gap read by the offset before: its end
                assert passing.length_s == pytest.approx(length)


#: Every zone that changes its base from 2025 to 2035, with its links; when [UTC], and its standard offset
#: before and after [h]. IANA time zone data base: NEWS of 2025b; file northamerica of 2026f.
BASES = [
    (("America/Coyhaique",), dt.datetime(2025, 3, 20, 3), -4, -3),
    (("America/Vancouver", "Canada/Pacific"), dt.datetime(2026, 11, 1, 9), -8, -7),
    (("America/Edmonton", "America/Inuvik", "America/Yellowknife", "Canada/Mountain"),
     dt.datetime(2026, 11, 1, 8), -7, -6),
    (("America/Winnipeg", "America/Rainy_River", "Canada/Central"),
     dt.datetime(2026, 11, 1, 7), -6, -5),
]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(("names", "moment", "before_h", "after_h"), BASES)
def test_a_plan_by_standard_time_moves_with_the_base_of_the_zone(
    names: tuple[str, ...], moment: dt.datetime, before_h: int, after_h: int
) -> None:
    change = int(moment.replace(tzinfo=dt.UTC).timestamp())
    new_year = int(dt.datetime(moment.year + 1, 1, 1, tzinfo=dt.UTC).timestamp())
    for name, middle in itertools.product(names, (change, new_year)):
        unix = np.arange(middle - 40 * 3600, middle + 40 * 3600, 60)
        unix = unix[unix % 3600 != 0]
        standard = walls(None, before_h * 3600, unix[unix < change])
        standard += walls(None, after_h * 3600, unix[unix >= change])
        shown = {"standard": standard, "utc": walls(None, 0, unix), "civil": walls(name, 0, unix)}
        for plan, controller in itertools.product(shown, shown):
            found = outcome(RAMPS, plan=plan, controller=controller, zone=name)
            assert found.schedule is not None
            days = DayCurves(found.schedule)
            wanted = ramps(np.array([second for _, second in shown[plan]]))
            given = np.empty(unix.size)
            for day in {each for each, _ in shown[controller]}:
                index = [n for n, each in enumerate(shown[controller]) if each[0] == day]
                seconds = np.array([float(shown[controller][n][1]) for n in index])
                given[index] = days.curves(day)["blue"].light(seconds)
            assert given == pytest.approx(wanted, abs=1e-9), (name, plan, controller)


def test_without_dates_a_plan_of_two_clocks_is_not_compiled() -> None:
    found = outcome(controller="civil")
    assert found.loaded is not None and not found.report.has_errors
    with pytest.raises(WrongUse, match="name the dates"):
        compile(found.loaded)


# The sky --------------------------------------------------------------------------------------------

SUN = "    day: {kind: sun, peak_light_percent: 80%s}\n"


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


def dates_of(span: tuple[str, str], day: str, **more: object) -> dict[dt.date, list[int]]:
    """On each date the seconds at which the light wanted begins and ends."""
    found = outcome(day, **more)  # type: ignore[arg-type]
    assert found.schedule is not None, [d.message for d in found.report]
    days = DayCurves(found.schedule)
    result = {}
    for date in DateSpan(*(dt.date.fromisoformat(text) for text in span)):
        light = days.curves(date)["blue"].light(np.arange(86_400.0)) > 0
        result[date] = np.flatnonzero(np.diff(light.astype(int))).tolist()
    return result


EVENTS = """\
    day:
      kind: ramps
      dawn: {start: %s, end: sunrise + 45 min}
      peaks: [{light_percent: 70}]
      dusk: {start: sunset - 45 min, end: %s}
"""


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
    p = program("2027-06-20", "2027-06-21", day=SUN % "", **TROMSO)
    assert (p.channels["blue"].curve.light(np.arange(86_400.0)) > 0).all()


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


MOON = '    moonlight: {kind: %s, full_light_percent: 50, start: "19:00", end: "06:00"}\n'


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

NIGHT = "    moonlight: {kind: steady, light_percent: 2, start: %s, end: %s}\n"


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
