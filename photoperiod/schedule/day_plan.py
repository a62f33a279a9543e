"""From the times of a day in the file to trains of light, on any date or on one."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from photoperiod.curves.curve import Profile, Samples, Segment, Signal, ramp_train
from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic, Path, Related
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import DayFault
from photoperiod.schedule.times import SAMPLE_S, SkyTimes, Times, clock_seconds, is_event
from photoperiod.text import clock_text, counted, number_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE

if TYPE_CHECKING:
    from photoperiod.sky.almanac import Almanac


def lower_trains(view: Cursor, complaints: Findings, times: Times) -> tuple[Signal, ...]:
    """Return what the day and the moonlight of a channel describe.

    Raises
    ------
    AlreadyReported
        If it can't be built; the reason is among the complaints, or was a fault of shape.
    FollowsSky
        If it needs a date and ``times`` know none.
    """
    trains: list[Signal] = []
    if view.has("day"):
        trains.append(_day(view.child("day"), complaints, times))
    if view.has("moonlight"):
        trains += _moonlight(view.child("moonlight"), complaints, times)
    return tuple(trains)


@dataclass(frozen=True, slots=True)
class SkyRule:
    """What a channel does on a date, where that follows the sky."""

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


@dataclass(frozen=True, slots=True)
class _Ramp:
    """Where a ramp is written, when it begins and how long it takes [s]."""

    path: Path
    begin: int
    length: int

    @property
    def end(self) -> int:
        return self.begin + self.length


def _refuse_keys_of_later_peaks(peak: Cursor, complaints: Findings) -> None:
    for key in ("from", "minutes", "shape"):
        if peak.has(key):
            complaints.add(
                "PHO321",
                peak.at(key),
                f"the first peak begins where dawn ends, so it has no '{key}'",
                "write it into `dawn`, or remove it",
                on_key=True,
            )


def _overlap(ramp: _Ramp, before: _Ramp, *, is_dusk: bool = False) -> Diagnostic:
    related = (Related(message="the ramp before it is written here", path=before.path),)
    if not is_dusk and ramp.begin < before.begin:
        return Diagnostic(
            code="PHO303",
            path=ramp.path,
            related=related,
            message=f"{_clock(ramp.begin)} comes before {_clock(before.begin)}, where the ramp before"
            " it begins",
            help="write peaks in the order in which they happen",
        )
    minutes = counted((before.end - ramp.begin) / SECONDS_PER_MINUTE, "minute", 1)
    what = "dusk" if is_dusk else "this ramp"
    return Diagnostic(
        code="PHO304",
        path=ramp.path,
        related=related,
        message=f"{what} begins at {_clock(ramp.begin)}, {minutes} before the ramp before it ends at"
        f" {_clock(before.end)}",
        help=f"move it or shorten a ramp by {minutes}",
    )


def _clock(second: int) -> str:
    if second < 0:
        return f"{clock_text(second % SECONDS_PER_DAY)} the day before"
    if second > 2 * SECONDS_PER_DAY:
        return f"{clock_text(second % SECONDS_PER_DAY)} two days later"
    if second > SECONDS_PER_DAY:
        return f"{clock_text(second - SECONDS_PER_DAY)} the next morning"
    return clock_text(second)


def _points(day: Cursor, complaints: Findings, times: Times) -> Profile:
    placed: list[tuple[int, float]] = []
    offset = 0
    first_clock: int | None = None
    for point in day.list("points"):
        if is_event(point, "time"):
            clock = second = _event_second(point, placed, complaints, times)
        else:
            clock = clock_seconds(point.text("time"))
            second = times.at_clock(clock + offset)
        light = point.number("light_percent") / 100
        first_clock = clock if first_clock is None else first_clock
        message, code = "", "PHO303"
        help = "write the points in the order in which they happen"
        if placed and second < placed[-1][0]:
            if offset or clock > first_clock:
                message = (
                    f"{clock_text(clock % SECONDS_PER_DAY)} comes before {_clock(placed[-1][0])},"
                    " the point above it"
                )
            else:
                offset = SECONDS_PER_DAY
                second = times.at_clock(clock + offset)
        elif len(placed) > 1 and placed[-2][0] == second:
            message = f"a third point at {clock_text(clock % SECONDS_PER_DAY)}"
            help = "two points at one time make a step; remove the one between"
        if not message and placed and second - placed[0][0] > SECONDS_PER_DAY:
            hours = number_text((second - placed[0][0]) / 3600)
            message, code = f"the day lasts {hours} hours up to this point", "PHO305"
            help = "a day lasts at most 24 hours and can cross midnight once"
        if message:
            complaints.append(
                Diagnostic(
                    code=code,
                    path=point.at("time"),
                    message=message,
                    help=help,
                )
            )
            raise AlreadyReported
        placed.append((second, light))
    segments = tuple(
        Segment(a[0], b[0], a[1], b[1]) for a, b in itertools.pairwise(placed) if b[0] > a[0]
    )
    return Profile(segments)


def _event_second(
    point: Cursor, placed: list[tuple[int, float]], complaints: Findings, times: Times
) -> int:
    if placed:
        return times.after(point, "time", placed[-1][0] - 1, complaints)
    return times.first(point, "time", complaints)
