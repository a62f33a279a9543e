"""The controller's clock beside the times of a log: right, off, drifting, or set meanwhile.

The log is shifted in time against the table; the shift that fits best is by how much the controller plays
ahead of the log's times. Which of the two clocks is wrong, a log can't tell.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.compare.expected import Expected, LoggedLight, date_of_day
from photoperiod.compare.model import Finding
from photoperiod.text import hours_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Light that moves by less than this in a day says nothing about the clock [fraction of full]. Our
#: choice.
MIN_MOVE = 0.10

#: A clock is off if a shift leaves less than this fraction of the deviation. Our choice, no source.
LEFT_FRACTION = 0.5

#: A mean deviation up to this is as good as none: no other shift is tried [fraction of full].
GOOD_ENOUGH = 0.005

#: The shifts that are tried for each date [s]: near ones first, all of a day if none of them fits.
_NEAR, _FAR = range(-300, 301, 60), range(-43_200, 43_201, 300)

#: At most so many dates are searched far, with so many points of a series. It limits the time only.
MAX_FAR, MAX_POINTS = 60, 2_000

#: A clock that gains or loses more than this in a day was set: no clock drifts so fast. [s]
MAX_DRIFT_S = 1_800

#: What findings add: the shift alone does not say whose clock is wrong.
WHOSE = ", or the log's times are off the other way: look at both clocks"

#: Shifts that differ by no more than this are the same. [s]
SAME_S = 60.0


@dataclass(frozen=True, slots=True)
class ClockShift:
    """By how much the controller's clock is ahead of the times of a log.

    Parameters
    ----------
    from_unix_s, shifts_s : ndarray, shape (n,)
        The shift [s] that holds from each instant on [Unix seconds].
    per_s : float
        By how much the first shift grows with time, for a clock that drifts. [s/s]
    doubt_s : float
        How far the shift itself may be wrong: so much earlier or later may records be, too. [s]
    """

    from_unix_s: Floats
    shifts_s: Floats
    per_s: float = 0.0
    doubt_s: float = 0.0

    def at(self, unix_s: Floats) -> Floats:
        """Return the shift at instants. [s]"""
        if self.per_s:
            drift: Floats = self.shifts_s[0] + (unix_s - self.from_unix_s[0]) * self.per_s
            return drift
        index = np.searchsorted(self.from_unix_s, unix_s, side="right") - 1
        return self.shifts_s[np.maximum(index, 0)]


RIGHT = ClockShift(np.zeros(1), np.zeros(1))


def find_clock(
    expected: Expected, lights: Iterable[LoggedLight], within_s: float
) -> tuple[ClockShift, Finding | None]:
    """Return how far the controller's clock is ahead of a log, and PHO604 or PHO611 unless it is right.

    Parameters
    ----------
    expected : Expected
        The replay of the table.
    lights : iterable of LoggedLight
        The log.
    within_s : float
        A clock that is off by no more than this is right. [s]
    """
    begins: list[float] = []
    middles: list[float] = []
    found: list[float] = []
    far = 0
    for parts in _dates(expected, lights):
        last = found[-1] if found else 0.0
        shift, searched = _shift_of(parts, last, may_search=far < MAX_FAR)
        far += searched
        begins.append(min(float(part.unix_s[0]) for part in parts))
        middles.append(float(np.mean([part.unix_s.mean() for part in parts])))
        found.append(shift)
    if not found:
        return RIGHT, None
    instants = np.array(begins)
    shifts = np.unwrap(np.array(found), period=SECONDS_PER_DAY)
    if np.abs(shifts).max() <= within_s:
        return RIGHT, None
    drift = _drift(np.array(middles), shifts, within_s)
    if drift is not None:
        return drift, Finding("PHO611", "", _drift_text(drift, middles[-1]))
    if np.ptp(shifts) <= SAME_S:
        off = float(np.median(shifts))
        ahead = _ahead_text(off, "the log's times")
        text = f"the controller's clock is {ahead}{WHOSE}{_reason(off)}"
        return ClockShift(instants[:1], np.array([off]), 0.0, SAME_S), Finding("PHO604", "", text)
    shifts = np.where(np.abs(shifts) <= within_s, 0.0, shifts)
    text = _steps_text(expected, instants, shifts)
    return ClockShift(instants, shifts, 0.0, SAME_S), Finding("PHO604", "", text)


def _dates(expected: Expected, lights: Iterable[LoggedLight]) -> Iterator[list[LoggedLight]]:
    """Yield the lights that move on each date of the controller's clock, cut to that date."""
    by_day = [(one, *np.unique(expected.local(one.unix_s)[0], return_index=True)) for one in lights]
    for day in sorted({int(day) for _, own, _ in by_day for day in own}):
        parts = []
        for one, own, begins in by_day:
            at = int(np.searchsorted(own, day))
            if at == own.size or own[at] != day:
                continue
            here = slice(begins[at], begins[at + 1] if at + 1 < own.size else None)
            step = max(one.unix_s[here].size // MAX_POINTS, 1)
            part = one.part(slice(here.start, here.stop, step))
            if part.values.size > 1 and np.ptp(part.values) > MIN_MOVE * one.scale:
                parts.append(part)
        if parts:
            yield parts


def _shift_of(
    lights: Sequence[LoggedLight], last: float, *, may_search: bool
) -> tuple[float, bool]:
    """Return by how much the clock is ahead on a date, and whether all shifts of a day were tried."""
    at_once = _deviation(lights, 0.0)
    shift = min((_refined(lights, near) for near in {0.0, last}), key=lambda s: _key(lights, s))
    left = _deviation(lights, shift)
    searched = may_search and left > GOOD_ENOUGH * len(lights)
    if searched:
        other = _refined(lights, min(_FAR, key=lambda s: _key(lights, s)))
        if _deviation(lights, other) < LEFT_FRACTION * left:
            shift, left = other, _deviation(lights, other)
    better = left <= LEFT_FRACTION * at_once or at_once <= GOOD_ENOUGH * len(lights)
    return (shift if better else 0.0), searched


def _refined(lights: Sequence[LoggedLight], shift: float) -> float:
    near = min((shift + more for more in _NEAR), key=lambda s: _key(lights, s))
    return min((near + more for more in range(-60, 61, 5)), key=lambda s: _key(lights, s))


def _key(lights: Sequence[LoggedLight], shift: float) -> tuple[float, float]:
    return round(_deviation(lights, shift), 9), abs(shift)


def _deviation(lights: Sequence[LoggedLight], shift: float) -> float:
    """Return the mean distance of lights from the replay at shifted instants. [fractions of full]"""
    return sum(
        float(np.abs(one.values - one.expected(one.unix_s + shift)).mean()) / one.scale
        for one in lights
    )


def _drift(instants: Floats, shifts: Floats, within_s: float) -> ClockShift | None:
    """Return a clock that gains or loses evenly; None if the dates do not show one.

    The slope is the median of the slopes between any two dates (Theil 1950, Sen 1968; from memory), so
    that a date which is cut short does not spoil it.
    """
    if shifts.size < 2:
        return None
    pairs = itertools.combinations(range(0, shifts.size, -(-shifts.size // 60)), 2)
    slope = float(
        np.median([(shifts[b] - shifts[a]) / (instants[b] - instants[a]) for a, b in pairs])
    )
    moved = slope * float(instants[-1] - instants[0])
    if abs(moved) < within_s or abs(slope) * SECONDS_PER_DAY > MAX_DRIFT_S:
        return None
    begin = float(np.median(shifts - slope * (instants - instants[0])))
    rest = np.abs(shifts - begin - slope * (instants - instants[0]))
    if np.median(rest) > 15.0 + abs(moved) / 20 or rest.max() > max(SAME_S, abs(moved) / 4):
        return None
    return ClockShift(instants[:1], np.array([begin]), slope, SAME_S + float(rest.max()))


def _drift_text(drift: ClockShift, last_unix_s: float) -> str:
    per_day = drift.per_s * SECONDS_PER_DAY
    off = float(drift.at(np.array([last_unix_s]))[0])
    gains = "gains" if per_day > 0 else "loses"
    return (
        f"by the log's times the controller's clock {gains} {abs(per_day):.0f} s a day; by the last date it"
        f" is {_ahead_text(off, 'them')}{WHOSE}"
    )


def _steps_text(expected: Expected, instants: Floats, shifts: Floats) -> str:
    """Return the text for a clock that was set: from which date on it was off by how much."""
    days = expected.local(instants)[0]
    runs = [0, *(n for n in range(1, shifts.size) if abs(shifts[n] - shifts[n - 1]) > SAME_S)]
    changes = [f"{date_of_day(int(days[n]))} {_ahead_text(float(shifts[n]))}" for n in runs[:4]]
    more = ", …" if len(runs) > 4 else ""
    worst = float(shifts[np.abs(shifts).argmax()])
    return (
        "a clock was set meanwhile; beside the log's times the controller's clock was from"
        f" {', from '.join(changes)}{more}{WHOSE}{_reason(worst)}"
    )


def _ahead_text(off_s: float, of: str = "") -> str:
    """Return by how much a clock is ahead of, or behind, what it is held against."""
    if abs(off_s) < 1:
        return "right"
    ahead = "ahead of" if of else "ahead"
    return f"{hours_text(abs(off_s))} {ahead if off_s > 0 else 'behind'} {of}".rstrip()


def _reason(off_s: float) -> str:
    hours = off_s / SECONDS_PER_HOUR
    if abs(hours) > 0.4 and abs(hours * 2 - round(hours * 2)) < 0.02:
        return "; whole or half hours: summer time, or another zone than the table's?"
    return ""
