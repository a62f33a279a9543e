"""The best table of one channel on the controller's grid, with the proof that it is the best.

Rows that darkness and midnight demand are fixed; between them every lit run is a path through gates
(`photoperiod.setpoints.segments`). The error grows from a proven lower bound until a table fits, then
it shrinks until none does (`photoperiod.setpoints.least_error`): that last refusal is the proof.

Runs can be treated one by one although they share the rows that a controller holds: in `decide` each
takes the fewest that keep the error, and only the second objective has to share spare rows out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from photoperiod.drive.grid import Between, Rounding
from photoperiod.drive.light_path import LIGHT_SLACK
from photoperiod.kernel import paths, which
from photoperiod.setpoints.bound import pieces_needed
from photoperiod.setpoints.corridor import Corridor, widened
from photoperiod.setpoints.held import HeldRun, closest_held
from photoperiod.setpoints.least_error import halved, least_error
from photoperiod.setpoints.least_squares import Pieces
from photoperiod.setpoints.segments import Found, fewest
from photoperiod.setpoints.tolerance import Ladder, ToleranceBand, Wanted
from photoperiod.setpoints.work import WorkSpent

#: The optimum is proven to this [fraction of full].
RESOLUTION = 1e-7

#: A root mean square of light that is as good as none [fraction of full].
WORTH_LIGHT = 0.001

#: Growth of the error while no table fits yet.
GROWTH = 1.12


#: How often the interval of the lower bound is halved, and how often first downward, most likely.
HALVINGS, LIKELY_HALVINGS = 12, 4

#: The corners of one run as (sample of the day, count), and those of all runs.
RunCorners = tuple[tuple[int, int], ...]
Corners = tuple[RunCorners, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lit:
    """A lit run of a day, in samples.

    Parameters
    ----------
    start : int
        Index of its first sample.
    length : int
        How many samples it has; it may reach into the next day.
    end : int or None
        Count of the row that ends it, None if its last row is held until midnight.
    is_circle : bool
        True if the channel is never dark and the table wraps: the run has no natural start. Lines
        of such a day are for `photoperiod.setpoints.columns`.
    """

    start: int
    length: int
    end: int | None
    is_circle: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleProblem:
    """What a search needs to know of one channel.

    Parameters
    ----------
    wanted : Wanted
        Light wanted at every sample.
    ladder : Ladder
        Light of every count.
    runs : tuple of Lit
        The lit runs.
    between, rounding : Between, Rounding
        How the controller goes from row to row.
    grid : int
        Samples in one time step.
    stride : int
        Corners of lines have counts that are multiples of this; 1 for all counts. What is refused with
        more is no proof.
    """

    wanted: Wanted
    ladder: Ladder
    runs: tuple[Lit, ...]
    between: Between
    rounding: Rounding
    grid: int
    stride: int = 1


@dataclass(frozen=True, slots=True)
class Solution:
    """Corners of every run as (sample of the day, count), and what was proven.

    ``error`` is what the corners reach at the samples, ``bound`` what no table can beat; both as a
    fraction of full. They differ by at most `RESOLUTION` unless the work ran out. ``is_closest`` is true
    once the second objective has chosen among all corners within 5 %.
    """

    corners: Corners
    error: float
    bound: float
    is_closest: bool = False

    @property
    def is_best(self) -> bool:
        """True if no other corners are better by more than the second objective may give away."""
        return self.error <= 1.05 * self.bound + 1e-6


Evaluate = Callable[[Corners], float]


def solve(
    problem: SingleProblem,
    corners_most: int,
    evaluate: Evaluate,
    known_error: float,
    work: WorkSpent,
) -> Solution | None:
    """Return the best corners, or None if there are too few for the runs.

    Parameters
    ----------
    problem : SingleProblem
        One channel.
    corners_most : int
        Corners that all runs together may have.
    evaluate : callable
        Gives the error of some corners at the samples, by playing them. [fraction of full]
    known_error : float
        An error that is known to be reached by some table. [fraction of full]
    work : WorkSpent
        Bounds the work; when it is spent the best so far is returned.
    """
    if corners_most < len(problem.runs):
        return None
    # The bound is of lines; a level that is held needs no further row to go dark.
    if problem.between == Between.LINE and not _Relaxed(problem).fits(known_error, corners_most):
        return None
    question = _AreThereCorners(problem, corners_most, evaluate, work)
    best, proven = least_error(
        question, relaxed_bound(problem, corners_most, known_error), known_error
    )
    return None if best is None else Solution(best.corners, best.error, proven)


class _AreThereCorners:
    """Whether so many corners keep an error; parameters as for `solve`."""

    resolution = RESOLUTION

    def __init__(
        self, problem: SingleProblem, corners_most: int, evaluate: Evaluate, work: WorkSpent
    ) -> None:
        self.problem, self.most = problem, corners_most
        self.evaluate, self.work = evaluate, work
        self.gave_up = False

    def first(self, bound: float) -> float:
        """Return an error right above the bound."""
        return bound * 1.02 + RESOLUTION

    def attempt(self, error: float, best: Solution | None) -> Solution | None:
        """Return corners that keep an error, None if there are none."""
        wider = () if best is None else best.corners
        try:
            found = decide(self.problem, error, self.most, self.work, wider)
        except WorkSpent.Exhausted:
            self.gave_up = True
            raise
        if found is None:
            return None
        return Solution(found, min(self.evaluate(found), error), 0.0)

    def larger(self, refused: float) -> float:
        """Return the error to be tried after a refusal while no corners are found."""
        return refused * GROWTH + RESOLUTION

    def smaller(self, refused: float, best: float) -> float:
        """Return the middle while the gap is wide; then what is right below the best.

        What was found often is the optimum already, and one refusal then ends the search.
        """
        gap = best - refused
        return best - RESOLUTION if gap < 0.01 * best else refused + gap / 2

    def is_close(self, best: float, refused: float, proven: float) -> bool:
        """Return whether no error in the gap is told apart from its ends."""
        return best - refused <= 1.5 * RESOLUTION

    def is_spent(self) -> bool:
        """Return whether an error took too much work: the others would, too."""
        return self.gave_up


def floor_of(problem: SingleProblem, evaluate: Evaluate, known_error: float,
             work: WorkSpent) -> Solution | None:  # fmt: skip
    """Return the best corners when any number of them may stand, None if the work runs out.

    No row brings a sample nearer to the plan than the nearest count does. If rows reach that error, it
    is the floor, without any search for less.
    """
    unlimited = sum(lit.length for lit in problem.runs)
    least = nearest_counts_error(problem)
    try:
        found = decide(problem, least, unlimited, work)
    except WorkSpent.Exhausted:
        return None
    if found is not None:
        return Solution(found, least, least)
    return solve(problem, unlimited, evaluate, known_error, work)


def nearest_counts_error(problem: SingleProblem) -> float:
    """Return the worst error if at every sample the best count were put out."""
    wanted, ladder = problem.wanted, problem.ladder
    least, most = wanted.least, wanted.most
    if problem.between == Between.HOLD:  # one count for a whole step
        least = np.repeat(least.reshape(-1, problem.grid).max(axis=1), problem.grid)
        most = np.repeat(most.reshape(-1, problem.grid).min(axis=1), problem.grid)
    at = np.concatenate([np.arange(lit.start, lit.start + lit.length) for lit in problem.runs])
    least, most = least[at % least.size], most[at % most.size]
    light = ladder.light[ladder.first : ladder.top + 1]
    if wanted.may_exceed:
        given = light[np.searchsorted(0.5 * (light[1:] + light[:-1]), 0.5 * (least + most))]
    else:
        lower = np.searchsorted(light, most + LIGHT_SLACK, side="right") - 1
        given = light[np.maximum(lower, 0)]
    error = np.maximum(np.maximum(least - given, given - most), 0.0)
    return float(error[least > 0.0].max(initial=0.0))  # in an edge a level may be lower yet


class Refinement:
    """The corners closest to a plan in the mean, of those that keep an error.

    Parameters
    ----------
    problem : SingleProblem
        One channel that is dark for some time.
    error : float
        The error to be kept. [fraction of full]
    corners_most : int
        Corners that all runs together may have.
    work : WorkSpent
        Bounds the work.
    """

    def __init__(
        self, problem: SingleProblem, error: float, corners_most: int, work: WorkSpent
    ) -> None:
        self.problem, self.most = problem, corners_most
        self.band = problem.ladder.band(problem.wanted, error)
        self.runs = [run_of(problem, self.band, lit) for lit in problem.runs]
        self.most_in_one = corners_most - len(problem.runs) + 1
        self.pieces: list[Pieces] = []
        if problem.between == Between.LINE:
            for run in self.runs:
                starts = range(int(run.low[0]), int(run.high[0]) + 1)
                self.pieces.append(Pieces(run, starts, self.most_in_one, problem.ladder, work))

    def closest(self, shift: float = 0.0) -> Corners | None:
        """Return the corners closest to the plan moved by some light, None if there are none.

        Rows to spare go to the runs in which they gain most. To move the plan is to put a price on
        the dose: the squares then differ by what is linear in the light.
        """
        choices = []
        for number, lit in enumerate(self.problem.runs):
            at = np.arange(lit.start, lit.start + lit.length) % self.band.low.size
            wanted = np.maximum(self.problem.wanted.middle[at] + shift, 0.0)
            if self.problem.between == Between.HOLD:
                found = closest_held(
                    self.runs[number], self.most_in_one, self.problem.ladder, wanted
                )
            else:
                found = self.pieces[number].closest(wanted)
            if not found:
                return None
            choices.append([(path.pieces, cost, path) for cost, path in found])
        # The cheapest way to share the rows out, run by run.
        shared: dict[int, tuple[float, tuple[Found, ...]]] = {0: (0.0, ())}
        for options in choices:
            following: dict[int, tuple[float, tuple[Found, ...]]] = {}
            for used, (cost, so_far) in shared.items():
                for pieces, more, path in options:
                    total, sum_cost = used + pieces, cost + more
                    if total <= self.most and sum_cost < following.get(total, (np.inf,))[0]:
                        following[total] = (sum_cost, (*so_far, path))
            shared = following
        if not shared:
            return None
        # Rows that bring the light hardly nearer in the mean are not worth typing in.
        samples = sum(lit.length for lit in self.problem.runs)
        enough = min(cost for cost, _ in shared.values()) * 1.05 + samples * WORTH_LIGHT**2
        best = next(entry[1] for _, entry in sorted(shared.items()) if entry[0] <= enough)
        size = self.band.low.size
        return tuple(
            _on_day(path.corners, lit, size)
            for lit, path in zip(self.problem.runs, best, strict=True)
        )


def rows_for(problem: SingleProblem, error: float, work: WorkSpent) -> int | None:
    """Return the fewest corners that keep an error, or None if no number of them does."""
    band = problem.ladder.band(problem.wanted, error)
    total = 0
    for lit in problem.runs:
        found = _fewest(problem, band, lit, lit.length, work)
        if found is None:
            return None
        total += len(found)
    return total


def decide(
    problem: SingleProblem,
    error: float,
    corners_most: int,
    work: WorkSpent,
    wider: Sequence[RunCorners] = (),
) -> Corners | None:
    """Return corners that keep an error with at most so many of them, or None if there are none.

    ``wider`` are the corners that were found for a greater error, the fewest of each run. Gates only
    shrink with the error, so no run takes fewer now.
    """
    band = problem.ladder.band(problem.wanted, error)
    left = corners_most
    result = []
    for number, lit in enumerate(problem.runs):
        spare = left - (len(problem.runs) - number - 1)
        at_least = len(wider[number]) if wider else 1
        found = _fewest(problem, band, lit, spare, work, at_least)
        if found is None:
            return None
        left -= len(found)
        result.append(found)
    return tuple(result)


def run_of(problem: SingleProblem, band: ToleranceBand, lit: Lit) -> Corridor:
    """Return the gates of a run."""
    at = np.arange(lit.start, lit.start + lit.length) % band.low.size
    return Corridor(
        low=band.low[at],
        high=band.high[at],
        grid=problem.grid,
        first=problem.ladder.first,
        end=lit.end,
        rounding=problem.rounding,
        stride=problem.stride,
    )


def _fewest(
    problem: SingleProblem,
    band: ToleranceBand,
    lit: Lit,
    most: int,
    work: WorkSpent,
    at_least: int = 1,
) -> RunCorners | None:
    """Return the fewest corners of a run, as (sample of the day, count)."""
    size = band.low.size
    corners: Sequence[tuple[int, int]] | None
    if problem.between == Between.HOLD:
        at = np.arange(lit.start, lit.start + lit.length) % size
        held = HeldRun(
            band.low[at], band.high[at], problem.wanted.middle[at], problem.ladder, problem.grid
        )
        corners = held.fewest_around(most, work) if lit.is_circle else held.fewest(most, work)
    else:
        run = run_of(problem, band, lit)
        starts = range(int(run.low[0]), int(run.high[0]) + 1)
        found = fewest(run, starts, most, work, at_least)
        corners = None if found is None else found.corners
    return None if corners is None else _on_day(corners, lit, size)


def _on_day(corners: Iterable[tuple[int, int]], lit: Lit, size: int) -> RunCorners:
    """Return corners of a run by the sample of the day, instead of that of the run."""
    return tuple(((lit.start + index) % size, count) for index, count in corners)


def relaxed_bound(problem: SingleProblem, corners_most: int, known_error: float = 1.0) -> float:
    """Return an error that no table can beat, by pieces with real corners that need not meet."""
    if problem.between == Between.HOLD:
        return 0.0
    relaxed = _Relaxed(problem)

    def fits(error: float) -> bool:
        return relaxed.fits(error, corners_most)

    likely = known_error / 2**LIKELY_HALVINGS
    if fits(likely):  # most days need no more: these halvings are known at once
        return halved(fits, 0.0, likely, HALVINGS - LIKELY_HALVINGS)[0]
    return halved(fits, 0.0, known_error, HALVINGS)[0]


class _Relaxed:
    """Whether pieces with real corners that need not meet keep an error."""

    def __init__(self, problem: SingleProblem) -> None:
        self.problem = problem
        self.light, self.widened = problem.ladder.given, widened(problem.rounding)
        wanted = problem.wanted
        places = [np.arange(lit.start, lit.start + lit.length) for lit in problem.runs]
        self.wanted = [
            (wanted.least[at % wanted.least.size], wanted.most[at % wanted.most.size])
            for at in places
        ]

    def fits(self, error: float, corners_most: int) -> bool:
        """Return whether they do with so many corners."""
        kernel = which.compiled()
        total = 0
        for number, lit in enumerate(self.problem.runs):
            pieces = (
                self._pieces(error, lit)
                if kernel is None
                else self._compiled_pieces(kernel, error, number)
            )
            # A circle may be cut at one of its rows, which costs at most one piece more.
            total += max(pieces - lit.is_circle, 1)
            if pieces < 0 or total > corners_most:
                return False
        return True

    def _pieces(self, error: float, lit: Lit) -> int:
        """Return the pieces that a run takes, −1 if some gate is shut."""
        band = self.problem.ladder.band(self.problem.wanted, error)
        run = run_of(self.problem, band, lit)
        return -1 if (run.low > run.high).any() else int(pieces_needed(run)[0])

    def _compiled_pieces(self, kernel: ModuleType, error: float, number: int) -> int:
        problem = self.problem
        errors = error, error if problem.wanted.may_exceed else 0.0
        counts = problem.ladder.first, problem.ladder.top
        return paths.relaxed(
            kernel, self.light, self.wanted[number], errors, LIGHT_SLACK, counts, self.widened,
            problem.runs[number].end,
        )  # fmt: skip
