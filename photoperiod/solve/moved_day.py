"""A day of ramps with other lights and other ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from photoperiod.curves.curve import Profile
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.day_plan import ClockTime, Ramps, TimeOfDay
from photoperiod.schedule.day_rules import ClockTimes, DayRules
from photoperiod.schedule.findings import Findings
from photoperiod.units import SECONDS_PER_DAY


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


def with_lights(day: Ramps, lights: Sequence[float]) -> Ramps:
    """Return a day with other lights of its peaks, each held as long as before. [fraction of full]"""
    peaks = zip(day.peaks, lights, strict=True)
    return replace(day, peaks=tuple(replace(peak, light=light) for peak, light in peaks))


def _second(time: TimeOfDay) -> int:
    assert isinstance(time, ClockTime), "what may move goes by the clock"
    return time.second


def _moved(time: TimeOfDay | None, by_s: int) -> ClockTime | None:
    return None if time is None else ClockTime((_second(time) + by_s) % SECONDS_PER_DAY)


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
