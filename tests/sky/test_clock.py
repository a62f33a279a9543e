"""Clocks against published changes and against the standard library on the same zone data.

The changes of 2026 and 2027 are those of the IANA time zone database 2026f, read out with the standard
library's ``zoneinfo``; their causes are in its news (Casablanca ends its Ramadan rule and Havana its
rule of 2026 in data of 2026, so these two depend on the version installed).
"""

from __future__ import annotations

import itertools
import struct
import zoneinfo
from datetime import UTC, date, datetime, timedelta
from functools import cache
from importlib import resources
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.sky.clock import IANA_VERSION, Clock, ClockChange, zone, zone_names
from tests.conftest import drawn, naming

H = 3_600

#: Clocks that change oddly, each with the reason.
ODD = (
    "Africa/Cairo",  # at midnight
    "Africa/Casablanca",  # negative summer time
    "America/Havana",  # at midnight
    "America/New_York",
    "America/Nuuk",  # to and from midnight
    "America/Santiago",  # at midnight
    "America/St_Johns",  # half hours, until 2011 at one minute past midnight
    "Antarctica/Troll",  # two hours
    "Asia/Beirut",  # at midnight
    "Asia/Kathmandu",  # quarter hours
    "Asia/Tehran",
    "Australia/Lord_Howe",  # half an hour
    "Europe/Dublin",  # negative summer time
    "Europe/Lisbon",
    "Pacific/Apia",  # a date left out
    "Pacific/Chatham",  # quarter hours
    "Pacific/Kiritimati",  # +14
    "Pacific/Kwajalein",  # a date left out
)


def at(text: str) -> int:
    """Return a moment of UTC, written as 2026-03-29 01:00. [Unix seconds]"""
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp())


@cache
def plain_zone(name: str) -> ZoneInfo:
    """Return a zone by the standard library, on the package's data."""
    path = resources.files("tzdata").joinpath("zoneinfo", *name.split("/"))
    with path.open("rb") as file:
        return ZoneInfo.from_file(file, key=name)


def plain_offset(name: str, unix_s: int) -> int:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=unix_s)
    offset = moment.astimezone(plain_zone(name)).utcoffset()
    assert offset is not None
    return round(offset.total_seconds())


def listed_changes(name: str) -> list[ClockChange]:
    """Return the changes that a zone's file lists one by one (RFC 8536, version 2 block)."""
    data = resources.files("tzdata").joinpath("zoneinfo", *name.split("/")).read_bytes()

    def counts(begin: int) -> tuple[int, ...]:
        return struct.unpack(">6l", data[begin + 20 : begin + 44])

    isut, isstd, leap, times, types, chars = counts(0)
    begin = 44 + 5 * times + 6 * types + chars + 8 * leap + isstd + isut
    _, _, _, times, types, _ = counts(begin)
    begin += 44
    moments = struct.unpack(f">{times}q", data[begin : begin + 8 * times])
    which = data[begin + 8 * times : begin + 9 * times]
    begin += 9 * times
    offsets = [
        struct.unpack(">l", data[begin + 6 * k : begin + 6 * k + 4])[0] for k in range(types)
    ]
    befores = [offsets[0], *(offsets[k] for k in which)]
    return [
        ClockChange(moment, before, offsets[k])
        for moment, before, k in zip(moments, befores, which, strict=False)
        if before != offsets[k]
    ]


# Zone, change, offsets before and after [h], and the first version of the data that has it so.
CHANGES = [
    ("Europe/Lisbon", "2026-03-29 01:00", 0, 1, ""),
    ("Europe/Lisbon", "2026-10-25 01:00", 1, 0, ""),
    ("Europe/Lisbon", "2027-03-28 01:00", 0, 1, ""),
    ("Europe/Lisbon", "2027-10-31 01:00", 1, 0, ""),
    ("Europe/Dublin", "2026-03-29 01:00", 0, 1, ""),
    ("Europe/Dublin", "2026-10-25 01:00", 1, 0, ""),
    ("America/New_York", "2026-03-08 07:00", -5, -4, ""),
    ("America/New_York", "2026-11-01 06:00", -4, -5, ""),
    ("Australia/Lord_Howe", "2026-04-04 15:00", 11, 10.5, ""),
    ("Australia/Lord_Howe", "2026-10-03 15:30", 10.5, 11, ""),
    ("Africa/Casablanca", "2026-02-15 02:00", 1, 0, ""),
    ("Africa/Casablanca", "2026-03-22 02:00", 0, 1, ""),
    ("Africa/Casablanca", "2026-09-20 01:00", 1, 0, "2026c"),
    ("America/Havana", "2026-03-08 05:00", -5, -4, ""),
    ("Antarctica/Troll", "2026-03-29 01:00", 0, 2, ""),
    ("Antarctica/Troll", "2026-10-25 01:00", 2, 0, ""),
    # Samoa left out 30 December 2011 (IANA, file australasia; act of June 2011).
    ("Pacific/Apia", "2011-12-30 10:00", -10, 14, ""),
]


@pytest.mark.parametrize(("name", "text", "before_h", "after_h", "since"), CHANGES)
def test_published_changes(
    name: str, text: str, before_h: float, after_h: float, since: str
) -> None:
    moment = at(text)
    found = Clock.civil(name).changes(moment - 12 * H, moment + 12 * H)
    change = ClockChange(moment, round(before_h * H), round(after_h * H))
    assert found == ([change] if since <= IANA_VERSION else [])
    if found:
        assert Clock.civil(name).offset_s(moment - 1) == change.before_s
        assert Clock.civil(name).offset_s(moment) == change.after_s


@pytest.mark.parametrize(
    ("name", "offset_h"),
    [
        ("Asia/Kolkata", 5.5),
        ("Asia/Kathmandu", 5.75),
        ("Asia/Tokyo", 9),
        ("Pacific/Kiritimati", 14),
        ("Pacific/Apia", 13),
        ("America/Sao_Paulo", -3),
        ("Asia/Tehran", 3.5),
        ("Asia/Almaty", 5),
    ],
)
def test_zones_without_changes_in_2026_and_2027(name: str, offset_h: float) -> None:
    for clock in (Clock.civil(name), Clock.standard(name)):
        assert clock.changes(at("2026-01-01"), at("2028-01-01")) == []
        assert clock.offset_s(at("2026-07-01")) == round(offset_h * H)


# By law (IANA, files europe, africa, australasia, antarctica): winter time, whichever of the two the
# data call standard. Casablanca's least offset is that of Ramadan, and from 2026-09-20 on that of all.
@pytest.mark.parametrize(
    ("name", "standard_h"),
    [
        ("Europe/Lisbon", 0),
        ("Europe/Dublin", 0),
        ("Africa/Casablanca", 0),
        ("America/New_York", -5),
        ("America/Havana", -5),
        ("Australia/Lord_Howe", 10.5),
        ("Antarctica/Troll", 0),
        ("Pacific/Chatham", 12.75),
        ("Europe/Berlin", 1),
    ],
)
def test_standard_time_has_no_summer(name: str, standard_h: float) -> None:
    clock = Clock.standard(name)
    assert clock.changes(at("2026-01-01"), at("2027-01-01")) == []
    for month in range(1, 13):
        assert clock.offset_s(at(f"2026-{month:02d}-15")) == round(standard_h * H)


#: Zones that change their base, when, and their standard offset before and after [h]. IANA time zone data
#: base: NEWS of 2024a (Kazakhstan, 2024-03-01), 2025b (Aysén, 2025-03-20); file northamerica of 2026f
#: (British Columbia, Alberta and Manitoba stay on summer time from 2026-11-01 02:00 on, as standard time).
BASES = [
    ("Asia/Almaty", "2024-02-29 18:00", 6, 5),
    ("America/Coyhaique", "2025-03-20 03:00", -4, -3),
    ("America/Vancouver", "2026-11-01 09:00", -8, -7),
    ("America/Edmonton", "2026-11-01 08:00", -7, -6),
    ("America/Inuvik", "2026-11-01 08:00", -7, -6),
    ("America/Winnipeg", "2026-11-01 07:00", -6, -5),
]


@pytest.mark.parametrize(("name", "moment", "before_h", "after_h"), BASES)
def test_standard_time_changes_where_a_zone_changes_its_base(
    name: str, moment: str, before_h: int, after_h: int
) -> None:
    clock, change = Clock.standard(name), at(moment)
    assert clock.changes(at("2023-06-01"), at("2036-01-01")) == [
        ClockChange(change, before_h * H, after_h * H)
    ]
    assert clock.offset_s(change - 1) == before_h * H
    assert clock.offset_s(change) == after_h * H
    # the years around it begin as they went on
    for year in (2026, 2027):
        midnight = at(f"{year}-01-01")
        assert clock.offset_s(midnight - 1) == clock.offset_s(midnight)


@pytest.mark.parametrize("name", ["Europe/Dublin", "Africa/Casablanca"])
def test_standard_time_is_winter_time_where_the_data_call_winter_the_exception(name: str) -> None:
    clock = Clock.standard(name)
    assert clock.changes(at("2020-01-01"), at("2036-01-01")) == []
    assert clock.offset_s(at("2025-07-01")) == 0


@pytest.mark.slow
def test_no_other_zone_changes_its_base_from_2025_to_2035() -> None:
    found = {}
    for name in sorted(zone_names()):
        changes = Clock.standard(name).changes(at("2025-01-01"), at("2036-01-01"))
        if changes:
            found[name] = [(c.at_unix_s, c.before_s, c.after_s) for c in changes]
    links = {
        "Canada/Central": "America/Winnipeg",
        "America/Rainy_River": "America/Winnipeg",
        "Canada/Mountain": "America/Edmonton",
        "America/Yellowknife": "America/Edmonton",
        "Canada/Pacific": "America/Vancouver",
    }
    wanted = {name: [(at(moment), a * H, b * H)] for name, moment, a, b in BASES[1:]}
    wanted |= {link: wanted[name] for link, name in links.items()}
    assert found == wanted


def test_utc() -> None:
    clock = Clock.utc()
    assert clock.offset_s(at("2026-07-01")) == 0
    assert clock.changes(0, at("2030-01-01")) == []
    assert clock.wall_of(at("2026-07-01 12:30")) == (date(2026, 7, 1), 45_000)
    assert clock.unix_of(date(2026, 7, 1), 45_000) == at("2026-07-01 12:30")


def test_a_time_left_out_is_read_by_the_offset_before() -> None:
    # 01:30 of 2026-03-29 doesn't exist in Lisbon (change at 01:00 UTC). PEP 495: fold 0 is the offset
    # before the gap, which makes it 02:30 of summer time; fold 1 is the one after, 00:30.
    clock = Clock.civil("Europe/Lisbon")
    day, half_past_one = date(2026, 3, 29), H + H // 2
    assert clock.unix_of(day, half_past_one) == at("2026-03-29 01:30")
    assert clock.wall_of(at("2026-03-29 01:30")) == (day, 2 * H + H // 2)
    assert clock.unix_of(day, half_past_one, fold=1) == at("2026-03-29 00:30")


def test_a_time_that_comes_twice_is_the_first() -> None:
    clock = Clock.civil("Europe/Lisbon")
    day, half_past_one = date(2026, 10, 25), H + H // 2
    assert clock.unix_of(day, half_past_one) == at("2026-10-25 00:30")
    assert clock.unix_of(day, half_past_one, fold=1) == at("2026-10-25 01:30")


# Length of dates [h] on which a clock changes: IANA 2026f, by the offsets above.
@pytest.mark.parametrize(
    ("name", "day", "start", "hours"),
    [
        ("Europe/Lisbon", date(2026, 3, 29), "2026-03-29 00:00", 23),
        ("Europe/Lisbon", date(2026, 10, 25), "2026-10-24 23:00", 25),
        ("Australia/Lord_Howe", date(2026, 4, 5), "2026-04-04 13:00", 24.5),
        ("Australia/Lord_Howe", date(2026, 10, 4), "2026-10-03 13:30", 23.5),
        ("Antarctica/Troll", date(2026, 3, 29), "2026-03-29 00:00", 22),
        ("Antarctica/Troll", date(2026, 10, 25), "2026-10-24 22:00", 26),
        ("America/Havana", date(2026, 3, 7), "2026-03-07 05:00", 24),
        ("America/Havana", date(2026, 3, 8), "2026-03-08 05:00", 23),  # begins at 01:00
        ("America/Havana", date(2027, 11, 7), "2027-11-07 04:00", 25),  # midnight comes twice
        ("America/Santiago", date(2026, 4, 4), "2026-04-04 03:00", 25),
        ("America/Santiago", date(2026, 9, 6), "2026-09-06 04:00", 23),
        ("Pacific/Apia", date(2011, 12, 29), "2011-12-29 10:00", 24),
        ("Pacific/Apia", date(2011, 12, 30), "2011-12-30 10:00", 0),
        ("Pacific/Apia", date(2011, 12, 31), "2011-12-30 10:00", 24),
        ("Pacific/Kiritimati", date(2026, 6, 1), "2026-05-31 10:00", 24),
    ],
)
def test_bounds_of_odd_dates(name: str, day: date, start: str, hours: float) -> None:
    begin, end = Clock.civil(name).day_bounds(day)
    assert begin == at(start)
    assert end - begin == round(hours * H)


def test_a_date_without_midnight_begins_with_the_change() -> None:
    clock = Clock.civil("America/Havana")
    begin, _ = clock.day_bounds(date(2026, 3, 8))
    assert clock.wall_of(begin - 1) == (date(2026, 3, 7), 86_399)
    assert clock.wall_of(begin) == (date(2026, 3, 8), H)


@pytest.mark.parametrize(
    ("name", "day", "spans"),
    [  # IANA, file europe: both change at 01:00 UTC
        ("Europe/Lisbon", date(2027, 3, 27), [(0, 24)]),
        ("Europe/Lisbon", date(2027, 3, 28), [(0, 1), (2, 24)]),
        ("Europe/Lisbon", date(2027, 10, 31), [(0, 2), (1, 24)]),
        ("Atlantic/Azores", date(2027, 3, 28), [(1, 24)]),
        ("Atlantic/Azores", date(2027, 10, 31), [(0, 1), (0, 24)]),
    ],
)
def test_the_hours_that_a_clock_shows_on_a_date(
    name: str, day: date, spans: list[tuple[int, int]]
) -> None:
    found = Clock.civil(name).passing_spans(day)
    assert found == [(begin * H, end * H) for begin, end in spans]


def test_a_date_left_out_can_be_asked_for() -> None:
    clock = Clock.civil("Pacific/Apia")
    noon = clock.unix_of(date(2011, 12, 30), 12 * H)
    assert clock.wall_of(noon) == (date(2011, 12, 31), 12 * H)


def check_changes_since_2020(name: str) -> None:
    # A zone's file lists its changes one by one up to where its rule takes over, at the latest 2037.
    begin, end = at("2020-01-01"), at("2037-01-01")
    listed = [change for change in listed_changes(name) if begin <= change.at_unix_s < end]
    found = Clock.civil(name).changes(begin, end)
    assert found[: len(listed)] == listed
    for change in found[len(listed) :]:
        assert plain_offset(name, change.at_unix_s - 1) == change.before_s
        assert plain_offset(name, change.at_unix_s) == change.after_s


def test_all_changes_of_some_zones_since_2020_are_found() -> None:
    for name in {*ODD, *sorted(zone_names())[::25]}:
        with naming(name):
            check_changes_since_2020(name)


@pytest.mark.slow
@pytest.mark.parametrize("first", range(8))
def test_all_changes_of_all_zones_since_2020_are_found(first: int) -> None:
    for name in sorted(zone_names())[first::8]:
        with naming(name):
            check_changes_since_2020(name)


@pytest.mark.slow
@pytest.mark.parametrize("name", ODD)
def test_all_changes_since_1900_are_found(name: str) -> None:
    begin, end = at("1900-01-01"), at("2037-01-01")
    listed = [change for change in listed_changes(name) if begin <= change.at_unix_s < end]
    assert Clock.civil(name).changes(begin, end)[: len(listed)] == listed


INSTANTS = st.integers(at("1970-01-01"), at("2100-01-01"))
NAMES = st.sampled_from(ODD)


@given(name=NAMES, unix_s=INSTANTS)
def test_offsets_are_those_of_the_standard_library(name: str, unix_s: int) -> None:
    assert Clock.civil(name).offset_s(unix_s) == plain_offset(name, unix_s)


@given(name=NAMES, begin=INSTANTS, parts=st.lists(st.integers(0, 400 * 86_400), max_size=20))
def test_offsets_of_many_instants_are_those_of_each(
    name: str, begin: int, parts: list[int]
) -> None:
    moments = np.array([begin + part for part in parts], dtype=np.int64)
    for clock in (Clock.civil(name), Clock.standard(name), Clock.utc()):
        expected = [clock.offset_s(int(moment)) for moment in moments]
        assert clock.offsets_s(moments).tolist() == expected


def near_changes() -> list[tuple[str, int]]:
    return [
        (name, change.at_unix_s)
        for name in ODD
        for change in Clock.civil(name).changes(at("2005-01-01"), at("2030-01-01"))
    ]


#: Any instant, and instants near a change, where things go wrong if they do.
PLACES = st.one_of(
    st.tuples(NAMES, INSTANTS),
    st.builds(
        lambda place, shift: (place[0], place[1] + shift),
        st.deferred(lambda: st.sampled_from(near_changes())),
        st.integers(-2 * 86_400, 2 * 86_400),
    ),
)


@settings(max_examples=drawn(300))
@given(place=PLACES)
def test_an_instant_comes_back_from_its_wall_time(place: tuple[str, int]) -> None:
    name, unix_s = place
    for clock in (Clock.civil(name), Clock.standard(name)):
        day, second = clock.wall_of(unix_s)
        instants = {clock.unix_of(day, second, fold) for fold in (0, 1)}
        assert unix_s in instants
        assert clock.unix_of(day, second) == min(instants)


@settings(max_examples=drawn(300))
@given(place=PLACES, second=st.integers(0, 86_399), fold=st.integers(0, 1))
def test_wall_times_are_read_as_by_the_standard_library(
    place: tuple[str, int], second: int, fold: int
) -> None:
    name, unix_s = place
    clock = Clock.civil(name)
    day, _ = clock.wall_of(unix_s)
    wall = datetime(day.year, day.month, day.day) + timedelta(seconds=second)
    moment = wall.replace(tzinfo=plain_zone(name), fold=fold)
    assert clock.unix_of(day, second, fold) == round(moment.timestamp())


@settings(max_examples=drawn(300))
@given(place=PLACES)
def test_dates_follow_on_each_other_without_gaps(place: tuple[str, int]) -> None:
    name, unix_s = place
    for clock in (Clock.civil(name), Clock.standard(name), Clock.utc()):
        day, _ = clock.wall_of(unix_s)
        bounds = [clock.day_bounds(day + timedelta(days=shift)) for shift in range(-3, 4)]
        for (_, end), (begin, _) in itertools.pairwise(bounds):
            assert end == begin
        assert all(begin <= end for begin, end in bounds)
        assert sum(begin <= unix_s < end for begin, end in bounds) == 1
        begin, end = bounds[3]
        assert begin <= unix_s < end or clock.changes(unix_s - 2 * H, unix_s + 2 * H)


def test_an_end_of_the_day_is_the_next_midnight() -> None:
    clock = Clock.civil("Europe/Lisbon")
    assert clock.unix_of(date(2026, 7, 1), 86_400) == clock.unix_of(date(2026, 7, 2), 0)
    with pytest.raises(ValueError, match="second of day is 86401, not from 0 to 86400"):
        clock.unix_of(date(2026, 7, 1), 86_401)


@pytest.mark.parametrize("name", ["", "Mars/Olympus", "../zones", "Europe", "europe/lisbon"])
def test_an_unknown_zone_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="no time zone"):
        Clock.civil(name)


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="no clock of kind 'summer'"):
        Clock("summer", "Europe/Lisbon")


def test_the_system_zone_data_is_not_read(tmp_path: Path) -> None:
    # A system whose file for Lisbon holds the clock of Tokyo.
    tokyo = resources.files("tzdata").joinpath("zoneinfo", "Asia", "Tokyo").read_bytes()
    (tmp_path / "Europe").mkdir()
    (tmp_path / "Europe" / "Lisbon").write_bytes(tokyo)
    moment = datetime(2026, 1, 1, tzinfo=UTC)
    zoneinfo.reset_tzpath(to=[str(tmp_path)])
    zone.cache_clear()
    try:
        misled = moment.astimezone(ZoneInfo.no_cache("Europe/Lisbon")).utcoffset()
        ours = moment.astimezone(zone("Europe/Lisbon")).utcoffset()
    finally:
        zoneinfo.reset_tzpath()
        zone.cache_clear()
    assert misled == timedelta(hours=9)
    assert ours == timedelta(0)
