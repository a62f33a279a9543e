"""The sky as a plan sees it: events and light in seconds from the midnight of a date.

The sky may be that of another place, moved in time by a fixed number of seconds: everything that
happens there at an instant happens here that much later.
"""

from __future__ import annotations

import bisect
import datetime as dt
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from photoperiod.sky.clock import Clock
from photoperiod.sky.moon import Moon, phase_brightness
from photoperiod.sky.sun import HORIZON_DEG, Sun, light_of_altitude
from photoperiod.units import SECONDS_PER_DAY

Floats = NDArray[np.float64]

#: Events are looked for this long at a time [days].
CHUNK_DAYS = 64

#: An altitude that gives no light at all [°].
DARK_DEG = 0.0


@dataclass(frozen=True, slots=True)
class Sky:
    """A sun, a moon, and the clock of the plan.

    Parameters
    ----------
    sun, moon : Sun, Moon
        Those of the place, or of a borrowed one.
    clock : Clock
        What the times of the plan mean.
    shift_s : int
        How much later than there everything happens here. [s]
    """

    sun: Sun
    moon: Moon
    clock: Clock
    shift_s: int = 0
    _known: dict[tuple[str, int], list[int]] = field(
        default_factory=dict, repr=False, compare=False
    )

    def unix_of(self, date: dt.date, seconds: Floats) -> Floats:
        """Return instants of seconds from the midnight of a date, which may lie days off. [s]

        In a gap of the plan's clock the offset before it counts, in a fold the first occurrence.
        """
        result = np.empty(seconds.shape)
        days = np.floor(seconds / SECONDS_PER_DAY).astype(np.int64)
        for day in np.unique(days).tolist():
            inside = days == day
            result[inside] = self._unix_of(
                date + dt.timedelta(days=day), seconds[inside] - day * SECONDS_PER_DAY
            )
        return result

    def _unix_of(self, date: dt.date, seconds: Floats) -> Floats:
        midnight = self.clock.unix_of(date, 0)
        unix = midnight + seconds
        begin, end = self.clock.day_bounds(date)
        for change in self.clock.changes(begin, end):
            moved = change.after_s - change.before_s
            late = seconds >= change.at_unix_s - midnight + max(moved, 0)
            unix = np.where(late, unix - moved, unix)
        return unix

    def second_of(self, date: dt.date, unix_s: float) -> int:
        """Return an instant in seconds from the midnight of a date, on the plan's clock."""
        day, second = self.clock.wall_of(round(unix_s))
        return (day - date).days * SECONDS_PER_DAY + second

    def events(self, name: str, date: dt.date) -> list[int]:
        """Return when an event of the sun, moonrise or moonset happens on a date and the next.

        In rising seconds from the midnight of the date; empty if it does not happen.
        """
        begin = self.clock.day_bounds(date)[0]
        end = self.clock.day_bounds(date + dt.timedelta(days=1))[1]
        return [self.second_of(date, unix) for unix in self._between(name, begin, end)]

    def _between(self, name: str, begin: int, end: int) -> list[int]:
        """Return the instants of an event in [begin, end), from what is known. [s]"""
        size = CHUNK_DAYS * SECONDS_PER_DAY
        first, last = begin // size, (end - 1) // size
        found: list[int] = []
        for chunk in range(first, last + 1):
            if (name, chunk) not in self._known:
                self._known[name, chunk] = self._find(name, chunk * size, (chunk + 1) * size)
            found += self._known[name, chunk]
        return found[bisect.bisect_left(found, begin) : bisect.bisect_left(found, end)]

    def _find(self, name: str, begin: int, end: int) -> list[int]:
        there = begin - self.shift_s, end - self.shift_s
        if name == "moonrise":
            instants = self.moon.rises(*there)
        elif name == "moonset":
            instants = self.moon.sets(*there)
        else:
            instants = self.sun.events(name.replace(" ", "-"), *there)
        return sorted(round(unix) + self.shift_s for unix in instants)

    def sun_altitude_deg(self, date: dt.date, seconds: Floats) -> Floats:
        """Return the sun's geometric altitude at seconds from the midnight of a date. [°]"""
        return self.sun.altitude_deg(self.unix_of(date, seconds) - self.shift_s)

    def sun_altitude_at(self, date: dt.date, second: int) -> float:
        """Return the sun's geometric altitude at a second of a date. [°]"""
        return float(self.sun_altitude_deg(date, np.array([float(second)]))[0])

    def sun_up_s(self, date: dt.date) -> int:
        """Return for how long the sun is up on a date, from sunrise to sunset. [s]"""
        begin, end = self.clock.day_bounds(date)
        turns = [(unix, True) for unix in self._between("sunrise", begin, end)]
        turns += [(unix, False) for unix in self._between("sunset", begin, end)]
        turns.sort()
        is_up = not turns[0][1] if turns else self._is_sun_up((begin + end) / 2)
        up_s, since = 0, begin
        for unix, rises in turns:
            if is_up and not rises:
                up_s += unix - since
            since, is_up = unix, rises
        return up_s + (end - since if is_up else 0)

    def _is_sun_up(self, unix_s: float) -> bool:
        altitude = self.sun.altitude_deg(np.array([unix_s - self.shift_s]))
        return bool(altitude[0] > HORIZON_DEG)

    def moon_altitude_deg(self, date: dt.date, seconds: Floats) -> Floats:
        """Return the moon's topocentric altitude at seconds from the midnight of a date. [°]"""
        return self.moon.altitude_deg(self.unix_of(date, seconds) - self.shift_s)

    def sunlight(self, date: dt.date, model: str, step_s: int, *, of_year: bool) -> Floats:
        """Return light by the sun from midnight to midnight, 1 at the peak of the year or the day.

        Shape (86400 / step_s + 1,). [fraction]
        """
        seconds = np.arange(0, SECONDS_PER_DAY + 1, step_s, dtype=np.float64)
        light = light_of_altitude(self.sun_altitude_deg(date, seconds), model)
        most = (
            float(light_of_altitude(np.array([self.sun.highest_of_year_deg(date.year)]), model)[0])
            if of_year
            else float(light.max())
        )
        return np.minimum(light / most, 1.0) if most > 0 else light

    def phase_angle_deg(self, date: dt.date, second: int) -> float:
        """Return the moon's phase angle, 0 at full moon. [°]"""
        unix = self.unix_of(date, np.array([float(second)])) - self.shift_s
        return float(self.moon.phase_angle_deg(unix)[0])

    def moonlight(self, date: dt.date, second: int) -> float:
        """Return the brightness of the moon's phase beside the full moon's. [fraction]"""
        return float(phase_brightness(np.array(self.phase_angle_deg(date, second))))

    def moon_up(self, date: dt.date, start: int, end: int) -> list[tuple[int, int]]:
        """Return from when to when the moon is up between two seconds of a date."""
        begin, stop = (
            int(unix) for unix in self.unix_of(date, np.array([start, end], dtype=np.float64))
        )
        turns = [(unix, True) for unix in self._between("moonrise", begin, stop)]
        turns += [(unix, False) for unix in self._between("moonset", begin, stop)]
        turns.sort()
        if turns:
            is_up = not turns[0][1]
        else:
            altitude = self.moon_altitude_deg(date, np.array([float(start + end) / 2]))
            is_up = bool(altitude[0] > DARK_DEG)
        spans, since = [], start
        for unix, rises in turns:
            second = self.second_of(date, unix)
            if rises:
                since = second
            elif is_up and second > since:
                spans.append((since, second))
            is_up = rises
        if is_up and end > since:
            spans.append((since, end))
        return spans
