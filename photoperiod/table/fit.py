"""Choose the rows of a day: the plan's corners where they fit, else line simplification.

This is the first form of the fit. Rows stand on the controller's grid of times and levels; where
the lamp lights and goes dark they are forced; the rest go where the replayed table is farthest
from the reachable plan, one by one, until the rows are used up or nothing is gained. It is not the
best table that fits; what it misses is measured and reported.

Everything outside this file sees `Target`, `fit` and `Fit` only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photoperiod.table.grid import Row, TimeGrid
from photoperiod.table.path import LightPath
from photoperiod.table.replay import Replay, play
from photoperiod.units import SECONDS_PER_DAY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: A row is not worth having if it gains less light than this at its second [fraction of full].
WORTH_LIGHT = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What one channel should do on a day.

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
    ceiling : float or None
        No row may give more light than this. [fraction of full]
    """

    name: str
    reachable: Floats
    corners: tuple[int, ...]
    path: LightPath
    ceiling: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The rows of one channel and how well they do.

    Parameters
    ----------
    rows : tuple of Row
        The table.
    rows_needed : int
        The rows that darkness and midnight demand by themselves. If it is more than the controller
        holds, ``rows`` are too.
    worst_light_error : float
        The largest distance of the replayed light from the reachable plan at any second, with a
        tolerance in time of half a time step. [fraction of full]
    worst_second : int
        Where that is. [s]
    strict_light_error : float
        The same without tolerance in time; where a lamp switches it is at least its floor.
    method : str
        How the rows were found.
    replay : Replay
        The table, played.
    """

    rows: tuple[Row, ...]
    rows_needed: int
    worst_light_error: float
    worst_second: int
    strict_light_error: float
    method: str
    replay: Replay


def fit(targets: Sequence[Target], times: TimeGrid, row_limit: int) -> list[Fit]:
    """Return a table for each of some channels that share one column of times.

    Parameters
    ----------
    targets : sequence of Target
        One channel, or all channels of a controller with shared times.
    times : TimeGrid
        The grid.
    row_limit : int
        Rows the controller holds.

    Returns
    -------
    list of Fit
        In the order of the targets. The rows of all of them have the same seconds.
    """
    drafts = [_Draft(target, times) for target in targets]
    forced: set[int] = set().union(*(draft.forced for draft in drafts))
    chosen = set(forced)
    corners = set().union(*(draft.corners for draft in drafts))
    for wish in (set().union(*(draft.step_ends for draft in drafts)), corners):
        if len(chosen | wish) <= row_limit:
            chosen |= wish
    if not chosen:
        chosen = drafts[0].extremes() if row_limit > 1 else {drafts[0].brightest()}
    method = "corners"
    while len(chosen) < row_limit:
        found = _next_time(drafts, sorted(chosen))
        if found is None:
            break
        chosen.add(found)
        method = "simplification"
    if not (corners | forced) <= chosen:
        method = "simplification"
    return [draft.finish(sorted(chosen), len(forced) or 1, method) for draft in drafts]


def _next_time(drafts: Sequence[_Draft], seconds: list[int]) -> int | None:
    """Return the time of the row that is missed most, or None if no further row helps."""
    best: tuple[float, int] | None = None
    for draft in drafts:
        found = draft.missed(seconds)
        if found and (best is None or found[0] > best[0]):
            best = found
    return best[1] if best else None


class _Draft:
    """One channel's rows as a function of their times."""

    def __init__(self, target: Target, times: TimeGrid) -> None:
        self.target, self.times, self.path = target, times, target.path
        self.step = times.step_s
        self.ceiling = None
        if target.ceiling is not None:
            self.ceiling = target.path.ceiling_for(target.ceiling)
        reach = target.reachable
        self.lit = self._lit_on_grid()
        self.least = _sliding(reach, self.step // 2, np.minimum)
        self.most = _sliding(reach, self.step // 2, np.maximum)
        burning = np.maximum(reach, self.path.ballast.floor_light)
        self.best_counts = self.path.nearest_counts(burning, self.ceiling)
        self.forced = self._forced()
        self.step_ends = self._step_ends()
        self.corners = self._corners()

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
        begins = np.flatnonzero(lit & ~np.roll(lit, 1))
        ends = np.flatnonzero(~lit & np.roll(lit, 1))
        for begin in begins:
            later = ends[ends > begin]
            end = int(later[0]) if later.size else int(ends[0]) + SECONDS_PER_DAY
            first = self.times.nearest(int(begin)) // self.step
            last = max(self.times.nearest(end) // self.step, first + 1)
            result[np.arange(first, last) % steps] = True
        return result

    def _forced(self) -> set[int]:
        """Return the times at which a row must stand for darkness and midnight to be kept."""
        lit, before = self.lit, np.roll(self.lit, 1)
        if not self.times.wraps:
            before[0] = False
        seconds = {int(i) * self.step for i in np.flatnonzero(lit != before)}
        if not self.times.wraps:
            seconds.add(0)  # what applies from midnight on is the first row
            if self.times.between == "line" and lit[-1]:
                seconds.add(SECONDS_PER_DAY - self.step)
        elif not lit.any():
            return {0}
        if self.path.dark_by_level and self.times.between == "line":
            # The level itself makes the lamp dark: it must not rise before the lamp lights.
            for i in np.flatnonzero(lit & ~before):
                if i > 0 or self.times.wraps:
                    seconds.add((int(i) * self.step - self.step) % SECONDS_PER_DAY)
        return seconds

    def _step_ends(self) -> set[int]:
        """Return the last lit times of stretches that end above the floor.

        The row that switches off has level 0, so a line toward it begins to fall at the row before:
        right before a step down there should be one.
        """
        if self.times.between == "hold":
            return set()
        ends = np.flatnonzero(self.lit & ~np.roll(self.lit, -1))
        last_second = ends * self.step + self.step - 1
        return {
            int(end) * self.step
            for end, second in zip(ends, last_second, strict=True)
            if self.target.reachable[second] > self.path.ballast.floor_light + WORTH_LIGHT
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

    def extremes(self) -> set[int]:
        """Return the times of the most and least light, for a day without any forced row."""
        on_grid = self.target.reachable[:: self.step]
        return {int(on_grid.argmax()) * self.step, int(on_grid.argmin()) * self.step}

    def brightest(self) -> int:
        """Return the time of the most light."""
        return int(self.target.reachable[:: self.step].argmax()) * self.step

    def rows(self, seconds: list[int]) -> tuple[Row, ...]:
        """Return the rows at given times."""
        counts = self._hold_counts(seconds) if self.times.between == "hold" else None
        rows = []
        for index, second in enumerate(seconds):
            is_lit = bool(self.lit[second // self.step])
            count = int(self.best_counts[second] if counts is None else counts[index])
            relay = is_lit if self.path.dark_by_row else None
            rows.append(Row(second, count if is_lit else 0, relay))
        return tuple(rows)

    def _hold_counts(self, seconds: list[int]) -> Ints:
        """Return the count in the middle of what each row has to hold for."""
        middles = []
        for index, second in enumerate(seconds):
            until = seconds[(index + 1) % len(seconds)]
            if until <= second:
                until = until + SECONDS_PER_DAY if self.times.wraps else SECONDS_PER_DAY
            stretch = self.target.reachable[np.arange(second, until) % SECONDS_PER_DAY]
            stretch = stretch[stretch > 0] if stretch.any() else stretch
            middles.append(0.5 * (float(stretch.min()) + float(stretch.max())))
        light = np.maximum(np.array(middles), self.path.ballast.floor_light)
        return self.path.nearest_counts(light, self.ceiling)

    def play(self, seconds: list[int]) -> tuple[tuple[Row, ...], Replay]:
        """Return the rows at given times, and what they do."""
        rows = self.rows(seconds)
        return rows, play(rows, self.times, self.path.levels, self.path)

    def errors(self, replay: Replay) -> Floats:
        """Return the distance of the light given from the plan, with tolerance in time."""
        return np.maximum(np.maximum(self.least - replay.light, replay.light - self.most), 0.0)

    def missed(self, seconds: list[int]) -> tuple[float, int] | None:
        """Return how much light is missed where it is missed most, and the time of a row for it."""
        _, replay = self.play(seconds)
        errors = self.errors(replay)
        best = np.where(replay.lit, self.path.burning_light[self.best_counts], 0.0)
        unavoidable = np.maximum(np.maximum(self.least - best, best - self.most), 0.0)
        gain = errors - unavoidable
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

    def _time_between(self, low: int, high: int, worst: int) -> int | None:
        """Return the best free grid time strictly between two rows, or None."""
        free = np.arange(low + self.step, high, self.step)
        free = free[self.lit[(free % SECONDS_PER_DAY) // self.step]]
        if not free.size:
            return None
        if self.times.between == "hold":
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

    def finish(self, seconds: list[int], rows_needed: int, method: str) -> Fit:
        """Return the fit for the chosen times."""
        rows, replay = self.play(seconds)
        errors = self.errors(replay)
        worst = int(errors.argmax())
        return Fit(
            rows=rows,
            rows_needed=rows_needed,
            worst_light_error=float(errors[worst]),
            worst_second=worst,
            strict_light_error=float(np.abs(replay.light - self.target.reachable).max()),
            method=method,
            replay=replay,
        )


def _sliding(values: Floats, reach_s: int, pick: np.ufunc) -> Floats:
    """Return the minimum or maximum within some seconds on either side, on a repeating day."""
    result = values.copy()
    done = 0
    while done < reach_s:  # doubling: a window of 2w + 1 from two shifted windows
        shift = min(max(done, 1), reach_s - done)
        result = pick(pick(np.roll(result, shift), np.roll(result, -shift)), result)
        done += shift
    return result
