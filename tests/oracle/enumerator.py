"""Every legal table of a small instance and the best of them, without any code of the fit.

A table is legal if its rows are on the grid, the lamp switches where `docs/setpoints.md` says, and
no row holds a lamp in the dark or in a band where its light is not defined. Between two rows the
light depends on these two rows only, so the pieces are played once each; the worst error of a table
is the largest of its pieces. All of them are gone through, from row to row; nothing is left out.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import Replay, play

DAY = 86_400

#: Lights that differ by less are the same [fraction of full].
SLACK = 1e-9


def moved(change: Ints, elapsed: Ints, span: int, rounding: str) -> Ints:
    """What a controller adds to the count of the row before, by the definition of its rounding."""
    product = change * elapsed
    if rounding == "half-up":
        return (2 * product + span) // (2 * span)
    if rounding == "down":
        return product // span
    return np.where(product < 0, -(-product // span), product // span)


@functools.lru_cache(maxsize=256)
def emitted(top: int, span_s: int, sample_s: int, rounding: str) -> Ints:
    """Counts put out between two rows: by sample, count of the row before, count of the next."""
    elapsed = np.arange(0, span_s, sample_s)[:, None, None]
    before, following = np.arange(top + 1)[:, None], np.arange(top + 1)[None, :]
    return before + moved(following - before, elapsed, span_s, rounding)


def strays(light: Floats, least: Floats, most: Floats) -> Floats:
    """How far light is from what is no error."""
    return np.maximum(np.maximum(least - light, light - most), 0.0)


def lit_steps(reachable: Floats, times: TimeGrid, path: LightPath) -> list[bool]:
    """In which steps the lamp is meant to be lit: it switches at the grid times nearest."""
    step, steps = times.step_s, DAY // times.step_s
    lit = reachable > 0
    if not path.can_be_dark or lit.all():
        return [True] * steps
    result = [False] * steps
    ends = np.flatnonzero(~lit & np.roll(lit, 1)).tolist()
    for begin in np.flatnonzero(lit & ~np.roll(lit, 1)).tolist():
        stop = min(end if end > begin else end + DAY for end in ends)
        first, last = times.nearest(begin) // step, times.nearest(stop) // step
        if last <= first:  # a run that would vanish keeps the step its middle lies in
            first = (begin + stop) // 2 // step
            last = first + 1
        for number in range(first, last):
            result[number % steps] = True
    return result


@functools.lru_cache(maxsize=4)
def played(rows: tuple[Row, ...], times: TimeGrid, path: LightPath) -> Replay:
    """What a table does."""
    return play(rows, times, path.levels, path)


@dataclass(frozen=True, kw_only=True)
class Enumerator:
    """One channel on a small grid.

    ``sample_s`` and ``tolerance_s`` are those of the certificate, in seconds; ``reachable`` is the
    reachable plan at each second. With ``is_guarded`` a row of level 0 stands one step before the lamp
    lights although a relay makes it dark.
    """

    reachable: Floats
    times: TimeGrid
    path: LightPath
    sample_s: int
    tolerance_s: int
    may_exceed: bool = True
    is_guarded: bool = False

    @property
    def steps(self) -> int:
        return DAY // self.times.step_s

    @functools.cached_property
    def lit(self) -> list[bool]:
        return lit_steps(self.reachable, self.times, self.path)

    def lights(self, step: int) -> bool:
        """Whether the lamp lights at a grid time."""
        return self.lit[step % self.steps] and not self.lit[step % self.steps - 1]

    def goes_dark(self, step: int) -> bool:
        """Whether it goes dark there."""
        return not self.lit[step % self.steps] and self.lit[step % self.steps - 1]

    def leads_to(self, step: int) -> bool:
        """Whether a line leads to a row at a grid time: none does to the first of a new day."""
        return self.times.between == "line" and (self.times.wraps or step % self.steps > 0)

    # What is no error ------------------------------------------------------------------------

    @functools.cached_property
    def allowed(self) -> tuple[Floats, Floats]:
        """The least and most light that is no error at each second."""
        window = 2 * self.tolerance_s + 1
        least = ndimage.minimum_filter1d(self.reachable, window, mode="wrap")
        most = ndimage.maximum_filter1d(self.reachable, window, mode="wrap")
        for step in range(self.steps):
            if self.goes_dark(step) and self.leads_to(step):
                least[self.edge(step)] = 0.0
        if not self.may_exceed:
            floor = np.maximum(self.reachable, self.path.ballast.floor_light)
            most = np.where(self.meant_lit, floor, most)
            least = np.minimum(least, most)
        for step in range(self.steps):  # it rises to what the lamp may give when it lights
            if self.lights(step) and self.leads_to(step) and self.path.lights_by_level:
                edge = self.edge(step)
                most[edge] = np.maximum(most[edge], most[step * self.times.step_s])
        return least, most

    def edge(self, step: int) -> Ints:
        """The seconds strictly between the grid time before and a grid time."""
        return np.arange((step - 1) * self.times.step_s + 1, step * self.times.step_s) % DAY

    @functools.cached_property
    def meant_lit(self) -> Bools:
        return np.repeat(self.lit, self.times.step_s)

    @functools.cached_property
    def is_unfit(self) -> Bools:
        """The counts at which the level itself makes the lamp dark, or its light is not defined."""
        path, counts = self.path, np.arange(self.path.top_count + 1)
        if not path.dark_by_level:
            return np.zeros(counts.shape, dtype=bool)
        return ~path.is_lit(counts, np.ones(counts.shape, dtype=bool)) | path.is_undefined

    def is_barred(self, counts: Ints, light: Floats, least: Floats, most: Floats,
                  meant_lit: Bools) -> Bools:  # fmt: skip
        """Where a promise is broken: dark where it must burn, above what is never exceeded."""
        barred = self.is_unfit[counts] & (least > 0.0)
        if not self.may_exceed:
            barred = barred | (light > most + SLACK)
        return barred & meant_lit

    @functools.cached_property
    def samples(self) -> Ints:
        """The seconds at which light is looked at."""
        return np.arange(0, DAY, self.sample_s)

    def measure(self, rows: Sequence[Row]) -> float:
        """The worst error of a table, played in full."""
        light = played(tuple(rows), self.times, self.path).light[self.samples]
        least, most = (bound[self.samples] for bound in self.allowed)
        return float(strays(light, least, most).max())

    # Which tables are legal ------------------------------------------------------------------

    @functools.cached_property
    def lit_counts(self) -> list[int]:
        """The counts of a row that holds the lamp lit."""
        return np.flatnonzero(~self.is_unfit).tolist()

    def counts(self, step: int) -> list[int]:
        """The counts a row at a grid time may have."""
        return self.lit_counts if self.lit[step % self.steps] else [0]

    def row(self, step: int, count: int) -> Row:
        step %= self.steps
        has_relay = self.path.relay.kind == "column"
        relay = (self.lit[step] or not self.path.dark_by_row) if has_relay else None
        return Row(step * self.times.step_s, count, relay)

    def must_stand(self, step: int) -> bool:
        """Whether every legal table has a row at a grid time."""
        if not self.times.wraps and step == 0:
            return True
        if self.lights(step) or self.goes_dark(step):
            return True
        is_before = self.lights(step + 1) and self.leads_to(step + 1)
        return is_before and (
            self.path.lights_by_level or (self.is_guarded and self.path.dark_by_row)
        )

    @functools.cached_property
    def needed(self) -> list[int]:
        """The grid times at which every legal table has a row."""
        return [step for step in range(self.steps) if self.must_stand(step)]

    def faults(self, rows: Sequence[Row]) -> list[str]:
        """What makes a table illegal."""
        found, step_s = [], self.times.step_s
        if not rows:
            return ["no rows"]
        if any(b.second <= a.second for a, b in itertools.pairwise(rows)):
            found.append("the seconds do not rise")
        for row in rows:
            step, off = divmod(row.second, step_s)
            if off or row.count not in self.counts(step) or row != self.row(step, row.count):
                found.append(f"{row} is not legal")
        seconds = {row.second for row in rows}
        found += [f"no row at {s * step_s} s" for s in self.needed if s * step_s not in seconds]
        at = self.samples
        replay = played(tuple(rows), self.times, self.path)
        least, most = (bound[at] for bound in self.allowed)
        broken = self.is_barred(
            replay.counts[at], replay.light[at], least, most, self.meant_lit[at]
        )
        barred = at[broken]
        if barred.size:
            found.append(f"the light at {barred[0]} s breaks a promise")
        return found

    def tables(self, rows_most: int) -> Iterator[list[Row]]:
        """Every legal table of at most so many rows."""
        for number in range(1, rows_most + 1):
            for steps in itertools.combinations(range(self.steps), number):
                if set(self.needed) <= set(steps):
                    for counts in itertools.product(*map(self.counts, steps)):
                        yield [self.row(s, c) for s, c in zip(steps, counts, strict=True)]

    # All of them, piece by piece --------------------------------------------------------------

    @functools.cached_property
    def lights_of(self) -> dict[bool, Floats]:
        """The light of each count, for a row that is meant to be dark or lit."""
        counts = np.arange(self.path.top_count + 1)
        return {
            is_lit: self.path.light(
                counts, np.full(counts.shape, is_lit or not self.path.dark_by_row)
            )
            for is_lit in (False, True)
        }

    @functools.cached_property
    def sample_errors(self) -> dict[bool, Floats]:
        """Errors by sample and count put out, infinite for what is barred."""
        least, most = (bound[self.samples, None] for bound in self.allowed)
        meant_lit = self.meant_lit[self.samples, None]
        counts = np.arange(self.path.top_count + 1)[None]
        return {
            is_lit: np.where(
                self.is_barred(counts, light[None], least, most, meant_lit),
                np.inf,
                strays(light[None], least, most),
            )
            for is_lit, light in self.lights_of.items()
        }

    def held(self, begin: int, stop: int) -> Floats:
        """The worst error of each count held between two grid times, shape (counts,)."""
        at = np.arange(begin * self.times.step_s, stop * self.times.step_s, self.sample_s) % DAY
        light = self.lights_of[self.lit[begin % self.steps]]
        counts = np.arange(light.size)
        worst = np.zeros(light.shape)
        for meant_lit in (False, True):  # the same light for all: the worst of it is at an extreme
            some = at[self.meant_lit[at] == meant_lit]
            if some.size:
                least, most = self.allowed[0][some].max(), self.allowed[1][some].min()
                barred = self.is_barred(counts, light, least, most, np.bool_(meant_lit))
                error = np.where(barred, np.inf, strays(light, least, most))
                worst = np.maximum(worst, error)
        return worst

    def piece(self, begin: int, stop: int) -> Floats:
        """The worst error between rows at two grid times, shape (counts before, counts after)."""
        top = self.path.top_count
        if self.times.between == "hold":
            worst = np.repeat(self.held(begin, stop)[:, None], top + 1, axis=1)
        else:
            per_step = self.times.step_s // self.sample_s
            out = emitted(top, (stop - begin) * self.times.step_s, self.sample_s,
                          self.path.levels.rounding)  # fmt: skip
            errors = self.sample_errors[self.lit[begin % self.steps]]
            at = np.arange(begin * per_step, stop * per_step) % errors.shape[0]
            worst = errors[at[:, None, None], out].max(axis=0)
        barred_from = np.setdiff1d(np.arange(top + 1), self.counts(begin))
        barred_to = np.setdiff1d(np.arange(top + 1), self.counts(stop))
        worst[barred_from, :], worst[:, barred_to] = np.inf, np.inf
        return worst

    @functools.cached_property
    def known_pieces(self) -> dict[tuple[int, int], Floats]:
        return {}

    def known_piece(self, begin: int, stop: int) -> Floats:
        key = (begin, stop)
        if key not in self.known_pieces:
            self.known_pieces[key] = self.piece(begin, stop)
        return self.known_pieces[key]

    def best(self, rows_most: int) -> list[float]:
        """The least worst error of all legal tables, for at most 1, 2 … ``rows_most`` rows."""
        # A day without a row that must stand begins at the first row of the day, wherever it is.
        starts = self.needed[:1] or range(self.steps)
        result = [math.inf] * rows_most
        for start in starts:
            stop = start + self.steps if self.needed else self.steps
            for rows, error in enumerate(self._from(start, stop, rows_most)):
                result[rows] = min(result[rows], error)
        return np.minimum.accumulate(result).tolist()

    def at_times(self, steps: Sequence[int]) -> float:
        """The least worst error of all legal tables with rows at just these grid times, rising."""
        if not set(self.needed) <= set(steps):
            return math.inf
        errors = self._begun()
        for before, after in itertools.pairwise(steps):
            errors = self._extended(errors, before, after)
        return self._closed(steps[-1], steps[0], errors)

    def _from(self, start: int, stop: int, rows_most: int) -> Iterator[float]:
        """The same for exactly so many rows, the first of them at ``start``, all before ``stop``."""
        reached = {start: self._begun()}
        for _ in range(rows_most):
            yield min(
                (self._closed(at, start, errors) for at, errors in reached.items()),
                default=math.inf,
            )
            following: dict[int, Floats] = {}
            for at, errors in reached.items():
                for then in range(at + 1, stop):
                    total = self._extended(errors, at, then)
                    following[then] = np.minimum(following.get(then, math.inf), total)
            reached = following

    def _begun(self) -> Floats:
        """The least error up to a row, by count of the first row and its own: there is one yet."""
        return np.where(np.eye(self.path.top_count + 1, dtype=bool), 0.0, np.inf)

    def _skips(self, begin: int, stop: int) -> bool:
        """Whether a row must stand strictly between."""
        return any(begin < step + turn < stop for step in self.needed for turn in (0, self.steps))

    def _extended(self, errors: Floats, begin: int, stop: int) -> Floats:
        """The same up to the next row."""
        if self._skips(begin, stop):
            return np.full(errors.shape, np.inf)
        return np.maximum(errors[:, :, None], self.known_piece(begin, stop)[None]).min(axis=1)

    def _closed(self, at: int, start: int, errors: Floats) -> float:
        """The least error if a row is the last."""
        end = start + self.steps if self.times.wraps else self.steps
        if self._skips(at, end):
            return math.inf
        if self.times.wraps:  # back to the first row on the next day
            return float(np.maximum(errors, self.known_piece(at, end).T).min())
        held = np.full(errors.shape[1], np.inf)
        held[self.counts(at)] = self.held(at, end)[self.counts(at)]
        return float(np.maximum(errors, held).min())
