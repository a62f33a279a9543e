"""Tune proposed days by small steps, so that the doses of their tables are met.

All peaks of the channels that keep their ratio move by one factor, so that ratio and plateau stay. Factors
move by halves of a level, and ends of days by single steps, always those that help most. Doses are told
beforehand from the days in closed form, each peak on the level that is nearest to it, and from what the last
tables gave beyond that.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.schedule.day_plan import Ramps
from photoperiod.schedule.found_text import LIGHT_DECIMALS
from photoperiod.schedule.model import Schedule
from photoperiod.solve.moved_day import profile_of, with_lights
from photoperiod.solve.movers import Mover, groups_of
from photoperiod.solve.proposal import Known, State
from photoperiod.solve.trial import SLACK, off_by
from photoperiod.units import UMOL_PER_MOL

#: Peaks move by halves of a level: at a level its table is level, and between two it may begin on one and end
#: on the other. They move at most so many halves from what was proposed.
MOST_HALVES = 3

#: Light that differs by less is the same [fraction of full].
SAME_LIGHT = 1e-6

#: Moves that are tried one after the other.
MOST_MOVES = 60

#: Doses are brought to this share of what they may be off by, so that tables have some room.
AIM = 0.5


#: What tells days apart.
_Key = tuple[tuple[tuple[str, float], ...], tuple[tuple[str, int], ...]]


class Tuning:
    """Tunes days by parts of the controller's levels.

    Parameters
    ----------
    schedule, movers, known : Schedule, mapping of channel to Mover, Known
        What may move, and what the last tables taught.
    within : mapping of zone to float
        How far doses may be outside what zones ask for. [mol m⁻² d⁻¹]
    last : mapping of channel to Ramps
        The days of the last tables.
    moves_ends : bool
        Whether ends of days move although light may.
    moves_light : bool
        Whether light moves.
    """

    def __init__(
        self,
        schedule: Schedule,
        movers: Mapping[str, Mover],
        known: Known,
        within: Mapping[str, float],
        last: Mapping[str, Ramps],
        *,
        moves_ends: bool = False,
        moves_light: bool = True,
    ) -> None:
        self.schedule, self.movers, self.known = schedule, movers, known
        self.within = within
        self.bounds = groups_of(movers)
        self.has_light = any(low < high for low, high in self.bounds.values())
        self.moves_ends = moves_ends or not self.has_light
        self.moves_light = moves_light
        self.fixed = {
            zone: sum(
                self._ppfd(id, zone) * float(known.light[id].sum())
                for id in schedule.channels
                if id not in movers
            )
            for zone in schedule.zones
        }
        # Of light that stays the last table is known: no other half of a level is expected of the next one.
        self.halves = {
            id: _halves(mover) if moves_light else _levels(mover) for id, mover in movers.items()
        }
        self.beyond_s = {
            id: float(known.light[id].sum()) - _planned_s(last[id], _levels(mover))
            for id, mover in movers.items()
        }
        self._light_s: dict[tuple[str, float, int], float] = {}

    def tuned(self, first: State, near: State, is_known: Callable[[State], bool]) -> State:
        """Return days that meet the doses best, but for known ones: from the first ones, near others."""
        off = {_key(first): (self._off(first), first)}
        looked_around: set[_Key] = set()
        now = _key(first)
        for _ in range(MOST_MOVES):
            is_fresh = not is_known(off[now][1])
            if is_fresh and off[now][0] <= AIM:
                break
            looked_around.add(now)
            for each in self._neighbours(off[now][1], near):
                if _key(each) not in off:
                    off[_key(each)] = self._off(each), each
            ahead = [key for key in off if key not in looked_around]
            if not ahead:
                break
            best = min(ahead, key=lambda key: off[key][0])
            if is_fresh and off[best][0] >= off[now][0]:
                break
            now = best
        fresh = [pair for pair in off.values() if not is_known(pair[1])]
        return min(fresh, key=lambda pair: pair[0])[1] if fresh else first

    def days(self, state: State) -> dict[str, Ramps]:
        """Return the days of all channels that may move."""
        return {
            id: _day(mover, state.factors[mover.group], state.steps[id])
            for id, mover in self.movers.items()
        }

    def light_s(self, id: str, state: State) -> float:
        """Return the light that the table of a day should give. [s at full]

        It is infinite if there is no such day.
        """
        mover = self.movers[id]
        key = id, state.factors[mover.group], state.steps[id]
        if key not in self._light_s:
            self._light_s[key] = (
                _planned_s(_day(mover, *key[1:]), self.halves[id]) + self.beyond_s[id]
            )
        return self._light_s[key]

    def _ppfd(self, id: str, zone: str) -> float:
        ppfd = self.schedule.channels[id].full_ppfd.get(zone, 0.0)
        return ppfd * self.known.brightness.get(id, 1.0) / UMOL_PER_MOL

    def _neighbours(self, now: State, near: State) -> Iterator[State]:
        """Yield the days of which one or two channels have other light, or other ends by one step."""
        single = list(self._moved(now, near))
        yield from single
        if len(self.movers) > 1:
            for each in single:
                yield from self._moved(each, near)

    def _moved(self, now: State, near: State) -> Iterator[State]:
        for (id, mover), by in itertools.product(self.movers.items(), (-1, 1)):
            group, steps = mover.group, now.steps[id] + by
            low, high = self.bounds[group]
            factor = self._next_factor(mover, now.factors[group], by)
            is_near = self.moves_light and self._is_near(mover, factor, near.factors[group])
            if is_near and low <= factor <= high:
                yield replace(now, factors={**now.factors, group: factor})
            if self.moves_ends and mover.steps[0] <= steps <= mover.steps[1]:
                yield replace(now, steps={**now.steps, id: steps})

    def _next_factor(self, mover: Mover, factor: float, by: int) -> float:
        """Return the next factor above or below at which the brightest peak is on a half of levels."""
        halves = self.halves[mover.id]
        light = mover.peak * factor
        if by > 0:
            at = int(np.searchsorted(halves, light + SAME_LIGHT, side="right"))
        else:
            at = int(np.searchsorted(halves, light - SAME_LIGHT, side="left")) - 1
        if not 0 <= at < len(halves):
            return factor
        return round(float(halves[at]) / mover.peak, 9)

    def _is_near(self, mover: Mover, factor: float, near: float) -> bool:
        halves = self.halves[mover.id]
        a, b = (np.searchsorted(halves, mover.peak * each) for each in (factor, near))
        return abs(int(a) - int(b)) <= MOST_HALVES

    def _off(self, state: State) -> float:
        """Return how far doses are outside what zones ask for, beside what is allowed; the worst."""
        worst = 0.0
        for zone in self.schedule.zones.values():
            dose = self.fixed[zone.id] + sum(
                self._ppfd(id, zone.id) * self.light_s(id, state) for id in self.movers
            )
            for asked in (zone.wanted_dli, zone.dli_band):
                if asked is not None:
                    allowed = max(self.within.get(zone.id, 0.0), SLACK)
                    worst = max(worst, abs(off_by(dose, asked)) / allowed)
        return worst


def _key(state: State) -> _Key:
    return tuple(state.factors.items()), tuple(state.steps.items())


def _day(mover: Mover, factor: float, steps: int) -> Ramps:
    """Return the day of a channel with other light and other ends, its light as it is written."""
    day = mover.at(factor, steps)
    return with_lights(day, [_written(peak.light) for peak in day.peaks])


def _written(light: float) -> float:
    """Return light as it is written, rounded up so that its level is not above it. [fraction of full]"""
    scale = 10**LIGHT_DECIMALS
    return float(min(math.ceil(light * 100 * scale - 1e-6) / scale, 100.0)) / 100


def _levels(mover: Mover) -> Floats:
    """Return the light of all levels of a channel that burns, rising. [fraction of full]"""
    path = mover.path
    found: Floats = np.unique(path.burning_light[path.first_lit_count : path.top_count + 1])
    return found


def _halves(mover: Mover) -> Floats:
    """Return the light of all levels of a channel that burns, and what lies half way between them, rising."""
    levels = _levels(mover)
    halves = np.concatenate((levels, (levels[:-1] + levels[1:]) / 2))
    found: Floats = np.unique(halves)
    return found


def _planned_s(day: Ramps, ladder: Floats) -> float:
    """Return the light of a day whose peaks are put on the nearest of some lights. [s at full]

    It is infinite if there is no such day.
    """
    lights = np.array([peak.light for peak in day.peaks])
    above = np.clip(np.searchsorted(ladder, lights), 1, len(ladder) - 1)
    nearest = np.where(
        lights - ladder[above - 1] <= ladder[above] - lights, ladder[above - 1], ladder[above]
    )
    profile = profile_of(with_lights(day, np.where(lights > 0, nearest, 0.0).tolist()))
    return math.inf if profile is None else profile.integral()
