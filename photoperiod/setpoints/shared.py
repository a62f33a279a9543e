"""The best tables of channels that share one column of times, with proof.

Channels differ in what an error means: 2 % of full is nothing to a noon and everything to a
moonlight. So an error counts as a share of the channel's own peak, times its weight, and a channel
that stands at its own floor, which no number of rows would beat, holds nobody back: the *joint
error* of some tables is the least x at which every channel's error is at most x × peak ÷ weight or
its floor. The search makes x least; counts at the rows it finds are then those closest to the plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.drive.grid import Between, Rounding
from photoperiod.setpoints.columns import (
    Column,
    ColumnChannel,
    fewest_times,
    hold_times,
    least_rows,
)
from photoperiod.setpoints.least_squares import Cost
from photoperiod.setpoints.segments import Corridor, Reach, WorkSpent, farthest
from photoperiod.setpoints.tolerance import Ladder, Wanted

#: Joint errors that differ by less are the same [share of peak].
RESOLUTION = 1e-6

#: A joint error is proven to this share of itself.
PROOF_SHARE = 0.01

#: Growth of the joint error while no column fits yet.
GROWTH = 1.15

#: An error above the floor by less is the floor's [fraction of full].
FLOOR_SLACK = 1e-7

#: The same after an error that took too much work.
COARSE_GROWTH = 1.4

#: One error may take this part of the work.
SLICES = 5

#: How many of the windows that demand a row are looked at on a day without any switching.
WINDOWS = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharer:
    """One channel of a column.

    Parameters
    ----------
    wanted : Wanted
        Light wanted at every sample.
    ladder : Ladder
        Light of every count.
    lit : ndarray, shape (steps,)
        Whether it is lit in each time step.
    scale : float
        Light that counts as a joint error of 1: its peak over its weight. [fraction of full]
    floor : float
        The least error that any number of rows of its own gives. [fraction of full]
    """

    wanted: Wanted
    ladder: Ladder
    lit: Bools
    scale: float
    floor: float

    def tolerance(self, joint_error: float) -> float:
        """Return the error this channel may have at a joint error. [fraction of full]"""
        return max(joint_error * self.scale, self.floor + FLOOR_SLACK)

    def joint_error(self, error: float) -> float:
        """Return the joint error that an error of this channel means."""
        return 0.0 if error <= self.floor + FLOOR_SLACK else error / self.scale


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedProblem:
    """Some channels with one column of times.

    ``forced`` are the steps at which rows must stand; ``grid``, ``rounding``, ``between`` and
    ``wraps`` are those of `joint.Column`. ``counts_most`` bounds the counts that are tried in a gate;
    None for all of them. What is refused then is no proof.
    """

    sharers: Sequence[Sharer]
    forced: frozenset[int]
    grid: int
    rounding: Rounding
    between: Between
    wraps: bool
    counts_most: int | None = None

    @property
    def steps(self) -> int:
        """Time steps in a day."""
        return int(self.sharers[0].lit.size)


#: For every channel the count at each step that has a row while it is lit.
Levels = Sequence[Mapping[int, int]]


@dataclass(frozen=True, slots=True)
class SharedSolution:
    """Times and levels, the joint error they have, and what no column within the rows can beat.

    Without times nothing better than a known table was found.
    """

    times: tuple[int, ...]
    levels: Levels
    error: float
    bound: float

    @property
    def is_proven(self) -> bool:
        """True if no other column is better by more than the proof's resolution."""
        return bool(self.times) and self.error - self.bound <= max(
            2 * PROOF_SHARE * self.bound, 2 * RESOLUTION
        )


Evaluate = Callable[[Sequence[int], Levels], float]


def solve_shared(
    problem: SharedProblem,
    rows: int,
    evaluate: Evaluate,
    known_error: float,
    work_limit: int,
    proof_share: float = PROOF_SHARE,
) -> SharedSolution:
    """Return the best column within some rows.

    Parameters
    ----------
    problem : SharedProblem
        The channels.
    rows : int
        Rows the column may have.
    evaluate : callable
        Gives the joint error of times and levels, by playing them.
    known_error : float
        A joint error that some column is known to have.
    work_limit : int
        Bounds the work, in gates looked at. No single error gets more than a part of it; of those
        that would take more it is not known whether a column fits.
    proof_share : float
        The error is proven to this share of itself.
    """
    low = bound_of(problem, rows, known_error)
    best: SharedSolution | None = None
    left = work_limit
    # Errors up to this one were refused, or took so much work that it is not known.
    refused, growth = low, GROWTH
    error = min(low * 1.02 + RESOLUTION, known_error) if low > 0 else 0.0
    while left > 0 and (best is None or best.error - refused > max(proof_share * low, RESOLUTION)):
        work = WorkSpent(min(max(work_limit // SLICES, 1), left))
        try:
            found = _attempt(problem, error, rows, evaluate, low, work)
            if found is not None:
                best = found
            else:
                low = error if refused == low else low
                refused = error
        except WorkSpent.Exhausted:
            refused, growth = max(error, refused + RESOLUTION), COARSE_GROWTH
        left -= work.spent
        if best is not None:
            error = (refused + best.error) / 2
        elif refused >= known_error:
            break
        else:
            error = min(max(refused * growth, 1e-4), known_error)
    if best is None:
        return SharedSolution((), (), known_error, low)
    return replace(best, bound=min(low, best.error))


def _attempt(problem: SharedProblem, error: float, rows: int, evaluate: Evaluate, low: float,
             work: WorkSpent) -> SharedSolution | None:  # fmt: skip
    times = times_for(problem, error, rows, work)
    if times is None:
        return None
    levels = []
    for number in range(len(problem.sharers)):
        counts = levels_of(problem, number, times, error, work)
        assert counts is not None, "times were found without counts"
        levels.append(counts)
    return SharedSolution(times, tuple(levels), min(evaluate(times, levels), error), low)


def polish(problem: SharedProblem, solution: SharedSolution, evaluate: Evaluate, tries: int,
           work: WorkSpent) -> SharedSolution:  # fmt: skip
    """Return the counts of least joint error at the times of a solution, as far as some tries go."""
    low = solution.bound
    try:
        for _ in range(tries):
            if solution.error - low <= max(PROOF_SHARE * low, RESOLUTION):
                break
            middle = (low + solution.error) / 2
            counts = [levels_of(problem, n, solution.times, middle, work)
                      for n in range(len(problem.sharers))]  # fmt: skip
            levels = [c for c in counts if c is not None]
            if len(levels) < len(counts):
                low = middle
            else:
                error = min(evaluate(solution.times, levels), middle)
                solution = replace(solution, levels=levels, error=error)
    except WorkSpent.Exhausted:
        pass
    return solution


def times_for(
    problem: SharedProblem, error: float, rows: int, work: WorkSpent
) -> tuple[int, ...] | None:
    """Return times of at most so many rows that keep a joint error, None if there are none."""
    strands = _strands(problem, error)
    search = hold_times if problem.between == Between.HOLD else fewest_times
    for cut in _cuts(problem, strands):
        found = search(_column(problem, strands, cut), rows, work)
        if found is not None:
            return found
    return None


def fewest_for(problem: SharedProblem, error: float, work: WorkSpent) -> int | None:
    """Return the fewest rows that keep a joint error, None if no number of them does."""
    strands = _strands(problem, error)
    search = hold_times if problem.between == Between.HOLD else fewest_times
    least: int | None = None
    for cut in _cuts(problem, strands):
        most = problem.steps if least is None else least - 1
        found = search(_column(problem, strands, cut), most, work)
        least = least if found is None else len(found)
    return least


def bound_of(problem: SharedProblem, rows: int, known_error: float) -> float:
    """Return a joint error that no column within some rows can beat."""
    if problem.between == Between.HOLD:
        return 0.0
    if _relaxed_fits(problem, 0.0, rows):
        return 0.0
    low, high = 0.0, known_error
    for _ in range(10):
        middle = (low + high) / 2
        if _relaxed_fits(problem, middle, rows):
            high = middle
        else:
            low = middle
    return low


def rows_needed(problem: SharedProblem, work: WorkSpent) -> int:
    """Return the fewest rows with which every channel is lit and dark as planned."""
    anything = max(1.0 / s.scale for s in problem.sharers)
    if problem.between == Between.HOLD:
        found = times_for(problem, anything, problem.steps, work)
        return 1 if found is None else len(found)
    strands = _strands(problem, anything)
    return least_rows(_column(problem, strands, _cuts(problem, strands)[0])) or 1


def most_counts(problem: SharedProblem, error: float) -> int:
    """Return how many counts the widest gate has at a joint error."""
    return max(strand.widest for strand in _strands(problem, error)) + 1


def _relaxed_fits(problem: SharedProblem, error: float, rows: int) -> bool:
    strands = _strands(problem, error)
    cut = _cuts(problem, strands)[0] if problem.forced else 0
    least = least_rows(_column(problem, strands, cut))
    # A day without a forced row may be cut beside its rows, which costs at most one piece more.
    return least is not None and least - (not problem.forced) <= rows


def _strands(problem: SharedProblem, error: float) -> list[ColumnChannel]:
    strands = [
        ColumnChannel(
            band=s.ladder.band(s.wanted, s.tolerance(error)), lit=s.lit, first=s.ladder.first
        )
        for s in problem.sharers
    ]
    if problem.counts_most is None:
        return strands
    return [
        replace(strand, stride=1 << (strand.widest // problem.counts_most).bit_length())
        if strand.widest >= problem.counts_most
        else strand
        for strand in strands
    ]


def _column(problem: SharedProblem, strands: Sequence[ColumnChannel], cut: int) -> Column:
    forced = sorted(problem.forced | {cut})
    at = forced.index(cut)
    later = [*forced[at:], *(step + problem.steps for step in forced[:at])]
    return Column(
        strands=strands,
        forced=tuple(later),
        grid=problem.grid,
        rounding=problem.rounding,
        between=problem.between,
        wraps=problem.wraps,
    )


def _cuts(problem: SharedProblem, strands: Sequence[ColumnChannel]) -> Sequence[int]:
    """Return steps of which one must have a row; one is enough where a row is forced.

    Of forced rows the one is taken at which the fewest channels are lit before and after.
    """
    if not problem.wraps:
        return (0,)
    if not problem.forced:
        return _windows(problem, strands)

    def through(step: int) -> tuple[int, int]:
        both = [s for s in strands if s.lit[step] and s.lit[step - 1]]
        at = step * problem.grid
        return sum(int(s.band.high[at] - s.band.low[at]) + 1 for s in both), step

    return (min(problem.forced, key=through),)


def _windows(problem: SharedProblem, strands: Sequence[ColumnChannel]) -> Sequence[int]:
    """Return the steps of the shortest window found that no single line of some channel passes.

    One step will do if one level suits every channel all day.
    For held levels: of the longest stretch from the beginning of the day that one level can last.
    """
    size = problem.steps * problem.grid
    best: Sequence[int] = range(problem.steps)  # some row stands somewhere, at the least
    is_wanted = False
    for strand in strands:
        run = Corridor(low=strand.band.low, high=strand.band.high, grid=1, first=0, end=None,
                  rounding=problem.rounding)  # fmt: skip
        if (run.low > run.high).any():
            return (0,)  # nothing fits at all
        if int(run.low.max()) <= int(run.high.min()):
            continue  # one level suits this channel all day
        is_wanted = True
        if problem.between == Between.HOLD:
            lasts = int(np.argmax(np.maximum.accumulate(run.low) > np.minimum.accumulate(run.high)))
            best = min(best, range(lasts // problem.grid + 1), key=len)
            continue
        low, high = run.real_ends()
        lows, highs = np.tile(low, 2).tolist(), np.tile(high, 2).tolist()
        for stop in range(size, 2 * size, max(size // WINDOWS, 1)):
            begin = farthest(lows, highs, stop)
            if stop - begin >= size:
                continue
            # No line passes begin − 1 .. stop, so a row stands strictly between.
            inside = range(-(-begin // problem.grid), -(-stop // problem.grid))
            best = min(best, [step % problem.steps for step in inside], key=len)
    return best if is_wanted else (0,)


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
    sharer = problem.sharers[number]
    wanted = replace(sharer.wanted, middle=np.maximum(sharer.wanted.middle + shift, 0.0))
    strand = _strands(problem, error)[number]
    return _Levels(problem, times, replace(sharer, wanted=wanted), strand, work).closest()


class _Levels:
    """The counts of one channel at given times."""

    def __init__(self, problem: SharedProblem, times: Sequence[int], sharer: Sharer,
                 strand: ColumnChannel, work: WorkSpent) -> None:  # fmt: skip
        self.problem, self.sharer, self.strand, self.work = problem, sharer, strand, work
        steps, cut = problem.steps, times[0]
        self.begins = [cut + (time - cut) % steps for time in times]
        self.ends = [*self.begins[1:], cut + steps]

    def _is_lit(self, step: int) -> bool:
        return bool(self.strand.lit[step % self.problem.steps])

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
        found = {}
        per, size = self.problem.grid, self.strand.band.low.size
        for begin, end in zip(self.begins, self.ends, strict=True):
            if not self._is_lit(begin):
                continue
            at = np.arange(begin * per, end * per) % size
            least = max(int(self.strand.band.low[at].max()), self.strand.first)
            least = -(-least // self.strand.stride) * self.strand.stride
            most = int(self.strand.band.high[at].min())
            if least > most:
                return None
            mean = float(self.sharer.wanted.middle[at].mean())
            count = int(np.abs(self.sharer.ladder.light - mean).argmin())
            count -= count % self.strand.stride
            found[begin % self.problem.steps] = min(max(count, least), most)
        return found

    def _circle(self) -> dict[int, int] | None:
        best: tuple[float, dict[int, int]] | None = None
        for count in self._counts(self.begins[0]).tolist():
            part = self._along(list(range(len(self.begins))), count)
            if part is not None and (best is None or part[0] < best[0]):
                best = part
        return None if best is None else best[1]

    def _counts(self, step: int) -> Ints:
        """Return the counts that may stand at a step."""
        at, stride = step * self.problem.grid % self.strand.band.low.size, self.strand.stride
        least = max(int(self.strand.band.low[at]), self.strand.first)
        return np.arange(-(-least // stride) * stride, int(self.strand.band.high[at]) + 1, stride)

    def _along(self, run: list[int], closed: int | None) -> tuple[float, dict[int, int]] | None:
        """Return cost and counts along some pieces, from and to a count if one is given."""
        counts = self._counts(self.begins[run[0]])
        if closed is not None:
            counts = counts[counts == closed]
        cost = np.zeros(counts.size)
        trail: list[tuple[Ints, Ints]] = []
        for number, k in enumerate(run):
            is_last = number == len(run) - 1
            moved = self._piece(k, counts, closed if is_last else None, is_last)
            if moved is None:
                return None
            source, reached, extra = moved
            total = cost[source] + extra
            following = np.unique(reached)
            index = np.searchsorted(following, reached)
            order = np.lexsort((source, total, index))
            heads = order[np.flatnonzero(np.diff(np.concatenate(([-1], index[order]))))]
            trail.append((counts, source[heads]))
            cost, counts = total[heads], following
        at = int(cost.argmin())
        best = float(cost[at])
        found = {}
        for k, (had, source) in zip(reversed(run), reversed(trail), strict=True):
            at = int(source[at])
            found[self.begins[k] % self.problem.steps] = int(had[at])
        return best, found

    def _piece(
        self, k: int, counts: Ints, closed: int | None, is_last: bool
    ) -> tuple[Ints, Ints, Floats] | None:
        """Return (number of a count, count reached, cost) for all ways along a piece."""
        problem, band = self.problem, self.strand.band
        begin, end = self.begins[k], self.ends[k]
        length = (end - begin) * problem.grid
        ends_day = not problem.wraps and k == len(self.begins) - 1
        goes_on = not ends_day and self._is_lit(end)
        at = np.arange(begin * problem.grid, begin * problem.grid + length + goes_on)
        at %= band.low.size
        run = Corridor(low=band.low[at], high=band.high[at], grid=1, first=self.strand.first,
                  end=None if goes_on or ends_day else 0, rounding=problem.rounding,
                  stride=self.strand.stride)  # fmt: skip
        cost_of = Cost(run, self.sharer.ladder, self.sharer.wanted.middle[at])
        here = np.zeros(counts.size, dtype=np.int64)
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
        stop = np.full(source.size, length)
        return source, reached, cost_of(here[source], counts[source], stop, reached)
