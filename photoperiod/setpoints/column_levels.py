"""The counts of one channel at the times of a column, closest to its plan.

For given times the channels of a column do not depend on each other. So the counts of each are
chosen alone: of those that keep its bands, the ones with the least mean square.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from photoperiod.arrays import AnyInts, Floats, Ints
from photoperiod.drive.grid import Between
from photoperiod.setpoints.columns import ColumnChannel
from photoperiod.setpoints.cones import Reach
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.held import nearest_held_count
from photoperiod.setpoints.least_squares import BLOCK, Cost
from photoperiod.setpoints.shared_problem import SharedProblem
from photoperiod.setpoints.tolerance import Ladder
from photoperiod.setpoints.work import WorkSpent


def levels_of(
    problem: SharedProblem,
    number: int,
    times: Sequence[int],
    error: float,
    work: WorkSpent,
    shift: float = 0.0,
) -> dict[int, int] | None:
    """Return the counts of a channel at given times, closest to its plan within a joint error.

    Parameters
    ----------
    problem : SharedProblem
        The channels.
    number : int
        Which of them.
    times : sequence of int
        Steps in the order of the day from the cut on.
    error : float
        The joint error.
    work : WorkSpent
        Bounds the work.
    shift : float
        The plan is moved by so much light while it is lit. [fraction of full]

    Returns
    -------
    dict or None
        The count at each time at which it is lit; None if none keep the error.
    """
    channel = problem.channels[number]
    wanted = np.maximum(channel.wanted.middle + shift, 0.0)
    bands = problem.at_error(error)[number]
    return _Levels(problem, times, bands, channel.ladder, wanted, work).closest()


class _Levels:
    """The counts of one channel at given times.

    Parameters
    ----------
    problem : SharedProblem
        All channels.
    times : sequence of int
        Steps in the order of the day from the cut on.
    channel : ColumnChannel
        The bands of this channel.
    ladder : Ladder
        Light of every count of this channel.
    wanted : ndarray, shape (samples,)
        Its plan at the samples of the day. [fraction of full]
    work : WorkSpent
        Bounds the work.
    """

    def __init__(
        self,
        problem: SharedProblem,
        times: Sequence[int],
        channel: ColumnChannel,
        ladder: Ladder,
        wanted: Floats,
        work: WorkSpent,
    ) -> None:
        self.problem, self.channel, self.work = problem, channel, work
        self.ladder, self.wanted = ladder, wanted
        steps, cut = problem.steps, times[0]
        self.begins = [cut + (time - cut) % steps for time in times]
        self.ends = [*self.begins[1:], cut + steps]

    def _is_lit(self, step: int) -> bool:
        return bool(self.channel.lit[step % self.problem.steps])

    def closest(self) -> dict[int, int] | None:
        """Return the count at each lit step, None if no counts keep the band."""
        if self.problem.between == Between.HOLD:
            return self._held()
        lit = [self._is_lit(begin) for begin in self.begins]
        pieces = len(lit)
        if not any(lit):
            return {}
        wraps = self.problem.wraps
        opens = [
            k for k in range(pieces)
            if lit[k] and ((k == 0 and not wraps) or not self._is_lit(self.begins[k] - 1))
        ]  # fmt: skip
        found: dict[int, int] = {}
        if not opens:  # lit all day and night
            return self._circle()
        for first in opens:
            run: list[int] = []
            k = first
            while lit[k % pieces] and (not run or k % pieces not in opens):
                run.append(k % pieces)
                k += 1
                if k == pieces and not wraps:
                    break
            part = self._along(run, None)
            if part is None:
                return None
            found |= part[1]
        return found

    def _held(self) -> dict[int, int] | None:
        """Return for each row the count nearest to the mean of the plan while it is held."""
        found = {}
        per, size = self.problem.grid, self.channel.band.low.size
        for begin, end in zip(self.begins, self.ends, strict=True):
            if not self._is_lit(begin):
                continue
            at = np.arange(begin * per, end * per) % size
            least = max(int(self.channel.band.low[at].max()), self.channel.first)
            least = -(-least // self.channel.stride) * self.channel.stride
            most = int(self.channel.band.high[at].min())
            if least > most:
                return None
            mean = float(self.wanted[at].mean())
            found[begin % self.problem.steps] = nearest_held_count(
                self.ladder, mean, least, most, self.channel.stride
            )
        return found

    def _circle(self) -> dict[int, int] | None:
        """Return the counts of a channel that is lit all day: it ends with the count it begins with."""
        best: tuple[float, dict[int, int]] | None = None
        for count in self._counts(self.begins[0]).tolist():
            part = self._along(list(range(len(self.begins))), count)
            if part is not None and (best is None or part[0] < best[0]):
                best = part
        return None if best is None else best[1]

    def _counts(self, step: int) -> Ints:
        """Return the counts that may stand at a step."""
        at, stride = step * self.problem.grid % self.channel.band.low.size, self.channel.stride
        least = max(int(self.channel.band.low[at]), self.channel.first)
        return np.arange(-(-least // stride) * stride, int(self.channel.band.high[at]) + 1, stride)

    def _along(self, run: list[int], closed: int | None) -> tuple[float, dict[int, int]] | None:
        """Return cost and counts along some pieces, from and to a count if one is given.

        Piece by piece the cheapest way to each count is kept (Bellman's recursion): the cost of
        what follows depends on the count only, not on the way to it.
        """
        counts = self._counts(self.begins[run[0]])
        if closed is not None:
            counts = counts[counts == closed]
        cost = np.zeros(counts.size)
        trail: list[tuple[Ints, Ints]] = []
        for number, k in enumerate(run):
            is_last = number == len(run) - 1
            moved = self._piece(k, counts, closed if is_last else None)
            if moved is None:
                return None
            source, reached, total = moved
            for part in _parts(source.size):
                total[part] += cost[source[part]]
            following, best_of, first_of = _cheapest(source, reached, total)
            trail.append((counts, first_of))
            cost, counts = best_of, following
        at = int(cost.argmin())
        best = float(cost[at])
        found = {}
        for k, (had, source) in zip(reversed(run), reversed(trail), strict=True):
            at = int(source[at])
            found[self.begins[k] % self.problem.steps] = int(had[at])
        return best, found

    def _piece(
        self, k: int, counts: Ints, closed: int | None
    ) -> tuple[AnyInts, AnyInts, Floats] | None:
        """Return (number of a count, count reached, cost) for all ways along a piece."""
        problem, band = self.problem, self.channel.band
        begin, end = self.begins[k], self.ends[k]
        length = (end - begin) * problem.grid
        ends_day = not problem.wraps and k == len(self.begins) - 1
        goes_on = not ends_day and self._is_lit(end)
        at = np.arange(begin * problem.grid, begin * problem.grid + length + goes_on)
        at %= band.low.size
        run = Corridor(
            low=band.low[at],
            high=band.high[at],
            grid=1,
            first=self.channel.first,
            end=None if goes_on or ends_day else 0,
            rounding=problem.rounding,
            stride=self.channel.stride,
        )
        cost_of = Cost(run, self.ladder, self.wanted[at])
        here = np.zeros(counts.size, dtype=np.int64)
        source: AnyInts
        reached: AnyInts
        if ends_day:
            source = np.flatnonzero(run.holds_to_end(here, counts))
            reached = counts[source]
        else:
            useful = np.zeros(run.length + 1, dtype=bool)
            useful[length] = True
            source, _, reached = Reach(run, self.work).corners(here, counts, useful)
        if closed is not None:
            source, reached = source[reached == closed], reached[reached == closed]
        if not source.size:
            return None
        cost, begins, ends = np.empty(source.size), np.zeros(1, dtype=np.int64), np.array([length])
        for part in _parts(source.size):
            cost[part] = cost_of(begins, counts[source[part]], ends, reached[part])
        return source, reached, cost


def _parts(size: int) -> Iterator[slice]:
    """Yield parts of an array of millions, so that few numbers are held beside it."""
    return (slice(start, start + BLOCK) for start in range(0, size, BLOCK))


def _cheapest(source: AnyInts, reached: AnyInts, total: Floats) -> tuple[Ints, Floats, Ints]:
    """Return the counts that are reached, rising, with the least cost and the first source of each."""
    least, size = int(reached.min()), int(reached.max() - reached.min()) + 1
    best, first = np.full(size, np.inf), np.full(size, np.iinfo(np.int64).max)
    for part in _parts(source.size):
        np.minimum.at(best, reached[part] - least, total[part])
    for part in _parts(source.size):
        at = reached[part] - least
        is_best = total[part] == best[at]
        np.minimum.at(first, at[is_best], source[part][is_best])
    found = np.flatnonzero(np.isfinite(best))
    return found + least, best[found], first[found]
