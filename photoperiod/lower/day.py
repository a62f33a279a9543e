"""From the clock times of a day in the file to a curve of light."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from photoperiod.diagnostics import Diagnostic, Path, Related
from photoperiod.light.curves import Part, Segment, ramp_train
from photoperiod.lower.common import Complaints
from photoperiod.units import (
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    SECONDS_PER_MINUTE,
    clock_text,
    counted,
    number_text,
)
from photoperiod.view import Poisoned, View


def clock_seconds(text: str) -> int:
    """Return the seconds from midnight of ``HH:MM`` or ``HH:MM:SS``; ``24:00`` is 86,400."""
    hours, minutes, *rest = (int(part) for part in text.split(":"))
    return hours * 3600 + minutes * 60 + (rest[0] if rest else 0)


def lower_day(day: View, complaints: Complaints) -> Part:
    """Return the part of a curve that a ``day`` describes.

    Raises
    ------
    Poisoned
        If it can't be built; the reason is among the complaints, or was a fault of shape.
    """
    if day.text("kind") == "points":
        return _points(day, complaints)
    return _ramps(day, complaints)


def lower_moonlight(moonlight: View, complaints: Complaints) -> Part:
    """Return the part of a curve that steady moonlight describes.

    Raises
    ------
    Poisoned
        If it begins when it ends.
    """
    moonlight.text("kind")  # first: without it nothing else has been looked at
    start = clock_seconds(moonlight.text("start"))
    end = _end(moonlight, start, complaints, is_night=True)
    light = moonlight.number("light_percent") / 100
    return Part((Segment(start, end, light, light),))


def _end(view: View, start: int, complaints: Complaints, *, is_night: bool = False) -> int:
    """Return when something ends, at or after its start; nights cross midnight without a word."""
    end = clock_seconds(view.text("end"))
    if end == start:
        complaints.add(
            "M305",
            view.at("end"),
            f"it ends at {clock_text(end)}, when it begins: a day of 24 hours, or of none",
            "for light all night write an end one minute earlier"
            if is_night
            else "for light around the clock write `kind: points` from 00:00 to 24:00",
        )
        raise Poisoned
    if end > start:
        return end
    hours = number_text((end + SECONDS_PER_DAY - start) / SECONDS_PER_HOUR)
    if not is_night:
        complaints.add(
            "M326",
            view.at("end"),
            f"{clock_text(end)} is before the start at {clock_text(start)}, so it is taken as the"
            f" next morning: a day of {hours} h",
            "if that is not meant, the two times are swapped",
        )
    return end + SECONDS_PER_DAY


def _ramp_seconds(view: View) -> int:
    return round(view.number("minutes") * SECONDS_PER_MINUTE)


def _ramps(day: View, complaints: Complaints) -> Part:
    dawn, dusk = day.child("dawn"), day.child("dusk")
    start = clock_seconds(dawn.text("start"))
    end = _end(dusk, start, complaints)
    ramps = [_Ramp(dawn.at("start"), start, _ramp_seconds(dawn))]
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
                "M321",
                peak.path,
                f"a peak after the first lacks {' and '.join(repr(key) for key in lacking)}",
                "say when its ramp begins and how many minutes it takes",
            )
            continue
        begin = _after(clock_seconds(peak.text("from")), start)
        ramp = _Ramp(peak.at("from"), begin, _ramp_seconds(peak))
        if begin >= end:
            complaints.add(
                "M303",
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
    last = _Ramp(dusk.at("end"), end - _ramp_seconds(dusk), _ramp_seconds(dusk))
    if last.begin < ramps[-1].end and len(complaints) == known:
        complaints.append(_overlap(last, ramps[-1], is_dusk=True))
    if len(complaints) > known:
        raise Poisoned
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


def _refuse_keys_of_later_peaks(peak: View, complaints: Complaints) -> None:
    for key in ("from", "minutes", "shape"):
        if peak.has(key):
            complaints.add(
                "M321",
                peak.at(key),
                f"the first peak begins where dawn ends, so it has no '{key}'",
                "write it into `dawn`, or remove it",
                on_key=True,
            )


def _after(second: int, start: int) -> int:
    """Return a clock time as seconds from the plan date's midnight, at or after the first light."""
    return second if second >= start else second + SECONDS_PER_DAY


def _overlap(ramp: _Ramp, before: _Ramp, *, is_dusk: bool = False) -> Diagnostic:
    related = (Related(message="the ramp before it is written here", path=before.path),)
    if not is_dusk and ramp.begin < before.begin:
        return Diagnostic(
            code="M303",
            path=ramp.path,
            related=related,
            message=f"{_clock(ramp.begin)} comes before {_clock(before.begin)}, where the ramp before"
            " it begins",
            help="write peaks in the order in which they happen",
        )
    minutes = counted((before.end - ramp.begin) / SECONDS_PER_MINUTE, "minute", 1)
    what = "dusk" if is_dusk else "this ramp"
    return Diagnostic(
        code="M304",
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


def _points(day: View, complaints: Complaints) -> Part:
    placed: list[tuple[int, float]] = []
    offset = 0
    first_clock = -1
    for point in day.list("points"):
        clock = clock_seconds(point.text("time"))
        light = point.number("light_percent") / 100
        first_clock = clock if first_clock < 0 else first_clock
        second = clock + offset
        message, code = "", "M303"
        help = "write the points in the order in which they happen"
        if placed and second < placed[-1][0]:
            if offset or clock > first_clock:
                message = (
                    f"{clock_text(clock)} comes before {_clock(placed[-1][0])}, the point above it"
                )
            else:
                offset = SECONDS_PER_DAY
                second = clock + offset
        elif len(placed) > 1 and placed[-2][0] == second:
            message = f"a third point at {clock_text(clock)}"
            help = "two points at one time make a step; remove the one between"
        if not message and placed and second - placed[0][0] > SECONDS_PER_DAY:
            hours = number_text((second - placed[0][0]) / 3600)
            message, code = f"the day lasts {hours} hours up to this point", "M305"
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
            raise Poisoned
        placed.append((second, light))
    segments = tuple(
        Segment(a[0], b[0], a[1], b[1]) for a, b in itertools.pairwise(placed) if b[0] > a[0]
    )
    return Part(segments)
