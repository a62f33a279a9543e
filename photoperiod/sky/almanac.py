"""The sky as a plan sees it: events and light in seconds that pass from the midnight of a date.

The sky may be that of another place, moved in time by a fixed number of seconds: everything that
happens there at an instant happens here that much later.
"""

from __future__ import annotations

import bisect
import datetime as dt
import functools
from dataclasses import dataclass, field

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.sky.clock import REFERENCE_UNIX_S, Clock
from photoperiod.sky.kinds import SunModel
from photoperiod.sky.moon import Moon, phase_angle_deg, phase_brightness
from photoperiod.sky.sun import EVENTS, SECONDS_PER_DEGREE, Sun, light_of_altitude
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Events are looked for this long at a time [days].
CHUNK_DAYS = 64

#: A sunrise or dawn is looked for so long before noon, a sunset or dusk after it [s]; near the poles
#: also so long on the other side.
MORNING_S = 15 * SECONDS_PER_HOUR
LATE_S = 3 * SECONDS_PER_HOUR

#: Less is the noise of sums, not light [fraction of full].
NO_LIGHT = 1e-9

#: What a plan gets of the sky is rounded here to so many parts of a degree or of full, so that no table
#: hangs on the last bits of libraries, which differ from one processor to another. The moon moves by
#: 1/500 deg in 14 s, and its light changes by 0.024 % at most; 1/500,000 of the sun is an eighth of a step of
#: 16 bits. Events are whole seconds. Over the 365 nights and 525,600 minutes of 2027, what ARM64 and x86-64
#: give differs by 4.5e-12 deg and by 3.1e-18 in the mean (numpy 2.4.6, ephem 4.2.1): that some number of a
#: year is rounded to another part has a chance of 8e-7 by the moon, and of 8e-7 by the sun.
PHASES_PER_DEGREE = 500
PARTS_OF_SUNLIGHT = 500_000

#: The faintest moon gives 0.00028 of a full one; powers differ in their last bit only.
PARTS_OF_MOONLIGHT = 10**9


@dataclass(frozen=True, slots=True)
class Almanac:
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

    def midnight(self, date: dt.date) -> int:
        """Return the instant at which a date begins. [Unix seconds]

        Times of a date are counted in seconds that pass from it, so that each is one instant, also
        where the plan's clock changes.
        """
        return self.clock.day_bounds(date)[0]

    def at_clock(self, date: dt.date, second: int) -> int:
        """Return when the plan's clock shows a second of a date, or of a date days off. [s]

        In a gap the offset before it counts, in a fold the first occurrence.
        """
        day, second_of_day = divmod(second, SECONDS_PER_DAY)
        unix = self.clock.unix_of(date + dt.timedelta(days=day), second_of_day)
        return unix - self.midnight(date)

    def noon_of(self, date: dt.date) -> int:
        """Return the noon of the sun that belongs to a date: one and only one for each. [s]

        It is the one nearest to the mean noon, which is reckoned without the changes of the clock.
        Where noon is about midnight it may lie minutes outside the date.
        """
        clock_s = self.shift_s + self.clock.offset_s(REFERENCE_UNIX_S)
        east_s = round(self.sun.longitude_deg * SECONDS_PER_DEGREE)
        mean_s = (SECONDS_PER_DAY // 2 - east_s + clock_s) % SECONDS_PER_DAY
        target = self.midnight(date) + mean_s
        half = SECONDS_PER_DAY // 2
        noons = self.instants("noon", target - half, target + half + 1)
        return min(noons, key=lambda unix: abs(unix - target)) - self.midnight(date)

    def event_of(self, name: str, date: dt.date) -> int | None:
        """Return when an event of the sun belongs to a date, None if there is none. [s]

        A date has one noon, the last sunrise or dawn before it, and the first sunset or dusk after
        it, on whatever side of midnight they fall. Near the poles the sun may rise, or set, a little
        on the other side of noon.
        """
        noon = self.noon_of(date)
        if name == "noon":
            return noon
        here = self.midnight(date)
        before = here + noon - MORNING_S, here + noon
        after = here + noon, here + noon + MORNING_S
        if EVENTS[name.replace(" ", "-")][1]:
            found = self.instants(name, *before)[-1:]
            found = found or self.instants(name, after[0], after[0] + LATE_S)[:1]
        else:
            found = self.instants(name, *after)[:1]
            found = found or self.instants(name, before[1] - LATE_S, before[1])[-1:]
        return found[0] - here if found else None

    def is_above(self, name: str, date: dt.date) -> bool:
        """Return whether the sun is above the height of an event at the noon of a date."""
        noon = np.array([float(self.midnight(date) + self.noon_of(date) - self.shift_s)])
        return bool(self.sun.altitude_deg(noon)[0] > EVENTS[name.replace(" ", "-")][0])

    def shown(self, name: str, date: dt.date) -> list[int]:
        """Return when the plan's clock shows an event of sun or moon on a date, in the order it happens.

        In seconds of the day that the clock shows; empty if it does not happen. [s]
        """
        begin, end = self.clock.day_bounds(date)
        return [self.clock.wall_of(unix)[1] for unix in self.instants(name, begin, end)]

    def instants(self, name: str, begin_unix_s: int, end_unix_s: int) -> list[int]:
        """Return the instants of an event of sun or moon in [begin, end), in order. [Unix seconds]"""
        size = CHUNK_DAYS * SECONDS_PER_DAY
        first, last = begin_unix_s // size, (end_unix_s - 1) // size
        found: list[int] = []
        for chunk in range(first, last + 1):
            if (name, chunk) not in self._known:
                self._known[name, chunk] = self._find(name, chunk * size, (chunk + 1) * size)
            found += self._known[name, chunk]
        first_at, stop_at = (bisect.bisect_left(found, each) for each in (begin_unix_s, end_unix_s))
        return found[first_at:stop_at]

    def _find(self, name: str, begin_unix_s: int, end_unix_s: int) -> list[int]:
        """Return the same, looked for in the sky: all of a chunk at once. [Unix seconds]"""
        there = begin_unix_s - self.shift_s, end_unix_s - self.shift_s
        if name == "moonrise":
            instants = self.moon.rises(*there)
        elif name == "moonset":
            instants = self.moon.sets(*there)
        else:
            instants = self.sun.events(name.replace(" ", "-"), *there)
        return sorted(round(unix) + self.shift_s for unix in instants)

    def highest_deg(self, date: dt.date) -> float:
        """Return the sun's geometric altitude at its noons on a date, the highest; 0 without one. [°]"""
        noons = np.array(self.instants("noon", *self.clock.day_bounds(date)), dtype=np.float64)
        return float(self.sun.altitude_deg(noons - self.shift_s).max()) if noons.size else 0.0

    def sunlight(self, date: dt.date, model: SunModel, step_s: int, *, of_year: bool) -> Floats:
        """Return light by the sun from midnight to midnight, 1 at the peak of the year or the day.

        A sample every ``step_s``, the last at or after the midnight that ends the date; in whole
        `PARTS_OF_SUNLIGHT`. [fraction]
        """
        begin, end = self.clock.day_bounds(date)
        year = date.year if of_year else None
        return _sunlight(self.sun, begin - self.shift_s, end - self.shift_s, model, step_s, year)

    def phase_angle_deg(self, date: dt.date, second: int) -> float:
        """Return the moon's phase angle at a second from the midnight of a date, 0 at full moon. [°]

        In whole `PHASES_PER_DEGREE`.
        """
        unix = np.array([float(self.midnight(date) + second - self.shift_s)])
        return float(_rounded(phase_angle_deg(unix), PHASES_PER_DEGREE)[0])

    def moonlight(self, date: dt.date, second: int) -> float:
        """Return the brightness of the moon's phase beside the full moon's. [fraction]"""
        brightness = phase_brightness(np.array(self.phase_angle_deg(date, second)))
        return float(_rounded(brightness, PARTS_OF_MOONLIGHT))

    def moon_up(self, date: dt.date, start: int, end: int) -> list[tuple[int, int]]:
        """Return from when to when the moon is up between two times from the midnight of a date. [s]"""
        here = self.midnight(date)
        spans = self._up("moonrise", "moonset", here + start, here + end)
        return [(begin - here, stop - here) for begin, stop in spans]

    def sun_up_s(self, date: dt.date) -> int:
        """Return for how long the sun is up on a date, from sunrise to sunset. [s]"""
        spans = self._up("sunrise", "sunset", *self.clock.day_bounds(date))
        return sum(stop - begin for begin, stop in spans)

    def _up(
        self, rise: str, set_: str, begin_unix_s: int, end_unix_s: int
    ) -> list[tuple[int, int]]:
        """Return from when to when something is up within [begin, end), in order. [Unix seconds]"""
        turns = [(unix, True) for unix in self.instants(rise, begin_unix_s, end_unix_s)]
        turns += [(unix, False) for unix in self.instants(set_, begin_unix_s, end_unix_s)]
        turns.sort()
        middle = np.array([(begin_unix_s + end_unix_s) / 2 - self.shift_s])
        up = self.moon.is_up if rise == "moonrise" else self.sun.is_up
        is_up = not turns[0][1] if turns else bool(up(middle)[0])
        spans, since = [], begin_unix_s
        for unix, rises in turns:
            if is_up and not rises and unix > since:
                spans.append((since, unix))
            since, is_up = unix, rises
        return [*spans, (since, end_unix_s)] if is_up and end_unix_s > since else spans


@functools.lru_cache(maxsize=16)  # most channels of a tank follow one sun
def _sunlight(
    sun: Sun, begin: int, end: int, model: SunModel, step_s: int, year: int | None
) -> Floats:
    """Return light by the sun from one instant to another, 1 at the peak of a year or of these samples.

    It is for reading only. [fraction]
    """
    light = light_of_altitude(
        sun.altitude_deg(np.arange(begin, end + step_s, step_s, dtype=np.float64)), model
    )
    most = float(light.max(initial=0.0))
    if year is not None:
        highest_deg = sun.highest_of_year_deg(year)
        most = float(light_of_altitude(np.array([highest_deg]), model)[0])
    share = np.minimum(light / most, 1.0) if most > NO_LIGHT else np.zeros(light.shape)
    share = _rounded(share, PARTS_OF_SUNLIGHT)
    share.setflags(write=False)
    return share


def _rounded(values: Floats, parts: int) -> Floats:
    """Return the whole parts of one that are nearest to some values, in their shape and unit."""
    return np.asarray(np.rint(values * parts) / parts)
