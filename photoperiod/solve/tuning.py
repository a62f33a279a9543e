"""Tune proposed days on the levels that the controller has, so that the doses of their tables are met.

Each peak is put on a level of its channel. Then both ends of each peak, and both ends of each day, move by
single counts and steps, always the one that helps most. Doses are told beforehand from the days in closed
form, and from what the last tables gave beyond theirs.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.schedule.day_plan import Ramps
from photoperiod.schedule.model import Schedule
from photoperiod.solve.moved_day import Lights, longer, plateaus_of, profile_of, with_lights
from photoperiod.solve.movers import Mover
from photoperiod.solve.proposal import Known, State
from photoperiod.solve.trial import off_by
from photoperiod.units import UMOL_PER_MOL

#: Light is written with so many decimals of a percent, rounded up so that its level is not above it.
DECIMALS = 4

#: An end of a peak moves at most so many counts from what was proposed: colours stay.
MOST_COUNTS = 1

#: Moves that are tried one after the other.
MOST_MOVES = 60

#: Doses are brought to this share of what they may be off by, so that tables have some room.
AIM = 0.5


@dataclass(frozen=True, slots=True)
class Setting:
    """The day of a channel: steps of its ends, and the counts at which each peak begins and ends.

    Part of a count lies on the line between two levels: the peak then stays on the nearest level, but rows of
    ramps may go to others.
    """

    steps: int
    counts: tuple[tuple[float, float], ...]


class Tuning:
    """Tunes days on the controller's levels.

    Parameters
    ----------
    schedule, movers, known : Schedule, mapping of channel to Mover, Known
        What may move, and what the last tables taught.
    within : mapping of zone to float
        How far doses may be outside what zones ask for. [mol m⁻² d⁻¹]
    part : float
        Ends of peaks move by this part of a count.
    """

    def __init__(
        self,
        schedule: Schedule,
        movers: Mapping[str, Mover],
        known: Known,
        within: Mapping[str, float],
        part: float = 1.0,
    ) -> None:
        self.schedule, self.movers, self.known = schedule, movers, known
        self.within, self.part = within, part
        self.fixed = {
            zone: sum(
                self._ppfd(id, zone) * float(known.light[id].sum())
                for id in schedule.channels
                if id not in movers
            )
            for zone in schedule.zones
        }
        self._light_s: dict[tuple[str, Setting], float] = {}

    def snapped(self, state: State) -> dict[str, Setting]:
        """Return the settings that are nearest to what is proposed."""
        return {id: self._snapped(mover, state) for id, mover in self.movers.items()}

    def tuned(
        self,
        first: Mapping[str, Setting],
        is_known: Callable[[Mapping[str, Setting]], bool],
    ) -> Mapping[str, Setting]:
        """Return settings near the first ones that meet the doses best, but for known ones."""
        now, best = first, self._off(first)
        seen: list[tuple[float, Mapping[str, Setting]]] = [(best, first)]
        for _ in range(MOST_MOVES):
            if best <= AIM and not is_known(now):
                break
            tried: list[tuple[float, Mapping[str, Setting]]] = [
                (self._off(each), each) for each in self._neighbours(now, first)
            ]
            seen += tried
            fresh = [pair for pair in tried if not is_known(pair[1])]
            if not fresh:
                break
            off, each = min(fresh, key=lambda pair: pair[0])
            if off >= best and not is_known(now):
                break
            now, best = each, off
        if not is_known(now):
            return now
        fresh = [pair for pair in seen if not is_known(pair[1])]
        return min(fresh, key=lambda pair: pair[0])[1] if fresh else now

    def days(self, settings: Mapping[str, Setting]) -> dict[str, Ramps]:
        """Return the days of some settings."""
        found = {}
        for id, setting in settings.items():
            day = self._day(self.movers[id], setting)
            assert day is not None, "settings without a day are never taken"
            found[id] = day
        return found

    def planned_s(self, id: str, setting: Setting) -> float:
        """Return the light of a day as it is planned, infinite if there is no such day. [s at full]"""
        if (id, setting) not in self._light_s:
            day = self._day(self.movers[id], setting)
            profile = None if day is None else profile_of(day)
            self._light_s[id, setting] = math.inf if profile is None else profile.integral()
        return self._light_s[id, setting]

    def _ppfd(self, id: str, zone: str) -> float:
        ppfd = self.schedule.channels[id].full_ppfd.get(zone, 0.0)
        return ppfd * self.known.brightness.get(id, 1.0) / UMOL_PER_MOL

    def _snapped(self, mover: Mover, state: State) -> Setting:
        factor = state.factors[mover.group]
        lights = np.array([peak.light * factor for peak in mover.day.peaks])
        counts = mover.path.nearest_counts(lights)
        lit = [int(count) if light > 0 else 0 for count, light in zip(counts, lights, strict=True)]
        return Setting(state.steps[mover.id], tuple((count, count) for count in lit))

    def _neighbours(
        self, now: Mapping[str, Setting], first: Mapping[str, Setting]
    ) -> Iterator[dict[str, Setting]]:
        """Yield the settings that differ by one count at one end of a peak, or one step of a day."""
        for id, mover in self.movers.items():
            setting = now[id]
            for by in (-1, 1):
                if mover.steps[0] <= setting.steps + by <= mover.steps[1]:
                    yield self._with(now, id, replace(setting, steps=setting.steps + by))
            if mover.factors[0] == mover.factors[1]:
                continue
            plateaus = plateaus_of(mover.day)
            parts = (-self.part, self.part)
            for at, part in itertools.product(range(len(setting.counts)), parts):
                begin, end = setting.counts[at]
                if not mover.day.peaks[at].light:
                    continue
                moved = [(begin + part, end + part)]
                if plateaus[at][1] > plateaus[at][0]:
                    moved += [(begin + part, end), (begin, end + part)]
                for pair in moved:
                    if self._is_allowed(mover, at, pair, first[id].counts[at][0]):
                        counts = (*setting.counts[:at], pair, *setting.counts[at + 1 :])
                        yield self._with(now, id, replace(setting, counts=counts))

    def _with(self, now: Mapping[str, Setting], id: str, setting: Setting) -> dict[str, Setting]:
        return {**now, id: setting}

    def _is_allowed(self, mover: Mover, at: int, pair: tuple[float, float], near: float) -> bool:
        """Return whether both ends of a peak are near what was proposed, apart by a count, in bounds."""
        if abs(pair[0] - pair[1]) > 1:
            return False
        low, high = (factor * mover.day.peaks[at].light for factor in mover.factors)
        return all(
            mover.path.first_lit_count <= count <= mover.path.top_count
            and abs(count - near) <= MOST_COUNTS
            and low - 1e-9 <= _light_at(mover, count) <= high + 1e-9
            for count in pair
        )

    def _day(self, mover: Mover, setting: Setting) -> Ramps | None:
        day = longer(mover.day, setting.steps * mover.step_s) if setting.steps else mover.day
        if day is None:
            return None
        lights: Lights = tuple(
            (self._light(mover, begin, at), self._light(mover, end, at))
            for at, (begin, end) in enumerate(setting.counts)
        )
        return with_lights(day, lights)

    def _light(self, mover: Mover, count: float, at: int) -> float:
        if not mover.day.peaks[at].light:
            return 0.0
        scale = 10**DECIMALS
        percent = _light_at(mover, count) * 100
        shown = math.ceil(percent * scale - 1e-6) / scale
        return float(min(shown, 100.0)) / 100

    def _off(self, settings: Mapping[str, Setting]) -> float:
        """Return how far doses are outside what zones ask for, beside what is allowed; the worst."""
        worst = 0.0
        for zone in self.schedule.zones.values():
            dose = self.fixed[zone.id] + sum(
                self._ppfd(id, zone.id) * (self.planned_s(id, each) + self.known.bias_s[id])
                for id, each in settings.items()
            )
            for asked in (zone.wanted_dli, zone.dli_band):
                if asked is not None:
                    allowed = max(self.within.get(zone.id, 0.0), 1e-9)
                    worst = max(worst, abs(off_by(dose, asked)) / allowed)
        return worst


def _light_at(mover: Mover, count: float) -> float:
    """Return the light at a count, on the line between levels. [fraction of full]"""
    ladder, whole = mover.path.burning_light, math.floor(count)
    if whole == count:
        return float(ladder[whole])
    return float(ladder[whole] + (count - whole) * (ladder[whole + 1] - ladder[whole]))
