"""The day of one channel: what is no error, which counts keep one, and the fewest rows.

Written anew from `docs/setpoints.md`, without any code of the fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import play
from photoperiod.units import SECONDS_PER_DAY
from tests.oracle.plain_reach import NEVER, Reach

#: Errors of light that differ by less are the same [fraction of full].
SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What a certificate claims of a table.

    Parameters
    ----------
    rows : sequence of Row
        The table.
    row_limit : int
        Rows the controller holds.
    error, bound : float
        Worst error of the table at the samples, and what no table within the rows has less than.
        [fraction of full]
    sample_s, tolerance_s : int
        Distance of samples and tolerance in time. [s]
    is_guarded : bool
        Whether a row of level 0 stands before the lamp lights although a relay makes it dark.
    """

    rows: Sequence[Row]
    row_limit: int
    error: float
    bound: float
    sample_s: int
    tolerance_s: int
    is_guarded: bool = False


class Day:
    """One channel's day, measured by the letter of `docs/setpoints.md`."""

    def __init__(self, claim: Claim, reachable: Floats, times: TimeGrid, path: LightPath) -> None:
        self.claim, self.reachable, self.times, self.path = claim, reachable, times, path
        self.step = times.step_s
        self.is_held = times.between == "hold"
        self.lit = self._lit_steps()
        self.least, self.most = self._allowed()

    def _lit_steps(self) -> Bools:
        """Return in which steps the lamp is lit: it switches at the grid time nearest to the plan's."""
        steps = SECONDS_PER_DAY // self.step
        lit = self.reachable > 0
        if not self.path.can_be_dark or lit.all():
            return np.ones(steps, dtype=bool)
        result = np.zeros(steps, dtype=bool)
        for second in range(SECONDS_PER_DAY):
            if not lit[second] or lit[second - 1]:
                continue
            stop = second
            while lit[stop % SECONDS_PER_DAY]:
                stop += 1
            first = int((second + self.step / 2) // self.step)
            last = int((stop + self.step / 2) // self.step)
            if last <= first:
                first = (second + stop) // 2 // self.step
                last = first + 1
            for number in range(first, last):
                result[number % steps] = True
        return result

    def _allowed(self) -> tuple[Floats, Floats]:
        """Return the least and most light that is no error at each second."""
        around = 2 * self.claim.tolerance_s + 1
        least = minimum_filter1d(self.reachable, around, mode="wrap")
        most = maximum_filter1d(self.reachable, around, mode="wrap")
        if self.is_held:
            return least, most
        for number in np.flatnonzero(self.lit != np.roll(self.lit, 1)):
            if number == 0 and not self.times.wraps:  # until midnight the level is held
                continue
            edge = np.arange(number * self.step - self.step + 1, number * self.step)
            edge %= SECONDS_PER_DAY
            if not self.lit[number]:
                least[edge] = 0.0
            elif self.path.lights_by_level:
                most[edge] = np.maximum(most[edge], most[number * self.step])
        return least, most

    @property
    def rises_from_zero(self) -> bool:
        """Whether a row of level 0 must stand one step before the lamp lights."""
        by_row = self.path.dark_by_row and self.claim.is_guarded
        return not self.is_held and (self.path.lights_by_level or by_row)

    def row_faults(self) -> list[str]:
        """Return what is wrong with the rows, whatever light they give."""
        found = []
        if len(self.claim.rows) > self.claim.row_limit:
            found.append(f"{len(self.claim.rows)} rows are more than {self.claim.row_limit}")
        for row in self.claim.rows:
            meant = bool(self.lit[row.second // self.step])
            if row.second % self.step or not 0 <= row.count <= self.path.top_count:
                found.append(f"the row at {row.second} s is off the grid")
            elif self.path.dark_by_row and row.relay is not meant:
                found.append(f"the row at {row.second} s switches where the plan does not")
            elif not meant and row.count:
                found.append(f"the row at {row.second} s is dark with a level above 0")
        return found + self._missing_guards()

    def _missing_guards(self) -> list[str]:
        """Return where the level would rise before the lamp lights."""
        seconds = {row.second for row in self.claim.rows}
        found = []
        for number in np.flatnonzero(self.lit & ~np.roll(self.lit, 1)).tolist():
            before = (number - 1) * self.step % SECONDS_PER_DAY
            is_led_to = self.times.wraps or number > 0
            if self.rises_from_zero and is_led_to and before not in seconds:
                found.append(f"no row of level 0 at {before} s, before the lamp lights")
        return found

    def error(self) -> float:
        """Return the worst error of the table where it counts. [fraction of full]"""
        every = 1 if self.is_held else self.claim.sample_s
        light = play(self.claim.rows, self.times, self.path.levels, self.path).light[::every]
        low, high = self.least[::every], self.most[::every]
        return float(np.maximum(np.maximum(low - light, light - high), 0.0).max())

    @property
    def per_step(self) -> int:
        """Gates in one time step; a level that is held has one gate for all its seconds."""
        return 1 if self.is_held else self.step // self.claim.sample_s

    @property
    def first(self) -> int:
        """The least count that a row of a lit lamp may hold."""
        return self.path.first_lit_count if self.path.dark_by_level else 0

    def gates(self, error: float) -> tuple[Ints, Ints]:
        """Return the least and greatest count that keeps an error while the lamp is meant to be lit.

        Where no light is no error, counts at which the lamp is dark are among them.
        """
        if self.is_held:
            low = self.least.reshape(-1, self.step).max(axis=1)
            high = self.most.reshape(-1, self.step).min(axis=1)
        else:
            low, high = self.least[:: self.claim.sample_s], self.most[:: self.claim.sample_s]
        counts = np.arange(self.path.top_count + 1)
        light = self.path.light(counts, np.ones(counts.shape, dtype=bool))
        fits = light[None, :] >= low[:, None] - error - SLACK
        fits &= light[None, :] <= high[:, None] + error + SLACK
        fits[:, : self.first] &= low[:, None] <= 0.0
        bottom = fits.argmax(axis=1)
        top = fits.shape[1] - 1 - fits[:, ::-1].argmax(axis=1)
        top[~fits.any(axis=1)] = -1
        return bottom.astype(np.int64), top.astype(np.int64)

    def fewest_rows(self, error: float) -> int | None:
        """Return the fewest rows of a table that keeps an error, None if no table does."""
        bottom, top = self.gates(error)
        steps, lit, wraps = self.lit.size, self.lit, self.times.wraps
        if lit.all():
            if wraps:
                return self._fewest_of_circle(bottom, top)
            return self._fewest_corners(bottom, top, has_end=False)
        rows: set[int] = set()
        corners = 0
        for begin in np.flatnonzero(lit & ~np.roll(lit, 1)).tolist():
            last = begin
            while lit[last % steps]:
                last += 1
            parts = [(begin, last, wraps or last < steps)]
            if not wraps and last > steps:
                parts = [(begin, steps, False), (0, last - steps, True)]
            for start, stop, has_end in parts:
                at = np.arange(start * self.per_step, stop * self.per_step) % bottom.size
                found = self._fewest_corners(bottom[at], top[at], has_end=has_end)
                if found is None:
                    return None
                corners += found
                if has_end:
                    rows.add(stop % steps)
                if self.rises_from_zero and (wraps or start > 0):
                    rows.add((start - 1) % steps)
        if not wraps and not lit[0]:
            rows.add(0)
        return corners + len(rows) or 1

    def _fewest_corners(self, bottom: Ints, top: Ints, *, has_end: bool) -> int | None:
        """Return the fewest corners of a lit run, by going on from every corner there is."""
        if (bottom > top).any():
            return None
        if self.is_held:
            return _fewest_held(np.maximum(bottom, self.first), top)
        size, per = bottom.size, self.per_step
        rounding = self.path.levels.rounding
        reach = Reach(bottom, top, per, rounding, 0 if has_end else None, self.first)
        best = np.full((size + 1, int(top.max()) + 1), NEVER, dtype=np.int64)
        best[0, max(int(bottom[0]), self.first) : top[0] + 1] = 1
        least = NEVER
        for index in range(0, size, per):
            for count in np.flatnonzero(best[index] < least).tolist():
                used = int(best[index, count])
                if not has_end and (bottom[index:] <= count).all() and (top[index:] >= count).all():
                    least = min(least, used)
                for stop, low, high in reach.of(index, count):
                    if stop == size:
                        least = min(least, used)
                    else:
                        part = best[stop, low : high + 1]
                        np.minimum(part, used + 1, out=part)
        return None if least == NEVER else least

    def _fewest_of_circle(self, bottom: Ints, top: Ints) -> int | None:
        """Return the fewest rows of a day without darkness on the grid.

        No piece from a corner before a window reaches beyond it, so some row stands inside; every
        corner inside is tried as the beginning and the end of the day. A day that is dark at all times is
        none, even if no light is no error at any of them: some row is lit.
        """
        if (bottom > top).any():
            return None
        if max(int(bottom.max()), self.first) <= int(top.min()):
            return 1
        if self.is_held:
            if int(bottom.max()) < self.first:  # the dark passes all gates
                return 2 if (top >= self.first).any() else None
            held = [_fewest_held(np.roll(bottom, -n), np.roll(top, -n)) for n in range(bottom.size)]
            return min(n for n in held if n is not None)
        size, per = bottom.size, self.per_step
        twice = Reach(np.tile(bottom, 3), np.tile(top, 3), per, self.path.levels.rounding, None)
        farthest = np.zeros(2 * size // per, dtype=np.int64)
        for index in range(0, 2 * size, per):
            ends = [index]
            for count in range(int(bottom[index % size]), int(top[index % size]) + 1):
                ends += [stop for stop, _, _ in twice.of(index, count)]
            farthest[index // per] = max(ends)
        beyond = np.maximum.accumulate(farthest)
        tries: list[list[tuple[int, int]]] = []
        for step in range(size // per, 2 * size // per):
            inside = range((step + 1) * per, int(beyond[step]) + per, per)
            if len(inside) * per >= size:
                continue
            tries.append([
                (index, count)
                for index in inside
                for count in range(int(bottom[index % size]), int(top[index % size]) + 1)
            ])  # fmt: skip
        starts = min(tries, key=len, default=[
            (size + index, count)
            for index in range(0, size, per)
            for count in range(max(int(bottom[index]), self.first), int(top[index]) + 1)
        ])  # fmt: skip
        least = NEVER
        for begin, first in starts:
            index = begin % size
            found = _closed(twice, index, first, size, per, int(top.max()) + 1, least)
            least = min(least, found)
        return None if least == NEVER else least


def _closed(reach: Reach, begin: int, first: int, size: int, per: int, width: int,
            least: int) -> int:  # fmt: skip
    """Return the fewest rows of a day that begins and ends at one corner."""
    best = np.full((size + 1, width), NEVER, dtype=np.int64)
    best[0, first] = 0
    for index in range(0, size, per):
        for count in np.flatnonzero(best[index] < least - 1).tolist():
            used = int(best[index, count]) + 1
            for stop, low, high in reach.of(begin + index, count):
                if stop > begin + size:
                    break
                part = best[stop - begin, low : high + 1]
                np.minimum(part, used, out=part)
    return int(best[size, first])


def _fewest_held(bottom: Ints, top: Ints) -> int | None:
    """Return the fewest levels, each held for some steps, that pass all gates."""
    best = [0] + [NEVER] * bottom.size
    for begin in range(bottom.size):
        low, high = 0, NEVER
        for stop in range(begin, bottom.size):
            low, high = max(low, int(bottom[stop])), min(high, int(top[stop]))
            if low > high:
                break
            best[stop + 1] = min(best[stop + 1], best[begin] + 1)
    return None if best[-1] >= NEVER else best[-1]
