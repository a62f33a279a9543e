"""The light path of one channel: from a count of its level grid to the light its lamps give."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from typing import Any

from photoperiod.arrays import Bools, Floats, Ints, np
from photoperiod.drive.ballast import BallastCurve, DarkKind
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import RANGE, LevelGrid, LevelUnit, RelayKind, RelayMode
from photoperiod.units import CONTROL_VOLTS_FULL

#: A channel that can't give this much runs dimmed even at its top [fraction of full]. Our choice;
#: the last code of a 6-bit converter gives 92 % on a logarithmic ballast with a floor of 1 %.
UNDIMMED_LIGHT = 0.9

#: Levels that differ by less are the same [% of 10 V].
LEVEL_SLACK = 1e-9

#: Volts that differ by less are the same [V].
VOLTS_SLACK = 1e-9

#: Lights that differ by less are the same [fraction of full].
LIGHT_SLACK = 1e-9

#: Light above the floor that still counts as the floor when a row for it is chosen.
FLOOR_LIGHT_SLACK = 0.002


#: Ballasts of a schedule that have a light path of their own, at most.
MOST_PATHS = 64


@dataclass(frozen=True, kw_only=True)
class LightPath:
    """Level grid, converter, wire, relay and ballast of one channel, as look-up arrays by count.

    The controller makes codes of counts by ``converter``. ``output`` tells what volts those codes give on
    this channel, where that was measured; counts of more than 10 V there are not used.

    A fine grid takes megabytes for each path: `shared` gives equal channels the same one.
    """

    levels: LevelGrid
    converter: Converter
    ballast: BallastCurve
    relay: RelayMode
    output: Converter | None = None

    @staticmethod
    @lru_cache(maxsize=MOST_PATHS)
    def shared(
        levels: LevelGrid,
        converter: Converter,
        ballast: BallastCurve,
        relay: RelayMode,
        output: Converter | None = None,
    ) -> LightPath:
        """Return the light path of these parts, the same one each time."""
        return LightPath(
            levels=levels, converter=converter, ballast=ballast, relay=relay, output=output
        )

    def __reduce__(self) -> tuple[Any, ...]:
        """Go to another process by parts: there it is the one that equal channels share."""
        return LightPath.shared, tuple(getattr(self, each.name) for each in fields(self))

    @cached_property
    def top_count(self) -> int:
        """The largest count."""
        top = self.levels.top_count(self.converter)
        if self.output is None:
            return top
        within = _codes(self.levels, self.converter) <= self.output.full_code
        return int(np.flatnonzero(within)[-1])

    @cached_property
    def codes(self) -> Ints:
        """Converter code of each count, shape (top_count + 1,). [codes]"""
        return _codes(self.levels, self.converter)[: self.top_count + 1]

    @property
    def codes_per_count(self) -> float:
        """The slope of the line that codes are rounded from. [codes per count]"""
        if self.levels.unit == LevelUnit.CODE:
            return float(self.levels.step)
        per_count = CONTROL_VOLTS_FULL * float(self.levels.step) / RANGE[self.levels.unit]
        return per_count / self.converter.volts_per_code

    def volts_per_code_at(self, control_volts: float) -> float:
        """Return what one code adds at some volts. [V]"""
        source = self.output or self.converter
        if not source.points:
            return source.volts_per_code
        code = min(int(source.nearest_codes(np.array([control_volts]))[0]), source.last_code - 1)
        return source.volts_at(code + 1) - source.volts_at(code)

    @cached_property
    def volts(self) -> Floats:
        """Calibrated volts of each count, shape (top_count + 1,). [V]"""
        if self.output is None:
            return _volts(self.levels, self.converter)
        return self.volts_of(self.codes)

    def volts_of(self, codes: Ints) -> Floats:
        """Return the volts that codes give on this channel, in their shape. [V]"""
        return (self.output or self.converter).volts(codes)

    @cached_property
    def level_percents(self) -> Floats:
        """Level of each count, shape (top_count + 1,). [% of 10 V]"""
        return _level_percents(self.levels, self.converter)[: self.top_count + 1]

    @cached_property
    def burning_light(self) -> Floats:
        """Light of each count while the mains is on and the ballast is not in standby. [fraction of full]

        Its shape is (top_count + 1,), and it rises.
        """
        return self.ballast.light_at(self.volts)

    @cached_property
    def is_standby(self) -> Bools:
        """True for the counts at which the ballast is dark by itself, shape (top_count + 1,)."""
        if self.ballast.dark != DarkKind.STANDBY:
            return np.zeros(self.volts.shape, dtype=bool)
        return self.volts < self.ballast.standby_volts

    @cached_property
    def closed_light(self) -> Floats:
        """Light of each count while the mains is on, whatever a row says. [fraction of full]

        Its shape is (top_count + 1,).
        """
        if self.ballast.dark != DarkKind.STANDBY:
            return self.burning_light
        return np.where(self.is_standby, 0.0, self.burning_light)

    @cached_property
    def is_undefined(self) -> Bools:
        """True for the counts between standby and floor volts, where light is not defined.

        Its shape is (top_count + 1,).
        """
        if self.ballast.dark != DarkKind.STANDBY:
            return np.zeros(self.volts.shape, dtype=bool)
        return ~self.is_standby & (self.volts < self.ballast.floor_volts - VOLTS_SLACK)

    @cached_property
    def most_light(self) -> float:
        """Light at the top permitted code: what this channel calls full. [fraction of full]"""
        full = self.volts_of(np.array([self.full_code]))
        return float(self.ballast.light_at(full)[0])

    @property
    def full_code(self) -> int:
        """The top permitted code of this channel."""
        if self.output is None:
            return self.converter.full_code
        return min(self.converter.full_code, self.output.full_code)

    @property
    def top_light(self) -> float:
        """Light at the largest count, which the grid may leave below ``most_light``. [fraction of full]"""
        return float(self.burning_light[self.top_count])

    @cached_property
    def first_lit_count(self) -> int:
        """The least count at which a row may hold the lamp lit, the top count if there is none."""
        usable = ~self.is_standby & ~self.is_undefined
        if self.is_switched_by_level:
            usable &= self.follows_on
        found = np.flatnonzero(usable)
        return int(found[0]) if found.size else self.top_count

    @cached_property
    def floor_count(self) -> int:
        """The count at which a row holds the floor, as near to the floor's own volts as it can.

        Of the counts that give the floor's light, or hardly more, the one nearest in volts is taken,
        so that a line from it leaves the floor at once. A standby ballast must not be held below
        its floor volts.
        """
        floor = self.ballast.floor_light
        hardly_more = self.burning_light <= floor + FLOOR_LIGHT_SLACK
        distance = np.round(np.abs(self.volts - self.ballast.floor_volts), 9)
        distance[~hardly_more] = np.inf
        if self.ballast.dark == DarkKind.STANDBY:
            distance[self.is_standby | self.is_undefined] = np.inf
        if not np.isfinite(distance).any():
            return self.first_lit_count
        return max(int(distance.argmin()), self.first_lit_count)

    @cached_property
    def follows_on(self) -> Bools:
        """True for the counts at which a relay that follows the level is closed, shape (top_count + 1,)."""
        return np.array(self.level_percents >= self.relay.on_level_percent - LEVEL_SLACK)

    @property
    def dark_by_row(self) -> bool:
        """True if a relay state in the row makes this channel dark.

        That of a standby ballast opens too, because an output that fails open would light it at full.
        """
        opens = self.ballast.dark == DarkKind.RELAY or (
            self.ballast.dark == DarkKind.STANDBY and not self.ballast.keeps_mains
        )
        return opens and self.relay.kind == RelayKind.COLUMN

    @property
    def dark_by_level(self) -> bool:
        """True if a low level makes this channel dark, by standby or by a following relay."""
        return self.is_switched_by_level or self.ballast.dark == DarkKind.STANDBY

    @property
    def lights_by_level(self) -> bool:
        """True if the lamp lights as the level rises, and not when a relay closes by its row."""
        return self.dark_by_level and not self.dark_by_row

    @property
    def is_switched_by_level(self) -> bool:
        """True if a relay that follows the level is in the mains of this ballast."""
        return self.relay.kind == RelayKind.FOLLOWS_LEVEL and self.ballast.dark != DarkKind.NEVER

    @property
    def can_be_dark(self) -> bool:
        """True if anything makes this channel dark."""
        return self.dark_by_row or self.dark_by_level

    @property
    def can_be_full(self) -> bool:
        """True if the port can drive the ballast to at least nine tenths of its full light."""
        return self.top_light >= UNDIMMED_LIGHT

    def is_lit(self, counts: Ints, relay_on: Bools) -> Bools:
        """Return where the lamp burns.

        Parameters
        ----------
        counts : ndarray, any shape
            Levels put out. [counts]
        relay_on : ndarray, the same shape
            Relay state of the rows; only looked at where the rows hold one.
        """
        lit = ~self.is_standby[counts]
        if self.dark_by_row:
            lit &= relay_on
        if self.is_switched_by_level:
            lit &= self.follows_on[counts]
        return lit

    def light(self, counts: Ints, relay_on: Bools) -> Floats:
        """Return the light given. [fraction of full]

        In the undefined band of a standby ballast the floor is assumed: the least a burning lamp
        gives, so that a dose is not overstated and darkness is not claimed.
        """
        return np.where(self.is_lit(counts, relay_on), self.burning_light[counts], 0.0)

    def is_full(self, counts: Ints, relay_on: Bools) -> Bools:
        """Return where the channel runs undimmed: lit, with the light of the largest count.

        Nowhere, if that light is less than nine tenths of what the ballast can give.
        """
        if not self.can_be_full:
            return np.zeros(np.shape(counts), dtype=bool)
        undimmed: Bools = self.burning_light[counts] >= self.top_light - LIGHT_SLACK
        return np.logical_and(self.is_lit(counts, relay_on), undimmed)

    def nearest_counts(self, light: Floats, ceiling: int | None = None) -> Ints:
        """Return the lit counts whose light is nearest; the lower one where two are as near.

        Parameters
        ----------
        light : ndarray, any shape
            Light wanted of a lamp that burns. [fraction of full]
        ceiling : int or None
            No count above this one is used.
        """
        top = self.top_count if ceiling is None else max(ceiling, self.first_lit_count)
        first = min(self.floor_count, top)
        ladder = self.burning_light[first : top + 1]
        if ladder.size < 2:
            return np.full(np.shape(light), first, dtype=np.int64)
        middles = 0.5 * (ladder[1:] + ladder[:-1])
        # Equal lights (above full) have equal middles; 'left' keeps the lowest of them.
        return np.searchsorted(np.round(middles, 12), np.round(light, 12), side="left").astype(
            np.int64
        ) + np.int64(first)

    def ceiling_for(self, light: float) -> int:
        """Return the largest count that gives at most this light. [light: fraction of full]"""
        found = np.flatnonzero(self.burning_light <= light + 1e-12)
        return int(found[-1]) if found.size else self.floor_count


# What all ballasts behind one converter have in common -------------------------------------------


@lru_cache(maxsize=4)
def _codes(levels: LevelGrid, converter: Converter) -> Ints:
    """Return the code of every count, shape (counts,). [codes]"""
    return levels.codes(converter)


@lru_cache(maxsize=4)
def _volts(levels: LevelGrid, converter: Converter) -> Floats:
    """Return the volts of every count, shape (counts,). [V]"""
    return converter.volts(_codes(levels, converter))


@lru_cache(maxsize=4)
def _level_percents(levels: LevelGrid, converter: Converter) -> Floats:
    """Return the level of every count, shape (counts,). [% of 10 V]"""
    return levels.level_percents(converter)
