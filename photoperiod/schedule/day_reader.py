"""From a day in the file to its values.

A faulty value becomes a stand-in, so that the rest of the day can still be checked. Nothing comes of
stand-ins: the rules of a day stop where they need a faulty value, and a file with a fault gives no
schedule. Without its kind, its dawn or its dusk a day can't be read at all: that raises
AlreadyReported.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from photoperiod.curves.shapes import Shape
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.day_plan import (
    ClockTime,
    Dawn,
    Day,
    DayKind,
    Dusk,
    Event,
    Moonlight,
    MoonlightKind,
    Peak,
    PeakOf,
    Point,
    Points,
    Ramps,
    SunDay,
    TimeOfDay,
    light_key,
    time_of_day,
)
from photoperiod.sky.kinds import SunEvent, SunModel
from photoperiod.units import SECONDS_PER_MINUTE

T = TypeVar("T")

_SOME_TIME: TimeOfDay = ClockTime(0)
_SOME_EVENT: TimeOfDay = Event(name=SunEvent.NOON)


def read_day(cursor: Cursor) -> Day:
    """Return a day, or raise AlreadyReported."""
    match cursor.kind("kind", DayKind):
        case DayKind.RAMPS:
            return _ramps(cursor)
        case DayKind.POINTS:
            return Points(_or((), lambda: tuple(_point(p) for p in cursor.list("points"))))
        case DayKind.SUN:
            return SunDay(
                peak_light=cursor.number("peak_light_percent") / 100,
                peak_of=cursor.kind("peak_of", PeakOf, PeakOf.YEAR),
                model=cursor.kind("model", SunModel, SunModel.SINE),
            )


def read_moonlight(cursor: Cursor) -> Moonlight:
    """Return moonlight, or raise AlreadyReported."""
    kind = cursor.kind("kind", MoonlightKind)
    return Moonlight(
        kind=kind,
        light=_light(cursor, light_key(kind)),
        start=_time(cursor, "start"),
        end=_time(cursor, "end"),
    )


def _ramps(cursor: Cursor) -> Ramps:
    dawn, dusk = cursor.child("dawn"), cursor.child("dusk")
    return Ramps(
        dawn=Dawn(
            start=_time(dawn, "start"),
            length_s=_seconds(dawn),
            end=_optional_time(dawn, "end"),
            shape=_shape(dawn) or Shape.LINEAR,
        ),
        peaks=_or((), lambda: tuple(_peak(peak) for peak in cursor.list("peaks"))),
        dusk=Dusk(
            end=_time(dusk, "end"),
            length_s=_seconds(dusk),
            start=_optional_time(dusk, "start"),
            shape=_shape(dusk) or Shape.LINEAR,
        ),
        ends_next_day=_or(True, lambda: bool(cursor.get("ends_next_day", False))),
    )


def _peak(cursor: Cursor) -> Peak:
    return Peak(
        light=_light(cursor, "light_percent"),
        ramp_start=_optional_time(cursor, "from"),
        ramp_s=_seconds(cursor),
        shape=_shape(cursor),
    )


def _point(cursor: Cursor) -> Point:
    return Point(_time(cursor, "time"), _light(cursor, "light_percent"))


def _or(stand_in: T, read: Callable[[], T]) -> T:
    """Return what is read, or a stand-in for a faulty value."""
    try:
        return read()
    except AlreadyReported:
        return stand_in


def _light(cursor: Cursor, key: str) -> float:
    """Return light. [fraction of full]"""
    return _or(0.0, lambda: cursor.number(key) / 100)


def _seconds(cursor: Cursor) -> int | None:
    """Return the length of a ramp, to the second; None where it was left out. [s]"""
    if "minutes" not in cursor.data:
        return None
    return _or(0, lambda: round(cursor.number("minutes") * SECONDS_PER_MINUTE))


def _shape(cursor: Cursor) -> Shape | None:
    """Return the shape of a ramp, None where it was left out."""
    if "shape" not in cursor.data:
        return None
    return _or(Shape.LINEAR, lambda: cursor.kind("shape", Shape))


def _optional_time(cursor: Cursor, key: str) -> TimeOfDay | None:
    """Return a time of day, None where it was left out."""
    return _time(cursor, key) if key in cursor.data else None


def _time(cursor: Cursor, key: str) -> TimeOfDay:
    """Return a time of day; an event may be written as a mapping with bounds."""
    if isinstance(cursor.data.get(key), dict):
        return _or(_SOME_TIME, lambda: _event(cursor.child(key)))
    return _or(_SOME_TIME, lambda: time_of_day(cursor.text(key)))


def _event(cursor: Cursor) -> Event:
    """Return an event with its bounds."""
    event = _or(_SOME_EVENT, lambda: time_of_day(cursor.text("at")))
    assert isinstance(event, Event), "the schema allows nothing else"
    return Event(
        name=event.name,
        offset_s=event.offset_s,
        not_before=_clock_time(cursor, "not_before"),
        not_after=_clock_time(cursor, "not_after"),
        if_none=_clock_time(cursor, "if_none"),
        if_sun_stays_up=_clock_time(cursor, "if_sun_stays_up"),
        if_sun_stays_down=_clock_time(cursor, "if_sun_stays_down"),
    )


def _clock_time(cursor: Cursor, key: str) -> ClockTime | None:
    """Return a time by the clock, None where it was left out."""
    if key not in cursor.data:
        return None
    return _or(None, lambda: ClockTime.of(cursor.text(key)))
