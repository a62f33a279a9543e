"""What is wanted of one channel on the controller's grid, and line simplification.

`ChannelProblem` knows where a lamp lights and goes dark on the grid, which rows that forces, and how
far a table strays from the plan. `simplify` adds rows one by one, each where the replayed table is
farthest from the plan. Its table is not the best one: it gives the exact search of a shared column an
error to begin with, and it is what is left where that search finds nothing.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints, runs_of_true, stretch_of_true
from photoperiod.drive.grid import Between, RelayKind, Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import Replay, play
from photoperiod.setpoints.tolerance import sliding
from photoperiod.units import SECONDS_PER_DAY

#: A row is not worth having if it gains less light than this at its second [fraction of full].
WORTH_LIGHT = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The light that one channel should give on a day.

    Parameters
    ----------
    name : str
        The channel.
    reachable : ndarray, shape (86400,)
        Light wanted at each second, within reach of the ballast; 0 is dark. [fraction of full]
    corners : tuple of int
        Seconds of the day at which the plan changes its course. [s]
    path : LightPath
        From counts to light.
    may_exceed : bool
        False if the table must not give more light than the plan at its samples.
    weight : float
        How much an error of this channel counts, compared with channels that share its times.
    dose_within : float
        The table may change the dose of the day by this share; beyond it, rows that hold the dose are
        sought.
    is_guarded : bool
        True if a row of level 0 stands one time step before the lamp lights, although a relay makes it
        dark. Where the level makes it dark, such a row always stands.
    """

    name: str
    reachable: Floats
    corners: tuple[int, ...]
    path: LightPath
    may_exceed: bool = True
    weight: float = 1.0
    dose_within: float = 0.01
    is_guarded: bool = False


def simplify(drafts: Sequence[ChannelProblem], row_limit: int) -> list[int]:
    """Return the times of rows for channels that share them, by line simplification.

    Parameters
    ----------
    drafts : sequence of ChannelProblem
        One channel, or all channels of a controller with shared times.
    row_limit : int
        Rows the controller holds; more come back only if darkness and midnight demand them.

    Returns
    -------
    list of int
        Seconds of the day, rising. [s]
    """
    chosen: set[int] = set().union(*(draft.forced for draft in drafts))
    corners = set().union(*(draft.corners for draft in drafts))
    for wish in (set().union(*(draft.step_ends for draft in drafts)), corners):
        if len(chosen | wish) <= row_limit:
            chosen |= wish
    if not chosen:
        chosen = drafts[0].extremes() if row_limit > 1 else {drafts[0].brightest()}
    while len(chosen) < row_limit:
        found = _next_time(drafts, sorted(chosen))
        if found is None:
            break
        chosen.add(found)
    return sorted(chosen)


def _next_time(drafts: Sequence[ChannelProblem], seconds: list[int]) -> int | None:
    """Return the time at which a further row helps most, or None if none helps."""
    best: tuple[float, int] | None = None
    for draft in drafts:
        found = draft.missed(seconds)
        if found and (best is None or found[0] > best[0]):
            best = found
    return best[1] if best else None


class ChannelProblem:
    """One channel on the grid of a controller.

    Parameters
    ----------
    target : Target
        The light wanted.
    times : TimeGrid
        The grid of times, and how the controller goes from row to row.
    keeps_night : bool
        True if a lamp whose only night has no step on the grid is dark in one step all the same.

    Attributes
    ----------
    lit : ndarray, shape (steps,)
        Whether the channel is lit in each time step.
    least, most : ndarray, shape (86400,)
        Light below ``least`` or above ``most`` is an error. [fraction of full]
    forced, step_ends, corners : set of int
        Times at which a row must stand, should stand before a step down, and may help most. [s]
    ceiling : int or None
        No row has a higher count.
    """

    def __init__(self, target: Target, times: TimeGrid, *, keeps_night: bool = False) -> None:
        self.target, self.times, self.path = target, times, target.path
        self.step = times.step_s
        self.ceiling = None
        if not target.may_exceed:
            self.ceiling = target.path.ceiling_for(float(target.reachable.max()))
        self.lit = self._lit_on_grid()
        if keeps_night and self.night_step is not None:
            self.lit[self.night_step] = False
        self.least, self.most = self._tolerated()
        self.forced = self._forced()
        self.step_ends = self._step_ends()
        self.corners = self._corners()

    @functools.cached_property
    def best_counts(self) -> Ints:
        """The count nearest to the plan at each second of a lamp that burns, shape (86400,)."""
        burning = np.maximum(self.target.reachable, self.path.ballast.floor_light)
        return self.path.nearest_counts(burning, self.ceiling)

    @functools.cached_property
    def wanted_stretch(self) -> slice:
        """The seconds outside which no light is wanted."""
        return stretch_of_true((self.target.reachable > 0) | (self.least > 0))

    @property
    def rises_from_zero(self) -> bool:
        """True if a row of level 0 stands one step before the lamp lights."""
        by_row = self.target.is_guarded and self.path.dark_by_row
        return (self.path.lights_by_level or by_row) and self.times.between == Between.LINE

    def _lit_on_grid(self) -> Bools:
        """Return for each step of the grid whether the channel is lit in it.

        The moments at which the lamp lights and goes dark are moved to the nearest step; a run
        that would vanish keeps one step.
        """
        steps = SECONDS_PER_DAY // self.step
        lit = self.target.reachable > 0
        if not self.path.can_be_dark or lit.all():
            return np.ones(steps, dtype=bool)
        result = np.zeros(steps, dtype=bool)
        if not lit.any():
            return result
        for begin, end in runs_of_true(lit, repeats=True):
            first = self.times.nearest(begin) // self.step
            last = self.times.nearest(end) // self.step
            if last <= first:  # keep the step in whose middle it lies
                first = (begin + end) // 2 // self.step
                last = first + 1
            result[np.arange(first, last) % steps] = True
        return result

    @functools.cached_property
    def night_step(self) -> int | None:
        """The step at whose beginning the longest night lies, if the grid leaves none for any; else None."""
        dark = self.target.reachable <= 0
        if not self.path.can_be_dark or not self.lit.all() or self.lit.size < 2 or not dark.any():
            return None
        begin, _ = max(runs_of_true(dark, repeats=True), key=lambda run: run[1] - run[0])
        return self.times.nearest(begin) // self.step % self.lit.size

    def switchings(self) -> tuple[Ints, Ints]:
        """Return the grid times at which the lamp lights and at which it goes dark. [s]"""
        before = np.roll(self.lit, 1)
        lights = np.flatnonzero(self.lit & ~before) * self.step
        darks = np.flatnonzero(~self.lit & before) * self.step
        return lights, darks

    def _tolerated(self) -> tuple[Floats, Floats]:
        """Return the least and most light that is no error at each second.

        The plan may be met up to half a time step earlier or later. An edge of one step is no error
        either: before the row that switches off, the level falls toward that row's level 0, and where
        a low level makes the lamp dark, the level rises in the step before the first lit row.
        """
        reach = self.target.reachable
        least = sliding(reach, self.step // 2, np.minimum)
        most = sliding(reach, self.step // 2, np.maximum)
        if self.times.between == Between.LINE:
            _, darks = self.switchings()
            for dark in darks if self.times.wraps else darks[darks > 0]:
                least[np.arange(dark - self.step + 1, dark) % SECONDS_PER_DAY] = 0.0
        if not self.target.may_exceed:
            # A lamp that is lit gives its floor, whatever is wanted right then.
            meant_lit = np.repeat(self.lit, self.step)
            most = np.where(meant_lit, np.maximum(reach, self.path.ballast.floor_light), most)
            least = np.minimum(least, most)
        if self.times.between == Between.LINE and self.path.lights_by_level:
            lights, _ = self.switchings()
            # Until midnight the level is held where the table does not wrap.
            for light in lights if self.times.wraps else lights[lights > 0]:
                edge = np.arange(light - self.step + 1, light) % SECONDS_PER_DAY
                most[edge] = np.maximum(most[edge], most[light])
        return least, most

    def _forced(self) -> set[int]:
        """Return the times at which a row must stand for darkness and midnight to be kept."""
        lit = self.lit
        lights, darks = self.switchings()
        seconds = {*lights.tolist(), *darks.tolist()}
        if not self.times.wraps:
            seconds.add(0)  # what applies from midnight on is the first row
            if self.times.between == Between.LINE and lit[-1]:
                seconds.add(SECONDS_PER_DAY - self.step)
        elif not lit.any():
            return {0}
        if self.rises_from_zero:
            # The level itself makes the lamp dark, or would light it if its relay were welded.
            for light in lights.tolist():
                if light > 0 or self.times.wraps:
                    seconds.add((light - self.step) % SECONDS_PER_DAY)
        return seconds

    def _step_ends(self) -> set[int]:
        """Return the last lit times of stretches that end above the floor.

        The row that switches off has level 0, so a line toward it begins to fall at the row before:
        right before a step down there should be one.
        """
        if self.times.between == Between.HOLD:
            return set()
        _, darks = self.switchings()
        well_lit = self.path.ballast.floor_light + WORTH_LIGHT
        return {
            (dark - self.step) % SECONDS_PER_DAY
            for dark in darks.tolist()
            if self.target.reachable[dark - 1] > well_lit
        }

    def _corners(self) -> set[int]:
        """Return the times at which the plan changes its course while it is lit."""
        found = set()
        for corner in self.target.corners:
            second = self.times.nearest(corner)
            if second == SECONDS_PER_DAY:
                if not self.times.wraps:
                    continue
                second = 0
            if self.lit[second // self.step]:
                found.add(second)
        return found

    @property
    def peak(self) -> float:
        """The most light that is wanted on the day; 1 if none is. [fraction of full]"""
        return float(self.target.reachable.max()) or 1.0

    def extremes(self) -> set[int]:
        """Return the times of the most and least light, for a day without any forced row."""
        on_grid = self.target.reachable[:: self.step]
        return {int(on_grid.argmax()) * self.step, int(on_grid.argmin()) * self.step}

    def brightest(self) -> int:
        """Return the time of the most light."""
        return int(self.target.reachable[:: self.step].argmax()) * self.step

    def rows(self, seconds: list[int]) -> tuple[Row, ...]:
        """Return the rows at given times."""
        at = np.array(seconds, dtype=np.int64)
        is_lit = self.lit[at // self.step]
        holds = self.times.between == Between.HOLD
        counts = np.where(is_lit, self._hold_counts(at) if holds else self.best_counts[at], 0)
        columns = zip(seconds, counts.tolist(), is_lit.tolist(), strict=True)
        return tuple(self.row(second, count, is_lit=lit) for second, count, lit in columns)

    def row(self, second: int, count: int, *, is_lit: bool) -> Row:
        """Return a row; the relay is named wherever the controller's rows hold a relay state."""
        has_relay = self.path.relay.kind == RelayKind.COLUMN
        relay = is_lit or not self.path.dark_by_row
        return Row(second, count, relay if has_relay else None)

    def _hold_counts(self, seconds: Ints) -> Ints:
        """Return the count in the middle of the light that each row has to hold for."""
        day = self.target.reachable[seconds[0] :]
        if self.times.wraps:  # the last row holds until the first
            day = np.concatenate((day, self.target.reachable[: seconds[0]]))
        begins = seconds - seconds[0]
        most = np.maximum.reduceat(day, begins)
        least = np.minimum.reduceat(np.where(day > 0, day, np.inf), begins)
        middles = 0.5 * (np.where(most > 0, least, 0.0) + most)
        light = np.maximum(middles, self.path.ballast.floor_light)
        return self.path.nearest_counts(light, self.ceiling)

    def play(self, seconds: list[int]) -> tuple[tuple[Row, ...], Replay]:
        """Return the rows at given times, and what they do."""
        rows = self.rows(seconds)
        return rows, play(rows, self.times, self.path.levels, self.path)

    def errors(self, replay: Replay) -> Floats:
        """Return the distance of the light given from the plan, with tolerance in time."""
        errors = np.zeros(SECONDS_PER_DAY)
        at = self.stretch(replay)
        light, found = replay.light[at], errors[at]
        np.subtract(self.least[at], light, out=found)
        np.maximum(found, light - self.most[at], out=found)
        np.maximum(found, 0.0, out=found)
        return errors

    def stretch(self, replay: Replay) -> slice:
        """Return the seconds outside which neither light is wanted nor any given."""
        begins, light = replay.light_steps
        given = stretch_of_true(light > 0)
        if given == slice(0, 0):
            return self.wanted_stretch
        stop = int(begins[given.stop]) if given.stop < begins.size else SECONDS_PER_DAY
        begin, wanted = int(begins[given.start]), self.wanted_stretch
        if wanted == slice(0, 0):
            return slice(begin, stop)
        return slice(min(begin, wanted.start), max(stop, wanted.stop))

    def dose_error(self, rows: tuple[Row, ...]) -> float:
        """Return by what share some rows change the dose of the day."""
        given = play(rows, self.times, self.path.levels, self.path).light_s
        return given / self.wanted_s - 1.0 if self.wanted_s else 0.0

    @functools.cached_property
    def wanted_s(self) -> float:
        """All the light wanted on the day: the seconds at full that would give as much. [s]"""
        return float(self.target.reachable.sum())

    def missed(self, seconds: list[int]) -> tuple[float, int] | None:
        """Return the largest error that a further row would mend, and the time of that row.

        An error that the nearest count leaves too is none that a row could mend.
        """
        _, replay = self.play(seconds)
        errors = self.errors(replay)
        gain = errors - self._unavoidable
        gain[np.abs(replay.counts - self.best_counts) < 2] = 0.0
        taken = np.array(seconds)
        while True:
            worst = int(gain.argmax())
            if gain[worst] < WORTH_LIGHT:
                return None
            index = int(np.searchsorted(taken, worst, side="right")) - 1
            low = int(taken[index]) if index >= 0 else int(taken[-1]) - SECONDS_PER_DAY
            high = int(taken[(index + 1) % taken.size])
            if high <= low:
                high += SECONDS_PER_DAY
            if not self.times.wraps:
                low, high = max(low, 0), min(high, SECONDS_PER_DAY)
            found = self._time_between(low, high, worst)
            if found is not None:
                return float(gain[worst]), found
            gain[np.arange(low, high) % SECONDS_PER_DAY] = 0.0

    @functools.cached_property
    def _unavoidable(self) -> Floats:
        """The error that the nearest count leaves. [fraction of full]"""
        meant_lit = np.repeat(self.lit, self.step)
        best = np.where(meant_lit, self.path.burning_light[self.best_counts], 0.0)
        return np.maximum(np.maximum(self.least - best, best - self.most), 0.0)

    def _time_between(self, low: int, high: int, worst: int) -> int | None:
        """Return the best free grid time strictly between two rows, or None."""
        free = np.arange(low + self.step, high, self.step)
        free = free[self.lit[(free % SECONDS_PER_DAY) // self.step]]
        if not free.size:
            return None
        if self.times.between == Between.HOLD:
            return self._split_of_hold(low, high, free)
        at = worst if worst >= low else worst + SECONDS_PER_DAY
        return int(free[np.abs(free - at).argmin()]) % SECONDS_PER_DAY

    def _split_of_hold(self, low: int, high: int, free: Ints) -> int:
        """Return the time that leaves the smaller spread of light on either side of it."""
        stretch = self.target.reachable[np.arange(low, high) % SECONDS_PER_DAY]
        left = np.maximum.accumulate(stretch) - np.minimum.accumulate(stretch)
        back = stretch[::-1]
        right = (np.maximum.accumulate(back) - np.minimum.accumulate(back))[::-1]
        spread = np.maximum(left[free - low - 1], right[free - low])
        return int(free[int(spread.argmin())]) % SECONDS_PER_DAY
