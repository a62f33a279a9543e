"""From a day in the file to its values. Each function raises AlreadyReported at a faulty value."""

from __future__ import annotations

from photoperiod.curves.segment import Shape
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
    time_of_day,
)
from photoperiod.sky.kinds import SunModel
from photoperiod.units import SECONDS_PER_MINUTE


def read_day(cursor: Cursor) -> Day:
    """Return a day."""
    match cursor.kind("kind", DayKind):
        case DayKind.RAMPS:
            return _ramps(cursor)
        case DayKind.POINTS:
            points = cursor.list("points")
            return Points(tuple(Point(_time(p, "time"), _light(p)) for p in points))
        case DayKind.SUN:
            return SunDay(
                peak_light=_light(cursor, "peak_light_percent"),
                peak_of=cursor.kind("peak_of", PeakOf, PeakOf.YEAR),
                model=cursor.kind("model", SunModel, SunModel.SINE),
            )


def read_moonlight(cursor: Cursor) -> Moonlight:
    """Return moonlight."""
    kind = cursor.kind("kind", MoonlightKind)  # first: a mapping without its kind was not checked
    key = "light_percent" if kind is MoonlightKind.STEADY else "full_light_percent"
    return Moonlight(
        kind=kind,
        light=_light(cursor, key),
        start=_time(cursor, "start"),
        end=_time(cursor, "end"),
    )


def _ramps(cursor: Cursor) -> Ramps:
    dawn, dusk = cursor.child("dawn"), cursor.child("dusk")
    return Ramps(
        dawn=Dawn(
            start=_time(dawn, "start"),
            length_s=_seconds(dawn),
            end=_time(dawn, "end") if dawn.has("end") else None,
            shape=dawn.kind("shape", Shape, Shape.LINEAR),
        ),
        peaks=tuple(_peak(peak) for peak in cursor.list("peaks")),
        dusk=Dusk(
            end=_time(dusk, "end"),
            length_s=_seconds(dusk),
            start=_time(dusk, "start") if dusk.has("start") else None,
            shape=dusk.kind("shape", Shape, Shape.LINEAR),
        ),
    )


def _peak(cursor: Cursor) -> Peak:
    return Peak(
        light=_light(cursor),
        ramp_start=_time(cursor, "from") if cursor.has("from") else None,
        ramp_s=_seconds(cursor),
        shape=cursor.kind("shape", Shape) if cursor.has("shape") else None,
    )


def _light(cursor: Cursor, key: str = "light_percent") -> float:
    """Return light. [fraction of full]"""
    return cursor.number(key) / 100


def _seconds(cursor: Cursor) -> int | None:
    """Return the length of a ramp, to the second; None where it was left out. [s]"""
    minutes = cursor.optional_number("minutes")
    return None if minutes is None else round(minutes * SECONDS_PER_MINUTE)


def _time(cursor: Cursor, key: str) -> TimeOfDay:
    """Return a time of day; an event may be written as a mapping with bounds."""
    value = cursor.get(key)
    if value is None:
        raise AlreadyReported
    if not isinstance(value, dict):
        return time_of_day(str(value))
    inner = cursor.child(key)
    event = time_of_day(inner.text("at"))
    if not isinstance(event, Event):
        raise AlreadyReported
    return Event(
        name=event.name,
        offset_s=event.offset_s,
        not_before=_clock_time(inner, "not_before"),
        not_after=_clock_time(inner, "not_after"),
        if_none=_clock_time(inner, "if_none"),
        if_sun_stays_up=_clock_time(inner, "if_sun_stays_up"),
        if_sun_stays_down=_clock_time(inner, "if_sun_stays_down"),
    )


def _clock_time(cursor: Cursor, key: str) -> ClockTime | None:
    return ClockTime.of(cursor.text(key)) if cursor.has(key) else None
