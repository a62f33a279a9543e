"""Plans by one clock on controllers by another, days that follow the sky, and what stops them."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator
from importlib import resources

import numpy as np
import pytest

from photoperiod.api import compile
from photoperiod.curves.curve import Curve
from photoperiod.days import day_curves
from photoperiod.days.day_curves import DayCurves
from photoperiod.errors import WrongUse
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from tests.conftest import compile_and_check, load
from tests.days.bench import (
    LIGHT_TOLERANCE,
    NIGHT,
    RAMPS,
    SUN,
    TEXT,
    dates_of,
    outcome,
    program,
    zone,
)

# What is kept ---------------------------------------------------------------------------------------


class CountedCurves(DayCurves):
    """Counts the dates that are worked out."""

    counted = 0

    def _curves_on(self, date: dt.date) -> dict[str, Curve]:
        self.counted += 1
        return super()._curves_on(date)


def test_of_a_long_time_fewer_dates_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(day_curves, "KEPT_DATES", 6)
    monkeypatch.setattr(day_curves, "KEPT_OF_MORE", 2)
    dates = [dt.date(2027, 3, day) for day in range(1, 7)]
    schedule = outcome(SUN % "").schedule
    assert schedule is not None
    counted, light = [], []
    for length in (6, 7):
        days = CountedCurves(schedule)
        days.keep_for(length)
        for _ in range(2):
            light.append([days.curves(date)["blue"].integral() for date in dates])
        counted.append(days.counted)
    assert counted == [6, 12]
    assert all(each == light[0] for each in light)


# Clocks: instants are stepped through zone data read here, not by the module under test -------------


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


def days_of_weeks_that_change(noons: list[dt.datetime]) -> Iterator[dt.date]:
    """Yield each date after one noon, up to the next one, where their offsets differ."""
    for before, after in itertools.pairwise(noons):
        if before.utcoffset() != after.utcoffset():
            yield from (before.date() + dt.timedelta(days=n) for n in range(1, 8))


def midnights_left_out() -> list[tuple[str, dt.date]]:
    """Every zone of the package, and its dates from 2025 to 2035 whose midnight never comes."""
    names = (resources.files("tzdata") / "zones").read_text(encoding="utf-8").split()
    found = []
    for name in names:
        local = zone(name)
        noons = [
            dt.datetime(2025, 1, 1, 12, tzinfo=local) + dt.timedelta(weeks=n) for n in range(575)
        ]
        for date in days_of_weeks_that_change(noons):
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
    for number, (name, date) in enumerate(cases):
        local = zone(name)
        before = dt.datetime.combine(date, dt.time(), local).utcoffset()
        assert before is not None
        start = int(dt.datetime.combine(date, dt.time(12), dt.UTC).timestamp()) - 30 * 3600
        unix = np.arange(start, start + 60 * 3600, 60)
        unix = unix[unix % 3600 != 0]
        # clocks go forward from standard time: the offset before is that of a plan by standard time
        shown = {"standard": walls(None, int(before.total_seconds()), unix),
                 "utc": walls(None, 0, unix), "civil": walls(name, 0, unix)}  # fmt: skip
        # Of all pairs of clocks a third: the others come with the zone's other years.
        for plan, controller in list(itertools.product(shown, shown))[number % 3 :: 3]:
            found = outcome(RAMPS, plan=plan, controller=controller, zone=name)
            assert found.schedule is not None
            days = DayCurves(found.schedule)
            wanted = ramps(np.array([second for _, second in shown[plan]]))
            given = np.empty(unix.size)
            for day in {each for each, _ in shown[controller]}:
                index = [n for n, each in enumerate(shown[controller]) if each[0] == day]
                seconds = np.array([float(shown[controller][n][1]) for n in index])
                given[index] = days.curves(day)["blue"].light(seconds)
            assert np.abs(given - wanted).max() < 1e-9, (name, date, plan, controller)
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
            assert np.abs(given - wanted).max() < 1e-9, (name, plan, controller)


def test_without_dates_a_plan_of_two_clocks_is_not_compiled() -> None:
    found = outcome(controller="civil")
    assert found.loaded is not None and not found.report.has_errors
    with pytest.raises(WrongUse, match="name the dates"):
        compile(found.loaded)
