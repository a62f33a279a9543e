"""The place, its sky, dated tables and clocks."""

from __future__ import annotations

from dataclasses import replace

from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.day_plan import ClockTime
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import DatedTables
from photoperiod.schedule.site import BorrowedSky, Place
from photoperiod.sky.clock import REFERENCE_UNIX_S, Clock, ClockKind, zone_names
from photoperiod.text import clock_text, close_match, short
from photoperiod.units import (
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    SECONDS_PER_MINUTE,
)

#: A noon by standard time outside these hours points at a mistake in the longitude or the zone [h]. That
#: of Kashgar, on Beijing time, is near 15:00. Our choice.
NOON_FROM_H, NOON_TO_H = 10.0, 15.5

#: What to write where a place is lacking.
PLACE_EXAMPLE = "write `place: {latitude: 38.10, longitude: -29.50, time_zone: Atlantic/Azores}`"

#: Names of zones must be so alike to be taken for each other: another town may keep another time. Our
#: choice.
ZONE_LIKENESS = 0.85


def build_place(top: Cursor, findings: Findings) -> Place:
    """Return the place, or raise AlreadyReported."""
    cursor = top.child("place")
    zone = cursor.text("time_zone")
    if zone in zone_names():
        _check_noon(cursor, zone, findings)
    else:
        findings.add(
            "PHO301",
            cursor.at("time_zone"),
            f"there is no time zone '{short(zone)}'",
            _near_zone(zone),
        )
    return Place(
        latitude_deg=cursor.number("latitude"),
        longitude_deg=cursor.number("longitude"),
        time_zone=zone,
    )


def _check_noon(cursor: Cursor, zone: str, findings: Findings) -> None:
    """Warn of a longitude at which noon comes hours off noon by the clock."""
    offset_h = Clock.standard(zone).offset_s(REFERENCE_UNIX_S) / SECONDS_PER_HOUR
    noon_h = 12 + offset_h - cursor.number("longitude") / 15
    if not NOON_FROM_H <= noon_h % 24 <= NOON_TO_H:
        minute = round(noon_h % 24 * 60)
        shown = clock_text(minute * SECONDS_PER_MINUTE % SECONDS_PER_DAY)
        findings.add(
            "PHO333",
            cursor.at("longitude"),
            f"the sun's noon is about {shown} there by the clock of {zone}",
            "east is positive and west negative: is the sign right, and the zone?",
        )


def _near_zone(name: str) -> str:
    """Return help for an unknown zone: one that is spelt almost the same, or what to look for."""
    guess = close_match(name, sorted(zone_names()), cutoff=ZONE_LIKENESS)
    if guess is not None:
        return f"did you mean '{guess}'?"
    return (
        "write the zone of a large town near by that keeps the same time, such as Atlantic/Azores"
    )


def build_sky(top: Cursor, place: Place | None, findings: Findings) -> BorrowedSky | None:
    """Return the borrowed sky if there is one, or raise AlreadyReported."""
    if not top.has("sky"):
        return None
    cursor = top.child("sky")
    if place is None:
        if not top.has("place"):
            findings.add(
                "PHO329",
                cursor.path,
                "a borrowed sky needs a place to be brought to",
                PLACE_EXAMPLE,
                on_key=True,
            )
        raise AlreadyReported
    noon = cursor.text("noon_at") if cursor.has("noon_at") else None
    return BorrowedSky(
        latitude_deg=cursor.number("latitude", place.latitude_deg),
        longitude_deg=cursor.number("longitude", place.longitude_deg),
        noon_s=None if noon is None else ClockTime.of(noon).second,
        season_share=cursor.number("seasons_percent", 100.0) / 100,
    )


#: The keys of dated tables that ask for the channels of the sun and of the moon apart.
APART = ("sun", "moon")

#: The keys that say how far tables may be off, or how many there are.
ASKED = ("light_error_percent", "time_error_minutes", "dose_error_percent", "tables")


def build_dated_tables(top: Cursor, findings: Findings) -> DatedTables:
    """Return how many dated tables are wanted, or raise AlreadyReported."""
    cursor = top.child_or_empty("dated_tables")
    apart = [key for key in APART if cursor.has(key)]
    if not apart:
        return _asked_of_tables(cursor, findings)
    for key in ASKED:
        if cursor.has(key):
            findings.add(
                "PHO330",
                cursor.at(key),
                f"'{key}' and '{apart[0]}' exclude each other",
                "write it under `sun`, under `moon`, or under both",
                on_key=True,
            )
            raise AlreadyReported
    if top.child_or_empty("controller").get("shared_times", False):
        findings.add(
            "PHO339",
            cursor.at(apart[0]),
            f"'{apart[0]}' can't be asked apart: with `shared_times`, a row of one channel moves the rows of"
            " all",
            "ask for all channels alike: `dated_tables: {tables: 12}`",
            on_key=True,
        )
        raise AlreadyReported
    sun, moon = (_asked_of_tables(cursor.child_or_empty(key), findings) for key in APART)
    return replace(sun, moon=moon)


def _asked_of_tables(cursor: Cursor, findings: Findings) -> DatedTables:
    """Return what some keys ask of tables."""
    usual = DatedTables()
    for key in ("light_error_percent", "dose_error_percent"):
        if cursor.has("tables") and cursor.has(key):
            findings.add(
                "PHO330",
                cursor.at(key),
                f"'{key}' and 'tables' exclude each other",
                "say how far tables may be off, or how many there are",
                on_key=True,
            )
            raise AlreadyReported
    return DatedTables(
        light_error=cursor.number("light_error_percent", usual.light_error * 100) / 100,
        time_error_s=round(cursor.number("time_error_minutes", usual.time_error_s / 60) * 60),
        dose_error=cursor.number("dose_error_percent", usual.dose_error * 100) / 100,
        tables=cursor.integer("tables") if cursor.has("tables") else None,
    )


def plan_clock(top: Cursor) -> ClockKind:
    """Return what the times of the plan mean."""
    return top.kind("plan_clock", ClockKind, ClockKind.STANDARD)


def build_spread(top: Cursor, findings: Findings) -> float | None:
    """Return by how many minutes a day the plan follows its clock, None for at once."""
    key = "clock_change_minutes_per_day"
    if not top.has(key):
        return None
    if plan_clock(top) != ClockKind.CIVIL:
        findings.add(
            "PHO331",
            top.at(key),
            f"'{key}' means nothing under a plan clock that never changes",
            "write `plan_clock: civil`, or remove it",
            on_key=True,
        )
        raise AlreadyReported
    return top.number(key)


def check_clocks(top: Cursor, findings: Findings) -> None:
    """Refuse two clocks that can't be turned into each other for want of a time zone."""
    plan, controller = plan_clock(top), top.child("controller").kind("clock", ClockKind)
    if (plan != controller or top.has("clock_change_minutes_per_day")) and not top.has("place"):
        findings.add(
            "PHO329",
            top.at("controller", "clock"),
            f"a {controller} controller clock under a {plan} plan clock needs a time zone",
            PLACE_EXAMPLE,
        )
