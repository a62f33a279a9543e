"""What a channel does on a day, as values: times by the clock or by the sky, ramps, points, the moon.

These values need no date. `photoperiod.days.signals` evaluates them on one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

<<<<<<< HEAD
from photoperiod.curves.curve import Profile, Samples, Segment, Signal, ramp_train
from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic, Path, Related
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import DayFault
from photoperiod.schedule.times import SAMPLE_S, SkyTimes, Times, clock_seconds, is_event
from photoperiod.text import clock_text, counted, number_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE
=======
from photoperiod.curves.segment import Shape
from photoperiod.sky.kinds import SunEvent, SunModel
from photoperiod.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
>>>>>>> 4d526a1 (wip)

_EVENT = re.compile(r"([a-z ]+?)(?: ([+-]) (\d+) min)?")


class DayKind(StrEnum):
    """How a day is written."""

    RAMPS = "ramps"
    POINTS = "points"
    SUN = "sun"


class MoonlightKind(StrEnum):
    """What moonlight follows."""

    STEADY = "steady"  # the same light every night
    PHASE = "phase"  # the phase of the moon
    PHASE_AND_RISE = "phase-and-rise"  # the same, while the moon is up


class PeakOf(StrEnum):
    """Which peak of the sun gives the peak of the light."""

    YEAR = "year"  # that of the year's highest sun: winter days are dimmer
    DAY = "day"  # that of each day


@dataclass(frozen=True, slots=True)
class ClockTime:
    """A time by the plan's clock, in seconds from midnight; 86,400 is the midnight that ends the day."""

    second: int

    @classmethod
    def of(cls, text: str) -> ClockTime:
        """Return the time written as ``HH:MM`` or ``HH:MM:SS``."""
        hours, minutes, *rest = (int(part) for part in text.split(":"))
        second = hours * SECONDS_PER_HOUR + minutes * SECONDS_PER_MINUTE
        return cls(second + (rest[0] if rest else 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A time by the sun.

    Parameters
    ----------
    name : SunEvent
        What happens in the sky.
    offset_s : int
        How much later the time is; negative for earlier. [s]
    not_before, not_after : ClockTime or None
        The time is moved to these bounds. They belong to the same day of the sun as the event: of a
        sunset, 00:30 is after midnight.
    if_none : ClockTime or None
        The time on dates without the event; None makes such a date a fault.
    if_sun_stays_up, if_sun_stays_down : ClockTime or None
        The same where the sun stays above, or below, the event's height all day; None: as `if_none`.
    """

    name: SunEvent
    offset_s: int = 0
    not_before: ClockTime | None = None
    not_after: ClockTime | None = None
    if_none: ClockTime | None = None
    if_sun_stays_up: ClockTime | None = None
    if_sun_stays_down: ClockTime | None = None

    @property
    def text(self) -> str:
        """The event and its offset as a schedule writes them, ``sunrise + 30 min``."""
        if not self.offset_s:
            return self.name.value
        sign = "-" if self.offset_s < 0 else "+"
        return f"{self.name} {sign} {abs(self.offset_s) // SECONDS_PER_MINUTE} min"


TimeOfDay = ClockTime | Event


def time_of_day(text: str) -> TimeOfDay:
    """Return a time as a schedule writes it, ``09:00`` or ``sunrise + 30 min``.

    Raises
    ------
    ValueError
        If it is neither.
    """
    if text[:1].isdigit():
        return ClockTime.of(text)
    found = _EVENT.fullmatch(text)
    if found is None:
        raise ValueError(f"{text!r} is neither a time of day nor an event of the sun")
    name, sign, minutes = found.groups()
    offset_s = int(minutes or 0) * SECONDS_PER_MINUTE
    return Event(name=SunEvent(name), offset_s=-offset_s if sign == "-" else offset_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dawn:
    """The first ramp of a day, from dark to the first peak.

    It has a length [s] or an end, never both.
    """

    start: TimeOfDay
    length_s: int | None = None
    end: TimeOfDay | None = None
    shape: Shape = Shape.LINEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class Dusk:
    """The last ramp of a day, from the last peak to dark.

    It has a length [s] or a start, never both.
    """

    end: TimeOfDay
    length_s: int | None = None
    start: TimeOfDay | None = None
    shape: Shape = Shape.LINEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """Light that is held until the next ramp begins. [fraction of full]

    The first peak begins where dawn ends and has nothing but its light. Each later one says when the
    ramp to it begins and how long that takes [s]; a shape left out is linear.
    """

    light: float
    ramp_start: TimeOfDay | None = None
    ramp_s: int | None = None
    shape: Shape | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramps:
    """A day from a dawn over peaks to a dusk."""

    dawn: Dawn
    peaks: tuple[Peak, ...]
    dusk: Dusk


@dataclass(frozen=True, slots=True)
class Point:
    """Light at a time. [fraction of full]"""

<<<<<<< HEAD
    view: Cursor
    top: Cursor

    def trains(self, sky: Almanac, date: dt.date) -> tuple[Signal, ...]:
        """Return what begins to shine on a date.

        Raises
        ------
        DayFault
            If it can't be built on that date.
        """
        complaints = Findings(self.top, is_faulty=False)
        try:
            trains = lower_trains(self.view, complaints, SkyTimes(sky, date))
        except AlreadyReported:
            trains = ()
        faults = [
            d if str(date) in d.message else replace(d, message=f"{d.message} (on {date})")
            for d in complaints
            if d.severity is Severity.ERROR
        ]
        if faults:
            raise DayFault(faults)
        return trains

    @property
    def has_moon(self) -> bool:
        """True if there is a moon by phase."""
        return self.view.has("moonlight") and self.view.child("moonlight").text("kind") != "steady"


def _day(day: Cursor, complaints: Findings, times: Times) -> Signal:
    kind = day.text("kind")
    if kind == "points":
        return _points(day, complaints, times)
    if kind == "sun":
        return _sun(day, times)
    return _ramps(day, complaints, times)


def _sun(day: Cursor, times: Times) -> Signal:
    """Return light by the height of the sun."""
    peak, model = day.number("peak_light_percent") / 100, day.text("model", "sine")
    values = times.sunlight(model, of_year=day.text("peak_of", "year") == "year")
    return Samples.of(0, SAMPLE_S, peak * values)


def _moonlight(moonlight: Cursor, complaints: Findings, times: Times) -> list[Signal]:
    kind = moonlight.text("kind")  # first: without it nothing else has been looked at
    start = times.first(moonlight, "start", complaints)
    end = _end(moonlight, start, complaints, times, is_night=True)
    if kind == "steady":
        light = moonlight.number("light_percent") / 100
        return [Profile((Segment(start, end, light, light),))]
    light = moonlight.number("full_light_percent") / 100 * times.moonlight((start + end) // 2)
    spans = times.moon_up(start, end) if kind == "phase-and-rise" else [(start, end)]
    return [Profile((Segment(begin, stop, light, light),)) for begin, stop in spans]


def _end(
    view: Cursor, start: int, complaints: Findings, times: Times, *, is_night: bool = False
) -> int:
    """Return when something ends, at or after its start; nights cross midnight without a word."""
    if is_event(view, "end"):
        return times.after(view, "end", start, complaints)
    shown = clock_seconds(view.text("end"))
    end = times.at_clock(shown)
    if end == start:
        complaints.add(
            "PHO305",
            view.at("end"),
            f"it ends at {clock_text(end)}, when it begins: a day of 24 hours, or of none",
            "for light all night write an end one minute earlier"
            if is_night
            else "for light around the clock write `kind: points` from 00:00 to 24:00",
        )
        raise AlreadyReported
    if end > start:
        return end
    next_end = times.at_clock(shown + SECONDS_PER_DAY)
    hours = number_text((next_end - start) / SECONDS_PER_HOUR)
    if not is_night:
        complaints.add(
            "PHO326",
            view.at("end"),
            f"{clock_text(end)} is before the start at {clock_text(start)}, so it is taken as the"
            f" next morning: a day of {hours} h",
            "if that is not meant, the two times are swapped",
        )
    return next_end


def _ramp_seconds(view: Cursor) -> int:
    return round(view.number("minutes") * SECONDS_PER_MINUTE)


def _dawn_seconds(dawn: Cursor, start: int, complaints: Findings, times: Times) -> int:
    """Return how long dawn takes, by its minutes or its end. [s]"""
    _one_of(dawn, "minutes", "end", complaints)
    if dawn.has("minutes"):
        return _ramp_seconds(dawn)
    return _later(dawn, "end", start, complaints, times) - start


def _dusk_seconds(dusk: Cursor, after: int, end: int, complaints: Findings, times: Times) -> int:
    """Return how long dusk takes, by its minutes or its start. [s]"""
    _one_of(dusk, "minutes", "start", complaints)
    if dusk.has("minutes"):
        return _ramp_seconds(dusk)
    start = _later(dusk, "start", after, complaints, times)
    if start > end:
        complaints.add(
            "PHO303",
            dusk.at("start"),
            f"dusk would begin at {_clock(start)}, after its end at {_clock(end)}",
            "write a start between the first light and the end",
        )
        raise AlreadyReported
    return end - start


def _starts_before_its_event(dawn: Cursor) -> bool:
    """Return whether a dawn begins at an event of the sky or before it."""
    if not is_event(dawn, "start"):
        return False
    value = dawn.get("start")
    return "+" not in str(value["at"] if isinstance(value, dict) else value)


def _one_of(view: Cursor, one: str, other: str, complaints: Findings) -> None:
    if view.has(one) == view.has(other):
        complaints.add(
            "PHO332",
            view.path,
            f"it needs '{one}' or '{other}', {'not both' if view.has(one) else 'and has neither'}",
            f"write how long it takes as `{one}`, or its other end as `{other}`",
            on_key=True,
        )
        raise AlreadyReported


def _later(view: Cursor, key: str, after: int, complaints: Findings, times: Times) -> int:
    """Return a time at or after another one, on the next morning if need be."""
    if is_event(view, key):
        return times.after(view, key, after, complaints)
    shown = clock_seconds(view.text(key))
    second = times.at_clock(shown)
    return second if second >= after else times.at_clock(shown + SECONDS_PER_DAY)


def _ramps(day: Cursor, complaints: Findings, times: Times) -> Profile:
    dawn, dusk = day.child("dawn"), day.child("dusk")
    start = times.first(dawn, "start", complaints)
    end = _end(dusk, start, complaints, times)
    if is_event(dusk, "end") and not _starts_before_its_event(dawn):
        times.refuse_crossing(dusk, "end", start, end, complaints)
    dawn_s = _dawn_seconds(dawn, start, complaints, times)
    dusk_s = _dusk_seconds(dusk, start, end, complaints, times)
    ramps = [_Ramp(dawn.at("start"), start, dawn_s)]
    peaks: list[tuple[int, int, float, str]] = []
    known = len(complaints)
    for index, peak in enumerate(day.list("peaks")):
        light = peak.number("light_percent") / 100
        if index == 0:
            peaks.append((start, ramps[0].length, light, dawn.text("shape", "linear")))
            _refuse_keys_of_later_peaks(peak, complaints)
            continue
        lacking = [key for key in ("from", "minutes") if not peak.has(key)]
        if lacking:
            complaints.add(
                "PHO321",
                peak.path,
                f"a peak after the first lacks {' and '.join(repr(key) for key in lacking)}",
                "say when its ramp begins and how many minutes it takes",
            )
            continue
        begin = _later(peak, "from", start, complaints, times)
        ramp = _Ramp(peak.at("from"), begin, _ramp_seconds(peak))
        if begin >= end:
            complaints.add(
                "PHO303",
                ramp.path,
                f"{clock_text(begin % SECONDS_PER_DAY)} is outside the day, which lasts from"
                f" {clock_text(start)} to {_clock(end)}",
                "write peaks in the order in which they happen, between dawn and dusk",
            )
            continue
        if begin < ramps[-1].end:
            complaints.append(_overlap(ramp, ramps[-1]))
            continue
        peaks.append((begin, ramp.length, light, peak.text("shape", "linear")))
        ramps.append(ramp)
    last = _Ramp(dusk.at("end"), end - dusk_s, dusk_s)
    if last.begin < ramps[-1].end and len(complaints) == known:
        complaints.append(_overlap(last, ramps[-1], is_dusk=True))
    if len(complaints) > known:
        raise AlreadyReported
    return ramp_train(start, peaks, end, last.length, dusk.text("shape", "linear"))
=======
    time: TimeOfDay
    light: float
>>>>>>> 4d526a1 (wip)


@dataclass(frozen=True, slots=True)
class Points:
    """A day in straight lines between points; it may cross midnight once."""

    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SunDay:
    """A day that is as bright as the height of the sun makes it.

    ``peak_light`` is the light at the peak. [fraction of full]
    """

    peak_light: float
    peak_of: PeakOf = PeakOf.YEAR
    model: SunModel = SunModel.SINE


Day = Ramps | Points | SunDay


@dataclass(frozen=True, slots=True, kw_only=True)
class Moonlight:
    """Light from one time of a night to another.

    ``light`` is that of every night if it is steady, else that under a full moon. [fraction of full]
    """

    kind: MoonlightKind
    light: float
    start: TimeOfDay
    end: TimeOfDay

    @property
    def follows_moon(self) -> bool:
        """True if the moon makes it brighter or darker."""
        return self.kind is not MoonlightKind.STEADY


def times_of(plan: Day | Moonlight) -> Iterator[tuple[tuple[str | int, ...], TimeOfDay]]:
    """Yield every time of a day or of moonlight, with its place inside it."""
    match plan:
        case Ramps():
            yield ("dawn", "start"), plan.dawn.start
            if plan.dawn.end is not None:
                yield ("dawn", "end"), plan.dawn.end
            for index, peak in enumerate(plan.peaks):
                if peak.ramp_start is not None:
                    yield ("peaks", index, "from"), peak.ramp_start
            yield ("dusk", "end"), plan.dusk.end
            if plan.dusk.start is not None:
                yield ("dusk", "start"), plan.dusk.start
        case Points():
            for index, point in enumerate(plan.points):
                yield ("points", index, "time"), point.time
        case Moonlight():
            yield ("start",), plan.start
            yield ("end",), plan.end


def follows_sky(plan: Day | Moonlight) -> bool:
    """Return whether a day or moonlight is another one on each date."""
    if isinstance(plan, SunDay) or (isinstance(plan, Moonlight) and plan.follows_moon):
        return True
    return any(isinstance(time, Event) for _, time in times_of(plan))
