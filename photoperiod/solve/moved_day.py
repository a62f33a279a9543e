"""A day of ramps with other lights and other ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from photoperiod.curves.curve import Profile
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.day_plan import ClockTime, Peak, Ramps, TimeOfDay
from photoperiod.schedule.day_rules import ClockTimes, DayRules
from photoperiod.schedule.findings import Findings
from photoperiod.units import SECONDS_PER_DAY

#: Light of a peak as it begins and as it ends. [fraction of full]
Lights = tuple[tuple[float, float], ...]


def profile_of(day: Ramps) -> Profile | None:
    """Return the light of a day over time; None if it breaks a rule."""
    try:
        return Profile(DayRules(ClockTimes(), Findings()).segments(day, ()))
    except AlreadyReported:
        return None


def bounds_of(day: Ramps) -> tuple[int, int]:
    """Return the first and the last light of a day by the clock. [s from midnight]"""
    start, end = _second(day.dawn.start), _second(day.dusk.end)
    return start, end if end > start else end + SECONDS_PER_DAY


def plateaus_of(day: Ramps) -> list[tuple[int, int]]:
    """Return from when to when each peak is held. [s from midnight, rising]"""
    start, end = bounds_of(day)
    dawn, dusk = day.dawn, day.dusk
    begins = [start + _length(dawn.length_s, start, dawn.end)]
    ends = []
    for peak in day.peaks[1:]:
        assert peak.ramp_start is not None
        ramp = _second(peak.ramp_start)
        ramp += SECONDS_PER_DAY if ramp < start else 0
        ends.append(ramp)
        begins.append(ramp + (peak.ramp_s or 0))
    dusk_s = dusk.length_s
    if dusk_s is None:
        assert dusk.start is not None
        dusk_s = (end - _second(dusk.start)) % SECONDS_PER_DAY
    return list(zip(begins, [*ends, end - dusk_s], strict=True))


def longer(day: Ramps, by_s: int) -> Ramps | None:
    """Return a day both of whose ends are moved outward by some seconds; None if there is no such day.

    Ramps keep their lengths; peaks after the first keep their times.
    """
    start, end = bounds_of(day)
    crosses = end > SECONDS_PER_DAY
    new_start, new_end = start - by_s, end + by_s
    if (
        new_start < 0
        or (new_end > SECONDS_PER_DAY) != crosses
        or new_end - new_start > SECONDS_PER_DAY
    ):
        return None
    dawn, dusk = day.dawn, day.dusk
    moved = replace(
        day,
        dawn=replace(dawn, start=ClockTime(new_start), end=_moved(dawn.end, -by_s)),
        dusk=replace(
            dusk,
            end=ClockTime(new_end - (SECONDS_PER_DAY if crosses else 0)),
            start=_moved(dusk.start, by_s),
        ),
    )
    return moved if profile_of(moved) is not None else None


def scaled(day: Ramps, factor: float) -> Ramps:
    """Return a day whose peaks are multiplied by a factor."""
    return replace(day, peaks=tuple(replace(peak, light=peak.light * factor) for peak in day.peaks))


def with_lights(day: Ramps, lights: Lights) -> Ramps:
    """Return a day with other lights of its peaks.

    A peak that ends with another light than it begins with becomes two, with a line between them;
    a shape that is left out is linear.
    """
    peaks: list[Peak] = []
    for peak, (begin, end), (from_s, to_s) in zip(day.peaks, lights, plateaus_of(day), strict=True):
        peaks.append(replace(peak, light=begin))
        if end != begin:
            ramp = ClockTime(from_s % SECONDS_PER_DAY)
            peaks.append(Peak(light=end, ramp_start=ramp, ramp_s=to_s - from_s))
    return replace(day, peaks=tuple(peaks))


def _second(time: TimeOfDay) -> int:
    assert isinstance(time, ClockTime), "what may move goes by the clock"
    return time.second


def _moved(time: TimeOfDay | None, by_s: int) -> ClockTime | None:
    return None if time is None else ClockTime((_second(time) + by_s) % SECONDS_PER_DAY)


def _length(length_s: int | None, start: int, end: TimeOfDay | None) -> int:
    if length_s is not None:
        return length_s
    assert end is not None
    return (_second(end) - start) % SECONDS_PER_DAY


def steps_that_fit(day: Ramps, step_s: int, wanted: Sequence[int]) -> tuple[int, int]:
    """Return by how many steps the ends can move, least and most, within what is wanted.

    The interval is empty, its least above its most, if there is no such day.
    """
    least, most = wanted
    low = high = 0
    while high < most and longer(day, (high + 1) * step_s) is not None:
        high += 1
    while low > least and longer(day, (low - 1) * step_s) is not None:
        low -= 1
    return max(low, least), min(high, most)
