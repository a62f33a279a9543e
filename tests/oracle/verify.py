"""Verify a certificate without any code of the fit: measure the table, and look for a better one.

The measure is written out here anew, from `docs/setpoints.md`; the table is played by the replay,
which is the specification of the player. The search is plain: every corner that any piece reaches is
kept, nothing is pruned. It takes seconds to minutes where the fit takes milliseconds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import play
from photoperiod.units import SECONDS_PER_DAY

#: Errors of light that differ by less are the same [fraction of full].
SLACK = 1e-9

#: A bound may be this much above what is refuted here: the resolution of the proof.
RESOLUTION = 2e-7

#: The same of a joint bound [share of peak].
JOINT_RESOLUTION = 2e-6

#: A channel whose error is above its floor by less stands at its floor [fraction of full].
FLOOR_SLACK = 1e-7

#: Slopes closer than this to the edge of what passes are looked at in whole numbers.
NEAR = 1e-6

#: Labels that the plain joint search keeps at most.
MOST_LABELS = 300_000

_NEVER = np.iinfo(np.int32).max


class TooLarge(Exception):
    """The plain search would take too long; a coarser time step is needed."""


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
    """

    rows: Sequence[Row]
    row_limit: int
    error: float
    bound: float
    sample_s: int
    tolerance_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JointClaim:
    """What the certificates of channels with one column of times claim together.

    Parameters
    ----------
    claims : sequence of Claim
        Of each channel; their bounds are not looked at.
    weights, floors : sequence of float
        Weight of each channel, and the error that it is said no number of rows would beat.
        [1; fraction of full]
    error, bound : float
        The joint error and what no column within the rows has less than. [share of peak]
    """

    claims: Sequence[Claim]
    weights: Sequence[float]
    floors: Sequence[float]
    error: float
    bound: float


def faults(claim: Claim, reachable: Floats, times: TimeGrid, path: LightPath) -> list[str]:
    """Return what is wrong with a claim, nothing if it stands.

    Parameters
    ----------
    claim : Claim
        The claim.
    reachable : ndarray, shape (86400,)
        The reachable plan at each second. [fraction of full]
    times, path : TimeGrid, LightPath
        How the controller plays, and what becomes of its levels.
    """
    day = _Day(claim, reachable, times, path)
    found = day.row_faults()
    error = day.error()
    if abs(error - claim.error) > SLACK:
        found.append(f"the error is {error:.9f}, not {claim.error:.9f}")
    if claim.bound > error + SLACK:
        found.append(f"the bound {claim.bound:.9f} is above the table's own error {error:.9f}")
    elif claim.bound > RESOLUTION:
        better = day.fewest_rows(claim.bound - RESOLUTION)
        if better is not None and better <= claim.row_limit:
            found.append(f"{better} rows do better than the bound {claim.bound:.9f}")
    return found


def joint_faults(
    joint: JointClaim, reachables: Sequence[Floats], times: TimeGrid, paths: Sequence[LightPath]
) -> list[str]:
    """Return what is wrong with the claims of channels that share their times.

    Parameters
    ----------
    joint : JointClaim
        The claims.
    reachables, paths : sequences
        The reachable plan and the light path of each channel, as for `faults`.
    times : TimeGrid
        How the controller plays.

    Raises
    ------
    TooLarge
        If the plain search would keep more than `MOST_LABELS` labels.
    """
    days = [
        _Day(claim, reachable, times, path)
        for claim, reachable, path in zip(joint.claims, reachables, paths, strict=True)
    ]
    found = []
    if len({tuple(row.second for row in claim.rows) for claim in joint.claims}) > 1:
        found.append("the channels' rows do not stand at the same times")
    scales, measured = [], 0.0
    for number, (day, weight, floor) in enumerate(
        zip(days, joint.weights, joint.floors, strict=True)
    ):
        found += [f"channel {number}: {fault}" for fault in day.row_faults()]
        error = day.error()
        if abs(error - day.claim.error) > SLACK:
            found.append(f"channel {number}: the error is {error:.9f}, not {day.claim.error:.9f}")
        if floor > RESOLUTION and day.fewest_rows(floor - RESOLUTION) is not None:
            found.append(f"channel {number}: rows enough do better than the floor {floor:.9f}")
        scales.append((float(day.reachable.max()) or 1.0) / weight)
        if error > floor + FLOOR_SLACK:
            measured = max(measured, error / scales[-1])
    if abs(measured - joint.error) > JOINT_RESOLUTION:
        found.append(f"the joint error is {measured:.9f}, not {joint.error:.9f}")
    if joint.bound > measured + JOINT_RESOLUTION:
        found.append(f"the joint bound {joint.bound:.9f} is above the error {measured:.9f}")
    elif joint.bound > JOINT_RESOLUTION:
        least = joint.bound - JOINT_RESOLUTION
        errors = [
            max(least * scale, floor + FLOOR_SLACK)
            for scale, floor in zip(scales, joint.floors, strict=True)
        ]
        better = _Column(days, errors).fewest_rows()
        if better is not None and better <= joint.claims[0].row_limit:
            found.append(f"{better} rows do better than the joint bound {joint.bound:.9f}")
    return found


class _Day:
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
        least, most = self.reachable.copy(), self.reachable.copy()
        for shift in range(1, self.claim.tolerance_s + 1):
            for moved in (np.roll(self.reachable, shift), np.roll(self.reachable, -shift)):
                np.minimum(least, moved, out=least)
                np.maximum(most, moved, out=most)
        if self.is_held:
            return least, most
        for number in np.flatnonzero(self.lit != np.roll(self.lit, 1)):
            if number == 0 and not self.times.wraps:  # until midnight the level is held
                continue
            edge = np.arange(number * self.step - self.step + 1, number * self.step)
            edge %= SECONDS_PER_DAY
            if not self.lit[number]:
                least[edge] = 0.0
            elif self.path.dark_by_level:
                most[edge] = np.maximum(most[edge], most[number * self.step])
        return least, most

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
        light = self.path.burning_light
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
                if self.path.dark_by_level and not self.is_held and (wraps or start > 0):
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
        reach = _Reach(bottom, top, per, rounding, 0 if has_end else None, self.first)
        best = np.full((size + 1, int(top.max()) + 1), _NEVER, dtype=np.int64)
        best[0, max(int(bottom[0]), self.first) : top[0] + 1] = 1
        least = _NEVER
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
        return None if least == _NEVER else least

    def _fewest_of_circle(self, bottom: Ints, top: Ints) -> int | None:
        """Return the fewest rows of a day without darkness.

        No piece from a corner before a window reaches beyond it, so some row stands inside; every
        corner inside is tried as the beginning and the end of the day.
        """
        if (bottom > top).any():
            return None
        if int(bottom.max()) <= int(top.min()):
            return 1
        if self.is_held:
            held = [_fewest_held(np.roll(bottom, -n), np.roll(top, -n)) for n in range(bottom.size)]
            return min(n for n in held if n is not None)
        size, per = bottom.size, self.per_step
        twice = _Reach(np.tile(bottom, 3), np.tile(top, 3), per, self.path.levels.rounding, None)
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
            for count in range(int(bottom[index]), int(top[index]) + 1)
        ])  # fmt: skip
        least = _NEVER
        for begin, first in starts:
            index = begin % size
            found = _closed(twice, index, first, size, per, int(top.max()) + 1, least)
            least = min(least, found)
        return None if least == _NEVER else least


def _closed(reach: _Reach, begin: int, first: int, size: int, per: int, width: int,
            least: int) -> int:  # fmt: skip
    """Return the fewest rows of a day that begins and ends at one corner."""
    best = np.full((size + 1, width), _NEVER, dtype=np.int64)
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
    best = [0] + [_NEVER] * bottom.size
    for begin in range(bottom.size):
        low, high = 0, _NEVER
        for stop in range(begin, bottom.size):
            low, high = max(low, int(bottom[stop])), min(high, int(top[stop]))
            if low > high:
                break
            best[stop + 1] = min(best[stop + 1], best[begin] + 1)
    return None if best[-1] >= _NEVER else best[-1]


class _Reach:
    """Where one piece from a corner may end."""

    def __init__(
        self,
        bottom: Ints,
        top: Ints,
        per_step: int,
        rounding: str,
        end: int | None,
        first: int = 0,
    ) -> None:
        self.bottom, self.top, self.per, self.end = bottom, top, per_step, end
        self.first = first
        self.rounding = rounding
        self._known: dict[tuple[int, int], list[tuple[int, int, int]]] = {}

    def of(self, index: int, count: int) -> list[tuple[int, int, int]]:
        """Return (index, least count, greatest count) of all ends, indices rising."""
        key = (index, count)
        if key not in self._known:
            self._known[key] = sorted(self._ends(index, count))
        return self._known[key]

    def _ends(self, index: int, count: int) -> Iterator[tuple[int, int, int]]:
        size = self.bottom.size
        last = size - 1 if self.end is None else size
        elapsed = np.arange(1, last - index + 1)
        inner = np.minimum(index + elapsed, size - 1)
        for below, above, rising in _sides(self.rounding):
            flattest = (self.bottom[inner] + below - count) / elapsed
            steepest = (self.top[inner] + above - count) / elapsed
            # A piece to an end passes the gates before it.
            floor = -np.inf if rising is not True else 0.0
            roof = np.inf if rising is not False else 0.0
            flattest = np.maximum.accumulate(np.concatenate(([floor], flattest)))[:-1]
            steepest = np.minimum.accumulate(np.concatenate(([roof], steepest)))[:-1]
            shut = np.flatnonzero(flattest > steepest + NEAR)
            open_until = int(shut[0]) if shut.size else elapsed.size
            for d in elapsed[:open_until].tolist():
                stop = index + d
                if stop % self.per and stop != size:
                    continue
                low, high = count + flattest[d - 1] * d, count + steepest[d - 1] * d
                if stop == size:
                    assert self.end is not None
                    least = greatest = self.end
                    if not low - NEAR <= self.end <= high + NEAR:
                        continue
                else:
                    least = max(int(self.bottom[stop]), self.first)
                    greatest = int(self.top[stop])
                    if np.isfinite(low):
                        least = max(least, int(np.ceil(low - NEAR)))
                    if np.isfinite(high):
                        greatest = min(greatest, int(np.floor(high + NEAR)))
                while (
                    least <= greatest
                    and least < low + NEAR
                    and not self._passes(index, count, stop, least)
                ):
                    least += 1
                while (
                    least <= greatest
                    and greatest > high - NEAR
                    and not self._passes(index, count, stop, greatest)
                ):
                    greatest -= 1
                if least <= greatest:
                    yield stop, least, greatest

    def _passes(self, index: int, count: int, stop: int, end: int) -> bool:
        """Return whether the counts put out on one piece stay between the gates, in integers."""
        elapsed = np.arange(stop - index)
        product, span = (end - count) * elapsed, stop - index
        if self.rounding == "half-up":
            moved = (2 * product + span) // (2 * span)
        elif self.rounding == "down":
            moved = product // span
        else:
            moved = np.sign(product) * (np.abs(product) // span)
        out = count + moved
        inside = (out >= self.bottom[index:stop]) & (out <= self.top[index:stop])
        return bool(inside.all())


def _sides(rounding: str) -> tuple[tuple[float, float, bool | None], ...]:
    """Return how far the line may leave whole counts: below, above, and for which slope."""
    if rounding == "half-up":
        return ((-0.5, 0.5, None),)
    if rounding == "down":
        return ((0.0, 1.0, None),)
    return ((0.0, 1.0, True), (-1.0, 0.0, False))


class _Column:
    """Channels with one column of times, each with an error that it must keep."""

    def __init__(self, days: Sequence[_Day], errors: Sequence[float]) -> None:
        self.days = days
        self.gates = [day.gates(error) for day, error in zip(days, errors, strict=True)]
        self.wraps = days[0].times.wraps
        self.per = days[0].per_step
        self.steps = days[0].lit.size
        self._known: dict[tuple[int, int, int, int], tuple[tuple[int, int], ...]] = {}

    def _lit(self, number: int, step: int) -> bool:
        return bool(self.days[number].lit[step % self.steps])

    def _forced(self) -> set[int]:
        found = set() if self.wraps else {0}
        for day in self.days:
            for step in np.flatnonzero(day.lit != np.roll(day.lit, 1)).tolist():
                found.add(step)
                needs_zero = day.path.dark_by_level and not day.is_held and day.lit[step]
                if needs_zero and (self.wraps or step > 0):
                    found.add((step - 1) % self.steps)
        return found

    def fewest_rows(self) -> int | None:
        """Return the fewest rows with which every channel keeps its error, None if none do.

        A label is, for each channel, the set of (count at the cut, count now); −1 stands for dark,
        and for a cut at which the channel was dark.
        """
        forced = self._forced()
        cuts = sorted(forced)[:1] if forced else range(self.steps)
        found = [self._from(cut, forced) for cut in cuts]
        return min((rows for rows in found if rows is not None), default=None)

    def _from(self, cut: int, forced: set[int]) -> int | None:
        begin = []
        for number in range(len(self.days)):
            counts = self._counts(number, cut) if self._lit(number, cut) else [-1]
            through = self.wraps and self._lit(number, cut) and self._lit(number, cut - 1)
            begin.append(frozenset((c if through else -1, c) for c in counts))
        layers: dict[int, set[tuple[frozenset[tuple[int, int]], ...]]] = {cut: {tuple(begin)}}
        stop = cut + self.steps
        kept = 0
        for rows in range(1, self.steps + 1):
            following: dict[int, set[tuple[frozenset[tuple[int, int]], ...]]] = {}
            for step in sorted(layers):
                end = next(
                    s for s in range(step + 1, stop + 1) if s % self.steps in forced or s == stop
                )
                for label in sorted(layers[step], key=repr):
                    if not self.wraps and self._holds(label, step):
                        return rows
                    for then in range(step + 1, end + 1):
                        if then == stop and not self.wraps:
                            continue
                        moved = self._moved(label, step, then)
                        if moved is None:
                            continue
                        if then == stop:
                            if all(any(s in (-1, c) for s, c in pairs) for pairs in moved):
                                return rows
                            continue
                        following.setdefault(then, set()).add(moved)
            kept += sum(len(labels) for labels in following.values())
            if kept > MOST_LABELS:
                raise TooLarge
            if not following:
                return None
            layers = following
        return None

    def _counts(self, number: int, step: int) -> range:
        bottom, top = self.gates[number]
        at = step * self.per % bottom.size
        return range(max(int(bottom[at]), self.days[number].first), int(top[at]) + 1)

    def _holds(self, label: tuple[frozenset[tuple[int, int]], ...], step: int) -> bool:
        for number, pairs in enumerate(label):
            if not self._lit(number, step):
                if any(self._lit(number, later) for later in range(step, self.steps)):
                    return False
                continue
            if not all(self._lit(number, later) for later in range(step, self.steps)):
                return False
            bottom, top = self.gates[number]
            low, high = int(bottom[step * self.per :].max()), int(top[step * self.per :].min())
            if self.days[number].is_held:
                if low > high:
                    return False
            elif not any(low <= count <= high for _, count in pairs):
                return False
        return True

    def _moved(
        self, label: tuple[frozenset[tuple[int, int]], ...], step: int, then: int
    ) -> tuple[frozenset[tuple[int, int]], ...] | None:
        """Return the label one row on, None if some channel does not get there."""
        result = []
        for number, pairs in enumerate(label):
            was, will = self._lit(number, step), self._lit(number, then)
            ends: set[tuple[int, int]] = set()
            for start, count in pairs:
                if not was:
                    counts = self._counts(number, then) if will else [-1]
                    ends |= {(start, end) for end in counts}
                    continue
                for low, high in self._piece(number, step, then, count):
                    if not will and low <= 0 <= high:
                        ends.add((start, -1))
                    elif will:
                        allowed = self._counts(number, then)
                        ends |= {(start, c) for c in allowed if low <= c <= high}
            if not ends:
                return None
            result.append(frozenset(ends))
        return tuple(result)

    def _piece(self, number: int, step: int, then: int, count: int) -> tuple[tuple[int, int], ...]:
        """Return the ranges of counts in which a piece may end, whatever the gate there."""
        key = (number, step % self.steps, then - step, count)
        if key in self._known:
            return self._known[key]
        bottom, top = self.gates[number]
        at = np.arange(step * self.per, then * self.per) % bottom.size
        if self.days[number].is_held:
            fits = (bottom[at] <= count).all() and (top[at] >= count).all()
            result: tuple[tuple[int, int], ...] = ((0, _NEVER),) if fits else ()
        else:
            wide = int(self.days[number].path.top_count)
            reach = _Reach(
                np.append(bottom[at], 0),
                np.append(top[at], wide),
                at.size,
                self.days[number].path.levels.rounding,
                None,
            )
            result = tuple((low, high) for _, low, high in reach.of(0, count))
        self._known[key] = result
        return result
