"""The clock behind a log: right, off, drifting, or set meanwhile. Found by what fits the table best."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.compare.expected import Light, Plan, date_of_day
from photoperiod.text import hours_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: A light that moves by less than this in a day tells nothing of a clock [fraction of full]. Our choice.
MOVES = 0.10

#: A clock is off if shifting it leaves less than this share of the deviation. Our choice, no source.
CLOCK_SHARE = 0.5

#: A mean deviation up to this is as good as none: no other shift is looked for [fraction of full].
GOOD_ENOUGH = 0.005

#: How far around [s] and how finely a date is searched, at once and when nothing near fits.
_NEAR, _FAR = range(-300, 301, 60), range(-43_200, 43_201, 300)

#: No more dates are searched far, and no more points of a series are used.
MOST_FAR, MOST_POINTS = 60, 2_000

#: More than this a day is a clock that was set, not one that drifts. [s]
MOST_DRIFT_S = 1_800

#: Shifts this near to each other are one. [s]
SAME_S = 60.0


@dataclass(frozen=True, slots=True)
class ClockOff:
    """By how much the clock behind a log is ahead: from some instants on, and how that grows [s/s]."""

    from_unix_s: Floats
    shifts_s: Floats
    per_s: float = 0.0

    def at(self, unix_s: Floats) -> Floats:
        """Return it at instants. [s]"""
        if self.per_s:
            drift: Floats = self.shifts_s[0] + (unix_s - self.from_unix_s[0]) * self.per_s
            return drift
        index = np.searchsorted(self.from_unix_s, unix_s, side="right") - 1
        return self.shifts_s[np.maximum(index, 0)]


RIGHT = ClockOff(np.zeros(1), np.zeros(1))


def find_clock(plan: Plan, lights: Iterable[Light], within_s: float) -> tuple[ClockOff, str, str]:
    """Return the clock behind a log; the code of a finding and its words, empty if it is right.

    Parameters
    ----------
    plan : Plan
        What would have been done.
    lights : iterable of Light
        What was.
    within_s : float
        A clock that is off by no more is right. [s]
    """
    begins: list[float] = []
    middles: list[float] = []
    found: list[float] = []
    far = 0
    for parts in _dates(plan, lights):
        last = found[-1] if found else 0.0
        shift, searched = _shift_of(parts, last, may_search=far < MOST_FAR)
        far += searched
        begins.append(min(float(part.unix_s[0]) for part in parts))
        middles.append(float(np.mean([part.unix_s.mean() for part in parts])))
        found.append(shift)
    if not found:
        return RIGHT, "", ""
    instants = np.array(begins)
    shifts = np.unwrap(np.array(found), period=SECONDS_PER_DAY)
    if np.abs(shifts).max() <= within_s:
        return RIGHT, "", ""
    drift = _drift(np.array(middles), shifts, within_s)
    if drift is not None:
        return drift, "PHO611", _drift_words(drift, middles[-1])
    if np.ptp(shifts) <= SAME_S:
        off = float(np.median(shifts))
        return ClockOff(instants[:1], np.array([off])), "PHO604", (
            f"what was logged fits the table best with a clock {_words(off)}" + _reason(off)
        )  # fmt: skip
    shifts = np.where(np.abs(shifts) <= within_s, 0.0, shifts)
    return ClockOff(instants, shifts), "PHO604", _steps(plan, instants, shifts)


def _dates(plan: Plan, lights: Iterable[Light]) -> Iterator[list[Light]]:
    """Yield what moves on each date of the controller's clock."""
    by_day = [(one, *np.unique(plan.local(one.unix_s)[0], return_index=True)) for one in lights]
    for day in sorted({int(day) for _, own, _ in by_day for day in own}):
        parts = []
        for one, own, begins in by_day:
            at = int(np.searchsorted(own, day))
            if at == own.size or own[at] != day:
                continue
            here = slice(begins[at], begins[at + 1] if at + 1 < own.size else None)
            step = max(one.unix_s[here].size // MOST_POINTS, 1)
            part = replace(one, unix_s=one.unix_s[here][::step], values=one.values[here][::step])
            if part.values.size > 1 and np.ptp(part.values) > MOVES * one.scale:
                parts.append(part)
        if parts:
            yield parts


def _shift_of(lights: Sequence[Light], last: float, *, may_search: bool) -> tuple[float, bool]:
    """Return by how much the clock is ahead on a date, and whether it was searched for far away."""
    at_once = _deviation(lights, 0.0)
    shift = min((_refined(lights, near) for near in {0.0, last}), key=lambda s: _key(lights, s))
    left = _deviation(lights, shift)
    searched = may_search and left > GOOD_ENOUGH * len(lights)
    if searched:
        other = _refined(lights, min(_FAR, key=lambda s: _key(lights, s)))
        if _deviation(lights, other) < CLOCK_SHARE * left:
            shift, left = other, _deviation(lights, other)
    better = left <= CLOCK_SHARE * at_once or at_once <= GOOD_ENOUGH * len(lights)
    return (shift if better else 0.0), searched


def _refined(lights: Sequence[Light], shift: float) -> float:
    near = min((shift + more for more in _NEAR), key=lambda s: _key(lights, s))
    return min((near + more for more in range(-60, 61, 5)), key=lambda s: _key(lights, s))


def _key(lights: Sequence[Light], shift: float) -> tuple[float, float]:
    return round(_deviation(lights, shift), 9), abs(shift)


def _deviation(lights: Sequence[Light], shift: float) -> float:
    """Return how far lights are from the replay at shifted instants, on the mean. [fractions of full]"""
    return sum(
        float(np.abs(one.values - one.planned(one.unix_s + shift)).mean()) / one.scale
        for one in lights
    )


def _drift(instants: Floats, shifts: Floats, within_s: float) -> ClockOff | None:
    """Return a clock that gains or loses evenly, if the dates show one.

    The slope is the median of those between any two dates (Theil 1950, Sen 1968; from memory), so that
    a date which is cut short does not spoil it.
    """
    if shifts.size < 2:
        return None
    pairs = itertools.combinations(range(0, shifts.size, -(-shifts.size // 60)), 2)
    slope = float(
        np.median([(shifts[b] - shifts[a]) / (instants[b] - instants[a]) for a, b in pairs])
    )
    moved = slope * float(instants[-1] - instants[0])
    if abs(moved) < within_s or abs(slope) * SECONDS_PER_DAY > MOST_DRIFT_S:
        return None
    begin = float(np.median(shifts - slope * (instants - instants[0])))
    rest = np.abs(shifts - begin - slope * (instants - instants[0]))
    if np.median(rest) > 15.0 + abs(moved) / 20 or rest.max() > max(SAME_S, abs(moved) / 4):
        return None
    return ClockOff(instants[:1], np.array([begin]), slope)


def _drift_words(drift: ClockOff, last_unix_s: float) -> str:
    per_day = drift.per_s * SECONDS_PER_DAY
    off = float(drift.at(np.array([last_unix_s]))[0])
    gains = "gains" if per_day > 0 else "loses"
    return f"the clock {gains} {abs(per_day):.0f} s a day; by the last date it is {_words(off)}"


def _steps(plan: Plan, instants: Floats, shifts: Floats) -> str:
    """Return what to say of a clock that is off otherwise from some date on."""
    days = plan.local(instants)[0]
    runs = [0, *(n for n in range(1, shifts.size) if abs(shifts[n] - shifts[n - 1]) > SAME_S)]
    told = [f"{date_of_day(int(days[n]))} {_words(float(shifts[n]))}" for n in runs[:4]]
    more = ", …" if len(runs) > 4 else ""
    worst = float(shifts[np.abs(shifts).argmax()])
    return (
        f"the clock behind the log was set meanwhile: from {', from '.join(told)}{more}"
        + _reason(worst)
    )


def _words(off_s: float) -> str:
    if abs(off_s) < 1:
        return "right"
    return f"{hours_text(abs(off_s))} {'ahead' if off_s > 0 else 'behind'}"


def _reason(off_s: float) -> str:
    hours = off_s / SECONDS_PER_HOUR
    if abs(hours) > 0.4 and abs(hours * 2 - round(hours * 2)) < 0.02:
        return "; whole or half hours: summer time, or another zone than the table's?"
    return ""
