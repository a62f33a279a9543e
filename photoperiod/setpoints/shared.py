"""The best tables of channels that share one column of times, with proof.

The search makes the joint error (`photoperiod.setpoints.shared_problem`) least; counts at the rows it
finds are then those closest to the plan.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from photoperiod.drive.grid import Between
from photoperiod.setpoints.circle import fewest_around
from photoperiod.setpoints.column_levels import levels_of
from photoperiod.setpoints.column_search import fewest_times
from photoperiod.setpoints.columns import ColumnChannel, least_rows, stretches_of
from photoperiod.setpoints.corridor import one_line_ends
from photoperiod.setpoints.held import hold_times
from photoperiod.setpoints.least_error import halved, least_error
from photoperiod.setpoints.shared_problem import Levels, SharedProblem
from photoperiod.setpoints.work import WorkSpent

#: Joint errors that differ by less are the same [share of peak].
RESOLUTION = 1e-6

#: A joint error is proven to this share of itself.
PROOF_SHARE = 0.01

#: Growth of the joint error while no column fits yet.
GROWTH = 1.15

#: The same after an error that took too much work.
COARSE_GROWTH = 1.4

#: Round a day that is never dark it grows more with each error that was refused, up to this.
MOST_GROWTH = 2.0

#: After a joint error of zero, which can't grow, this one is tried at the least.
LEAST_GROWN = 1e-4

#: One error may take this part of the work.
SLICES = 3

#: Round a day that is never dark, each of so many counts and places is tried first, and then more.
#: Where there are many tables, one is among these; all of them together would be too many to be held.
COARSE = (4, 2, 1)

#: How often the interval of the lower bound is halved.
HALVINGS = 10


@dataclass(frozen=True, slots=True)
class SharedSolution:
    """Times and levels, the joint error they have, and what no column within the rows can beat.

    Without times nothing better than a known table was found. ``is_closest`` is true once the second
    objective has chosen the levels.
    """

    times: tuple[int, ...]
    levels: Levels
    error: float
    bound: float
    is_closest: bool = False

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
    question = _IsThereAColumn(problem, rows, evaluate, work_limit, proof_share)
    best, proven = least_error(question, bound_of(problem, rows, known_error), known_error)
    if best is None:
        return SharedSolution((), (), known_error, proven)
    return replace(best, bound=min(proven, best.error))


class _IsThereAColumn:
    """Whether a column of so many rows keeps a joint error; parameters as for `solve_shared`."""

    resolution = RESOLUTION

    def __init__(
        self,
        problem: SharedProblem,
        rows: int,
        evaluate: Evaluate,
        work_limit: int,
        proof_share: float,
    ) -> None:
        self.problem, self.rows, self.evaluate = problem, rows, evaluate
        self.proof_share, self.left = proof_share, work_limit
        self.slice = max(work_limit // SLICES, 1)
        self.growth = GROWTH

    def first(self, bound: float) -> float:
        """Return an error right above the bound; zero may be within reach if it is the bound."""
        return bound * 1.02 + RESOLUTION if bound > 0 else 0.0

    def attempt(self, error: float, best: SharedSolution | None) -> SharedSolution | None:
        """Return times and levels that keep a joint error, None if there are none."""
        work = WorkSpent(min(self.slice, self.left))
        try:
            times = times_for(self.problem, error, self.rows, work)
            if times is None:
                return None
            levels = []
            for number in range(len(self.problem.channels)):
                counts = levels_of(self.problem, number, times, error, work)
                assert counts is not None, "times were found without counts"
                levels.append(counts)
        except WorkSpent.Exhausted:
            self.growth = COARSE_GROWTH
            raise
        finally:
            self.left -= work.spent
        return SharedSolution(times, tuple(levels), min(self.evaluate(times, levels), error), 0.0)

    def larger(self, refused: float) -> float:
        """Return the error to be tried after a refusal while no column is found."""
        error = max(refused * self.growth, LEAST_GROWN)
        if self.problem.is_circle:  # too great an error takes little work there
            self.growth = min(self.growth**2, MOST_GROWTH)
        return error

    def smaller(self, refused: float, best: float) -> float:
        """Return the middle."""
        return (refused + best) / 2

    def is_close(self, best: float, refused: float, proven: float) -> bool:
        """Return whether the error is proven as well as it is to be."""
        return best - refused <= max(self.proof_share * proven, RESOLUTION)

    def is_spent(self) -> bool:
        """Return whether the work of all errors together is spent."""
        return self.left <= 0


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
                      for n in range(len(problem.channels))]  # fmt: skip
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
    channels = problem.at_error(error)
    cuts = problem.cuts(channels)
    if not cuts:  # a row must stand between two places
        return None
    if problem.is_circle and rows < problem.steps:  # with any number of rows, each would be tried
        for coarse in COARSE if problem.is_exact else (1,):
            found = _around(problem, channels, cuts, rows, work, coarse)
            if found is not None:
                return found
        return None
    search = hold_times if problem.between == Between.HOLD else fewest_times
    for cut in cuts:
        found = search(problem.column(channels, cut), rows, work)
        if found is not None:
            return found
    return None


def _around(
    problem: SharedProblem,
    channels: Sequence[ColumnChannel],
    window: Sequence[int],
    rows: int,
    work: WorkSpent,
    coarse: int = 1,
) -> tuple[int, ...] | None:
    """Return times round a day that is never dark, one of them in a window; each ``coarse``-th is tried."""
    column = problem.column(channels, window[0]).coarser(coarse)
    return fewest_around(column, len(window), rows, work)


def fewest_for(problem: SharedProblem, error: float, work: WorkSpent) -> int | None:
    """Return the fewest rows that keep a joint error, None if no number of them does."""
    channels = problem.at_error(error)
    cuts = problem.cuts(channels)
    if problem.is_circle and cuts:  # if no number of them does, the work is spent
        around = _around(problem, channels, cuts, problem.steps, work)
        return None if around is None else len(around)
    search = hold_times if problem.between == Between.HOLD else fewest_times
    least: int | None = None
    for cut in cuts:
        most = problem.steps if least is None else least - 1
        found = search(problem.column(channels, cut), most, work)
        least = least if found is None else len(found)
    return least


def bound_of(problem: SharedProblem, rows: int, known_error: float) -> float:
    """Return a joint error that no column within some rows can beat."""
    if problem.between == Between.HOLD:
        return 0.0
    if _relaxed_fits(problem, 0.0, rows):
        return 0.0
    return halved(lambda error: _relaxed_fits(problem, error, rows), 0.0, known_error, HALVINGS)[0]


def rows_needed(problem: SharedProblem, work: WorkSpent) -> int:
    """Return the fewest rows with which every channel is lit and dark as planned."""
    anything = problem.most_error
    if problem.between == Between.HOLD:
        found = times_for(problem, anything, problem.steps, work)
        return 1 if found is None else len(found)
    channels = problem.at_error(anything)
    column = problem.column(channels, problem.cuts(channels)[0])
    # A line that falls to a dark row must not make a lamp dark long before: one row more stands then.
    falls = sum(
        1 if all(one_line_ends(stretch.runs[number]) for number in stretch.closes) else 2
        for stretch in stretches_of(column)
    )
    return max(least_rows(column) or 1, falls)


def most_counts(problem: SharedProblem, error: float) -> int:
    """Return how many counts the widest gate has at a joint error."""
    return max(channel.widest for channel in problem.at_error(error)) + 1


def _relaxed_fits(problem: SharedProblem, error: float, rows: int) -> bool:
    channels = problem.at_error(error)
    cut = problem.cuts(channels)[0] if problem.forced else 0
    least = least_rows(problem.column(channels, cut))
    # A day without a forced row may be cut beside its rows, which costs at most one piece more.
    return least is not None and least - (not problem.forced) <= rows
