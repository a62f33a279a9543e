"""From the values of a day to seconds and segments of light, and the rules that a day must keep.

The rules are the same for days by the clock, which are checked when a schedule is loaded, and for days
by the sky, which are evaluated on a date. Only where the times come from differs: that is a `Times`.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Protocol

from photoperiod.curves.segment import Segment, ramps
from photoperiod.curves.shapes import Shape
from photoperiod.diagnostics.model import Diagnostic, Path, Related
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.day_plan import (
    ClockTime,
    Dawn,
    Day,
    Dusk,
    Event,
    Moonlight,
    Peak,
    Points,
    Ramps,
    SunDay,
    TimeOfDay,
    light_key,
    times_of,
)
from photoperiod.schedule.findings import Findings
from photoperiod.text import clock_text, counted, number_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE


class NeedsDate(Exception):
    """A day follows the sky, and no date is known."""


class Times(Protocol):
    """Where the times of a day come from. All are in seconds from the midnight of the plan date."""

    def at_clock(self, second: int) -> int:
        """Return when the clock shows a second of the date, or of a later one. [s]"""
        ...

    def first(self, event: Event, path: Path, findings: Findings) -> int:
        """Return when the event that belongs to the date happens. [s]"""
        ...

    def after(self, event: Event, second: int, path: Path, findings: Findings) -> int:
        """Return when an event happens next after a second, within 24 hours. [s]"""
        ...

    def refuse_crossing(
        self, event: Event, start: int, end: int, path: Path, findings: Findings
    ) -> None:
        """Refuse an event at the end of a day that is really the one of the next day."""
        ...


class ClockTimes:
    """Times by the clock, the same on every date; an event of the sky raises NeedsDate."""

    def at_clock(self, second: int) -> int:
        """Return the second itself."""
        return second

    def first(self, event: Event, path: Path, findings: Findings) -> int:
        """Raise NeedsDate."""
        raise NeedsDate

    def after(self, event: Event, second: int, path: Path, findings: Findings) -> int:
        """Raise NeedsDate."""
        raise NeedsDate

    def refuse_crossing(
        self, event: Event, start: int, end: int, path: Path, findings: Findings
    ) -> None:
        """Raise NeedsDate."""
        raise NeedsDate


@dataclass(frozen=True, slots=True)
class DayRules:
    """Evaluates days with some times.

    Each method takes the path of what it evaluates, so that a finding can name a place. A day that
    breaks a rule adds findings and raises AlreadyReported; one by the sky raises NeedsDate if the times
    know no date.

    ``faulty`` are the places in the file of faulty values. A rule that needs one raises AlreadyReported,
    as it does where a file lacks something.
    """

    times: Times
    findings: Findings
    faulty: frozenset[Path] = frozenset()

    def segments(self, day: Day, path: Path) -> tuple[Segment, ...]:
        """Return the light of a day of ramps or points; a day of the sun raises NeedsDate."""
        match day:
            case Ramps():
                return self._ramps(day, path)
            case Points():
                return self._points(day, path)
            case SunDay():
                raise NeedsDate

    def night(self, moonlight: Moonlight, path: Path) -> tuple[int, int]:
        """Return when moonlight begins and ends. [s from midnight of the plan date]"""
        start = self._first(moonlight.start, (*path, "start"))
        end = self._end(moonlight.end, start, (*path, "end"), is_night=True, may_cross=True)
        return start, end

    def moonlight(self, moonlight: Moonlight, path: Path) -> tuple[Segment, ...]:
        """Return steady moonlight; one that follows the moon raises NeedsDate."""
        start, end = self.night(moonlight, path)
        self._use((*path, light_key(moonlight.kind)))
        if moonlight.follows_moon:
            raise NeedsDate
        return (Segment(start, end, moonlight.light, moonlight.light),)

    def _use(self, path: Path) -> None:
        """Raise AlreadyReported if the value at a place is faulty."""
        if path in self.faulty:
            raise AlreadyReported

    def _use_list(self, path: Path) -> None:
        """Raise AlreadyReported if a list is faulty, or one of its entries as a whole."""
        if any(path in (each, each[:-1]) for each in self.faulty):
            raise AlreadyReported

    def _is_given(self, value: object, path: Path) -> bool:
        """Return whether a value is given; raise AlreadyReported if its key may be misspelt."""
        if value is None:
            self._use(path)
        return value is not None

    def _first(self, time: TimeOfDay, path: Path) -> int:
        """Return when something begins. [s]"""
        self._use(path)
        if isinstance(time, Event):
            return self.times.first(time, path, self.findings)
        return self.times.at_clock(time.second)

    def _later(self, time: TimeOfDay, after: int, path: Path) -> int:
        """Return a time at or after another one, on the next morning if need be. [s]"""
        self._use(path)
        if isinstance(time, Event):
            return self.times.after(time, after, path, self.findings)
        second = self.times.at_clock(time.second)
        return second if second >= after else self.times.at_clock(time.second + SECONDS_PER_DAY)

    def _end(
        self,
        time: TimeOfDay,
        start: int,
        path: Path,
        *,
        is_night: bool = False,
        may_cross: bool,
    ) -> int:
        """Return when something ends, after its start; past midnight only if it may cross it. [s]"""
        self._use(path)
        if isinstance(time, Event):
            return self.times.after(time, start, path, self.findings)
        end = self.times.at_clock(time.second)
        if end == start:
            self.findings.add(
                "PHO305",
                path,
                f"it ends at {clock_text(end)}, when it begins: a day of 24 hours, or of none",
                "for light all night write an end one minute earlier"
                if is_night
                else "for light around the clock write `kind: points` from 00:00 to 24:00",
            )
            raise AlreadyReported
        if end > start:
            return end
        next_end = self.times.at_clock(time.second + SECONDS_PER_DAY)
        hours = number_text((next_end - start) / SECONDS_PER_HOUR)
        ends_at_midnight = time.second == 0  # 00:00 for 24:00 is no sign of swapped times
        if not may_cross and not ends_at_midnight:
            self.findings.add(
                "PHO326",
                path,
                f"the day ends at {clock_text(end)}, before it starts at {clock_text(start)}",
                f"swap the two times, or write `ends_next_day: true` for a day of {hours} h past midnight",
            )
            raise AlreadyReported
        return next_end

    def _dawn_s(self, dawn: Dawn, start: int, path: Path, *, may_cross: bool) -> int:
        """Return how long dawn takes. [s]"""
        self._refuse_both_or_neither("end", dawn.length_s, dawn.end, path)
        if dawn.length_s is not None:
            self._use((*path, "minutes"))
            return dawn.length_s
        assert dawn.end is not None
        end = self._later(dawn.end, start, (*path, "end"))
        if end >= SECONDS_PER_DAY and isinstance(dawn.end, ClockTime) and not may_cross:
            self.findings.add(
                "PHO303",
                (*path, "end"),
                f"dawn would end at {clock_text(dawn.end.second)}, before it starts at"
                f" {clock_text(start)}",
                "swap the two times",
            )
            raise AlreadyReported
        return end - start

    def _dusk_s(self, dusk: Dusk, after: int, end: int, path: Path) -> int:
        """Return how long dusk takes. [s]"""
        self._refuse_both_or_neither("start", dusk.length_s, dusk.start, path)
        if dusk.length_s is not None:
            self._use((*path, "minutes"))
            return dusk.length_s
        assert dusk.start is not None
        start = self._later(dusk.start, after, (*path, "start"))
        if start > end:
            self.findings.add(
                "PHO303",
                (*path, "start"),
                f"dusk would begin at {_clock(start)}, after its end at {_clock(end)}",
                "write a start between the first light and the end",
            )
            raise AlreadyReported
        return end - start

    def _refuse_both_or_neither(
        self, key: str, length_s: int | None, time: TimeOfDay | None, path: Path
    ) -> None:
        """Refuse a ramp with a length and another end, or with neither."""
        has_length = self._is_given(length_s, (*path, "minutes"))
        has_time = self._is_given(time, (*path, key))
        if has_length != has_time:
            return
        self.findings.add(
            "PHO332",
            path,
            f"it needs 'minutes' or '{key}', {'not both' if has_time else 'and has neither'}",
            f"write how long it takes as `minutes`, or its other end as `{key}`",
            on_key=True,
        )
        raise AlreadyReported

    def _ramps(self, day: Ramps, path: Path) -> tuple[Segment, ...]:
        """Return the light of a day of ramps."""
        dawn, dusk = day.dawn, day.dusk
        start = self._first(dawn.start, (*path, "dawn", "start"))
        may_cross = day.ends_next_day
        end = self._end(dusk.end, start, (*path, "dusk", "end"), may_cross=may_cross)
        starts_by_event = isinstance(dawn.start, Event) and dawn.start.offset_s <= 0
        if isinstance(dusk.end, Event) and not starts_by_event:
            at = (*path, "dusk", "end")
            self.times.refuse_crossing(dusk.end, start, end, at, self.findings)
        dawn_s = self._dawn_s(dawn, start, (*path, "dawn"), may_cross=may_cross)
        dusk_s = self._dusk_s(dusk, start, end, (*path, "dusk"))
        placed = [_Ramp((*path, "dawn", "start"), start, dawn_s, 0.0, dawn.shape)]
        known = len(self.findings)
        self._use_list((*path, "peaks"))
        for index, peak in enumerate(day.peaks):
            at = (*path, "peaks", index)
            self._use((*at, "light_percent"))
            if index == 0:
                self._use((*path, "dawn", "shape"))
                placed[0] = _Ramp(placed[0].path, start, dawn_s, peak.light, dawn.shape)
                self._refuse_ramp_of_first(peak, at)
            else:
                ramp = self._ramp_to(peak, at, placed[-1], start, end)
                placed += [] if ramp is None else [ramp]
        last = _Ramp((*path, "dusk", "end"), end - dusk_s, dusk_s, 0.0, dusk.shape)
        if last.begin < placed[-1].end and len(self.findings) == known:
            self.findings.append(_overlap(last, placed[-1], is_dusk=True))
        if len(self.findings) > known:
            raise AlreadyReported
        self._use((*path, "dusk", "shape"))
        peaks = [(ramp.begin, ramp.length, ramp.light, ramp.shape) for ramp in placed]
        return ramps(start, peaks, end, dusk_s, dusk.shape)

    def _refuse_ramp_of_first(self, peak: Peak, path: Path) -> None:
        """Refuse what only later peaks have."""
        keys = {"from": peak.ramp_start, "minutes": peak.ramp_s, "shape": peak.shape}
        for key, value in keys.items():
            if self._is_given(value, (*path, key)):
                self.findings.add(
                    "PHO321",
                    (*path, key),
                    f"the first peak begins where dawn ends, so it has no '{key}'",
                    "write it into `dawn`, or remove it",
                    on_key=True,
                )

    def _ramp_to(self, peak: Peak, path: Path, before: _Ramp, start: int, end: int) -> _Ramp | None:
        """Return the ramp to a peak after the first; None, with a finding, if it does not fit."""
        keys = {"from": peak.ramp_start, "minutes": peak.ramp_s}
        lacking = [
            repr(key) for key, value in keys.items() if not self._is_given(value, (*path, key))
        ]
        if peak.ramp_start is None or peak.ramp_s is None:
            self.findings.add(
                "PHO321",
                path,
                f"a peak after the first lacks {' and '.join(lacking)}",
                "say when its ramp begins and how many minutes it takes",
            )
            return None
        at = (*path, "from")
        begin = self._later(peak.ramp_start, start, at)
        self._use((*path, "minutes"))
        ramp = _Ramp(at, begin, peak.ramp_s, peak.light, peak.shape or Shape.LINEAR)
        if begin >= end:
            self.findings.add(
                "PHO303",
                at,
                f"{clock_text(begin % SECONDS_PER_DAY)} is outside the day, which lasts from"
                f" {clock_text(start)} to {_clock(end)}",
                "write peaks in the order in which they happen, between dawn and dusk",
            )
            return None
        if begin < before.end:
            self.findings.append(_overlap(ramp, before))
            return None
        self._use((*path, "shape"))
        return ramp

    def _points(self, day: Points, path: Path) -> tuple[Segment, ...]:
        """Return the light of a day of points."""
        placed: list[tuple[int, float]] = []
        crossed_s = 0  # a day once past midnight stays there
        first_shown: int | None = None
        self._use_list((*path, "points"))
        for index, point in enumerate(day.points):
            at = (*path, "points", index, "time")
            self._use(at)
            if isinstance(point.time, ClockTime):
                shown = point.time.second
                second = self.times.at_clock(shown + crossed_s)
            else:
                shown = second = self._next_event(point.time, placed, at)
            self._use((*at[:-1], "light_percent"))
            first_shown = shown if first_shown is None else first_shown
            fault = None
            if placed and second < placed[-1][0]:
                if crossed_s or shown > first_shown:
                    fault = _out_of_order(shown, placed[-1][0], at)
                else:
                    crossed_s = SECONDS_PER_DAY
                    second = self.times.at_clock(shown + crossed_s)
            elif len(placed) > 1 and placed[-2][0] == second:
                fault = _third_point(shown, at)
            if not fault and placed and second - placed[0][0] > SECONDS_PER_DAY:
                fault = _over_24_hours(second - placed[0][0], at)
            if fault:
                self.findings.append(fault)
                raise AlreadyReported
            placed.append((second, point.light))
        return tuple(
            Segment(a[0], b[0], a[1], b[1]) for a, b in itertools.pairwise(placed) if b[0] > a[0]
        )

    def _next_event(self, event: Event, placed: list[tuple[int, float]], path: Path) -> int:
        """Return when an event of a point is, at or after the point before it. [s]"""
        if placed:
            return self.times.after(event, placed[-1][0] - 1, path, self.findings)
        return self.times.first(event, path, self.findings)


@dataclass(frozen=True, slots=True)
class _Ramp:
    """Where a ramp is written, when it begins, how long it takes [s], and its light and shape."""

    path: Path
    begin: int
    length: int
    light: float
    shape: Shape

    @property
    def end(self) -> int:
        return self.begin + self.length


def check_bounds(plan: Day | Moonlight, path: Path, findings: Findings) -> None:
    """Add a finding for each event whose earliest time is after its latest."""
    for at, time in times_of(plan):
        if not isinstance(time, Event) or time.not_before is None or time.not_after is None:
            continue
        low, high = time.not_before.second, time.not_after.second
        if low > high:
            findings.add(
                "PHO319",
                (*path, *at, "not_before"),
                f"not before {clock_text(low)} and not after {clock_text(high)}: no time is both",
                "swap them",
            )


def _overlap(ramp: _Ramp, before: _Ramp, *, is_dusk: bool = False) -> Diagnostic:
    """Return the finding on a ramp that begins before the one before it ends."""
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


def _out_of_order(shown: int, before: int, path: Path) -> Diagnostic:
    return Diagnostic(
        code="PHO303",
        path=path,
        message=f"{clock_text(shown % SECONDS_PER_DAY)} comes before {_clock(before)},"
        " the point above it",
        help="write the points in the order in which they happen",
    )


def _third_point(shown: int, path: Path) -> Diagnostic:
    return Diagnostic(
        code="PHO303",
        path=path,
        message=f"a third point at {clock_text(shown % SECONDS_PER_DAY)}",
        help="two points at one time make a step; remove the one between",
    )


def _over_24_hours(length_s: int, path: Path) -> Diagnostic:
    return Diagnostic(
        code="PHO305",
        path=path,
        message=f"the day lasts {number_text(length_s / SECONDS_PER_HOUR)} hours up to this point",
        help="a day lasts at most 24 hours and can cross midnight once",
    )


def _clock(second: int) -> str:
    """Return a time of a day that may begin before midnight or end after it."""
    if second < 0:
        return f"{clock_text(second % SECONDS_PER_DAY)} the day before"
    if second > 2 * SECONDS_PER_DAY:
        return f"{clock_text(second % SECONDS_PER_DAY)} two days later"
    if second > SECONDS_PER_DAY:
        return f"{clock_text(second - SECONDS_PER_DAY)} the next morning"
    return clock_text(second)
