"""From the clock times of a day in the file to a curve of light."""

from __future__ import annotations

import itertools

from photoperiod.diagnostics import Diagnostic, Path, Related
from photoperiod.light.curves import Part, Segment, ramp_train
from photoperiod.lower.common import Complaints
from photoperiod.units import (
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    SECONDS_PER_MINUTE,
    clock_text,
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
            "for light around the clock write `kind: points` from 00:00 to 24:00",
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
    length = _ramp_seconds(dawn)
    peaks: list[tuple[int, int, float, str]] = []
    previous, free_from = dawn.at("start"), start + length
    failed = False
    for index, peak in enumerate(day.list("peaks")):
        light = peak.number("light_percent") / 100
        if index == 0:
            peaks.append((start, length, light, dawn.text("shape", "linear")))
            for key in ("from", "minutes", "shape"):
                if peak.has(key):
                    failed = True
                    complaints.append(
                        Diagnostic(
                            code="M321",
                            path=peak.at(key),
                            on_key=True,
                            message=f"the first peak begins where dawn ends, so it has no '{key}'",
                            help="write it into `dawn`, or remove it",
                        )
                    )
            continue
        lacking = [key for key in ("from", "minutes") if not peak.has(key)]
        if lacking:
            failed = True
            complaints.append(
                Diagnostic(
                    code="M321",
                    path=peak.path,
                    message=f"a peak after the first lacks {' and '.join(f'{k!r}' for k in lacking)}",
                    help="say when its ramp begins and how many minutes it takes",
                )
            )
            continue
        begin = _after(clock_seconds(peak.text("from")), start)
        if begin < free_from:
            failed = True
            complaints.append(
                _overlap(
                    peak.at("from"),
                    previous,
                    free_from,
                    begin,
                    peaks[-1][0] if len(peaks) > 1 else start,
                )
            )
            continue
        length = _ramp_seconds(peak)
        peaks.append((begin, length, light, peak.text("shape", "linear")))
        previous, free_from = peak.at("from"), begin + length
    end = _end(dusk, start, complaints)
    dusk_length = _ramp_seconds(dusk)
    if end - dusk_length < free_from and not failed:
        failed = True
        complaints.append(_overlap(dusk.at("end"), previous, free_from, end - dusk_length, None))
    if failed:
        raise Poisoned
    return ramp_train(start, peaks, end, dusk_length, dusk.text("shape", "linear"))


def _after(second: int, start: int) -> int:
    """Return a clock time as seconds from the plan date's midnight, at or after the first light."""
    return second if second >= start else second + SECONDS_PER_DAY


def _overlap(
    path: Path, previous: Path, free_from: int, begin: int, previous_begin: int | None
) -> Diagnostic:
    short = number_text((free_from - begin) / SECONDS_PER_MINUTE, 1)
    related = (Related(message="the ramp before it is written here", path=previous),)
    if previous_begin is not None and begin < previous_begin:
        return Diagnostic(
            code="M303",
            path=path,
            related=related,
            message=f"{_clock(begin)} comes before {_clock(previous_begin)}, where the ramp before it begins",
            help="write peaks in the order in which they happen",
        )
    what = "dusk" if previous_begin is None else "this ramp"
    return Diagnostic(
        code="M304",
        path=path,
        related=related,
        message=f"{what} begins at {_clock(begin)}, {short} minutes before the ramp before it ends"
        f" at {_clock(free_from)}",
        help=f"move it or shorten a ramp by {short} minutes",
    )


def _clock(second: int) -> str:
    if second < 0:
        return f"{clock_text(second % SECONDS_PER_DAY)} the day before"
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
        if not message and placed and second - placed[0][0] > SECONDS_PER_DAY:
            hours = number_text((second - placed[0][0]) / 3600)
            message, code = f"the day lasts {hours} hours up to this point", "M305"
        if message:
            complaints.append(
                Diagnostic(
                    code=code,
                    path=point.at("time"),
                    message=message,
                    help="write the points in the order in which they happen; a day lasts at"
                    " most 24 hours and can cross midnight once",
                )
            )
            raise Poisoned
        placed.append((second, light))
    segments = tuple(
        Segment(a[0], b[0], a[1], b[1]) for a, b in itertools.pairwise(placed) if b[0] > a[0]
    )
    return Part(segments)
