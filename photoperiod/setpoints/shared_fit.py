"""The exact fit of channels that share one column of times.

It also serves a single channel that is lit all day with lines that wrap: such a day has no natural
start, and a column may be cut at any of its rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from photoperiod.drive.grid import Between, Row
from photoperiod.setpoints.certificate import Certificate, Fit, Method
from photoperiod.setpoints.channel_rows import ChannelRows, method_within
from photoperiod.setpoints.column_levels import levels_of
from photoperiod.setpoints.hold_dose import hold_dose
from photoperiod.setpoints.problem import ChannelProblem, simplify
from photoperiod.setpoints.shared import (
    Evaluate,
    SharedSolution,
    bound_of,
    fewest_for,
    most_counts,
    polish,
    rows_needed,
    solve_shared,
    times_for,
)
from photoperiod.setpoints.shared_problem import Levels, SharedChannel, SharedProblem
from photoperiod.setpoints.single import floor_of, nearest_counts_error
from photoperiod.setpoints.work import EXTRA_WORK, REFINEMENT_WORK, SHARED_WORK, WorkSpent

#: With more counts than this in a gate not all of them are tried.
MOST_COUNTS = 128

#: Counts tried in a gate of such channels when the work ran out with all of them.
FEW_COUNTS = 16

#: Rows are sought so many time steps from those of a table found in another way.
NEAR_STEPS = 6

#: How often, as long as the error falls to at least this part of itself.
NEAR_TRIES, NEAR_GAIN = 4, 0.99

#: Errors that are tried to bring the counts at given times nearer.
POLISH_TRIES = 10

Rows = tuple[Row, ...]


class SharedFitting:
    """The exact fit of channels that share one column of times.

    Parameters
    ----------
    problems : sequence of ChannelProblem
        The channels, at least one, on the same grid of times.
    """

    def __init__(self, problems: Sequence[ChannelProblem]) -> None:
        self.problems = problems
        self.channels = [ChannelRows(problem) for problem in problems]
        self.times, self.sample_s = self.channels[0].times, self.channels[0].sample_s

    def best(
        self,
        row_limit: int,
        counts_most: int | None = None,
        found: Sequence[Rows] | None = None,
    ) -> list[Fit]:
        """Return the best tables within the rows, or within those they need at least.

        Parameters
        ----------
        row_limit : int
            Rows the controller holds.
        counts_most : int or None
            Only so many counts are tried in a gate; None for all of them, if the work allows.
        found : sequence of tables or None
            Tables that were found in another way. What follows is no worse, and where the work runs out,
            rows are sought near theirs.
        """
        seconds = simplify(self.problems, row_limit)
        rough = [problem.rows(seconds) for problem in self.problems]
        shared = self._shared([floor_of_channel(channel) for channel in self.channels])
        needed = rows_needed(shared, WorkSpent(REFINEMENT_WORK))
        rows = max(row_limit, needed)
        first = None if found is None else self._first(shared, found, rows)
        known = self._known(shared, rough, rows) if first is None else first.error
        solution = self._solve(shared, rows, known, counts_most, first)
        if not solution.times and solution.bound >= shared.most_error:  # these rows are too few
            more = _rows_for(shared, shared.most_error, WorkSpent(EXTRA_WORK))
            if more is not None and more > rows:
                needed = rows = more
                solution = self._solve(shared, rows, shared.most_error, counts_most, None)
        if not solution.times:
            method = method_within(row_limit, needed, Method.SIMPLIFICATION)
            return self._fits(shared, rough, solution.bound, method, needed)
        solution = self._refined(shared, solution)
        tables = self._tables(solution.times, solution.levels)
        method = method_within(row_limit, needed)
        return self._fits(
            shared, tables, solution.bound, method, needed, is_closest=solution.is_closest
        )

    def _known(self, shared: SharedProblem, rough: Sequence[Rows], rows: int) -> float:
        """Return a joint error that some column within the rows is known to have.

        What line simplification reaches is known to be reached by some column of the search if its rows
        are allowed there.
        """
        if not self._are_allowed(rough, rows):
            return shared.most_error
        return min(shared.most_error, self._joint_error(shared, rough) + 1e-6)

    def _are_allowed(self, tables: Sequence[Rows], rows: int) -> bool:
        """Return whether the search may find some tables.

        Not if they have too many rows, or a channel may exceed what it must not, or is dark in its day.
        """
        pairs = zip(self.channels, tables, strict=True)
        return (
            len(tables[0]) <= rows
            and all(problem.target.may_exceed for problem in self.problems)
            and all(channel.burns_through(table) for channel, table in pairs)
        )

    def _first(
        self, shared: SharedProblem, found: Sequence[Rows], rows: int
    ) -> SharedSolution | None:
        """Return tables found in another way as a solution, None if the search may not find them."""
        if not self._are_allowed(found, rows):
            return None
        step = self.times.step_s
        levels = [
            {row.second // step: row.count for row in table if problem.lit[row.second // step]}
            for problem, table in zip(self.problems, found, strict=True)
        ]
        times = tuple(row.second // step for row in found[0])
        error = self._joint_error(shared, found)
        return SharedSolution(times, levels, error, 0.0)

    def floor_of_circle(self, left: WorkSpent) -> float:
        """Return the error of the one channel, lit all day, with any number of rows; 0 if unproven.

        No row brings a sample nearer than the nearest count does. If times are found for that error,
        it is the floor; else it takes the whole search.
        """
        least = nearest_counts_error(self.channels[0].searched())
        alone = self._shared([least])
        try:
            if times_for(alone, 0.0, alone.steps, left):
                return least
        except WorkSpent.Exhausted:
            return 0.0
        return self._floor_by_search()

    def _floor_by_search(self) -> float:
        shared = self._shared([0.0])

        def evaluate(times: Sequence[int], levels: Levels) -> float:
            return self._joint_error(shared, self._tables(times, levels))

        (channel,) = shared.channels
        found = solve_shared(
            shared, shared.steps, evaluate, 1.0 / channel.scale, EXTRA_WORK, proof_share=0.0
        )
        return found.error * channel.scale if found.error - found.bound < 1e-5 else 0.0

    def _forced(self) -> frozenset[int]:
        """Return the steps at which some channel has a fixed row or lights."""
        step = self.times.step_s
        lit = [c for c in self.channels if c.problem.lit.any()]
        found: set[int] = set() if self.times.wraps else {0}
        for channel in lit:
            found |= {second // step for second in channel.fixed}
            found |= {r.start * self.sample_s // step for r in channel.runs if not r.is_circle}
        if not found and not lit:
            found = {0}
        return frozenset(found)

    def _shared(self, floors: Sequence[float]) -> SharedProblem:
        """Return what is searched, given the floors of the channels."""
        return SharedProblem(
            channels=[
                SharedChannel(
                    wanted=channel.wanted,
                    ladder=channel.ladder,
                    lit=channel.problem.lit,
                    scale=channel.problem.peak / channel.problem.target.weight,
                    floor=floor,
                )
                for channel, floor in zip(self.channels, floors, strict=True)
            ],
            forced=self._forced(),
            grid=self.times.step_s // self.sample_s,
            rounding=self.channels[0].path.levels.rounding,
            between=self.times.between,
            wraps=self.times.wraps,
        )

    def _solve(
        self,
        shared: SharedProblem,
        rows: int,
        known: float,
        counts_most: int | None,
        first: SharedSolution | None,
    ) -> SharedSolution:
        """Return the best column; if the work runs out, the best with fewer counts or times tried."""

        def evaluate(times: Sequence[int], levels: Levels) -> float:
            return self._joint_error(shared, self._tables(times, levels))

        low = bound_of(shared, rows, known)
        if first is not None:
            first = replace(first, bound=min(low, first.error))
            if first.is_proven:
                return first
        exact = SharedSolution((), (), known, low)
        if counts_most is None and most_counts(shared, low) <= MOST_COUNTS:
            exact = solve_shared(shared, rows, evaluate, known, SHARED_WORK)
            if exact.is_proven:
                return exact
        if first is not None:
            bound = min(exact.bound, first.error)
            return self._near(shared, rows, evaluate, replace(first, bound=bound), exact)
        rough = SharedSolution((), (), known, 0.0)
        top = max(channel.ladder.top for channel in shared.channels)
        if counts_most is None and top > MOST_COUNTS:
            coarse = replace(shared, stride=1 << (top // MOST_COUNTS).bit_length())
            rough = solve_shared(coarse, rows, evaluate, known, SHARED_WORK)
        # What has a larger error than what was found is not worth finding.
        worst = exact.error if exact.times else known
        # The work ran out on coarser levels, too; with no more counts in any gate it would again.
        if not rough.is_proven and most_counts(shared, worst) > FEW_COUNTS:
            few = replace(shared, counts_most=FEW_COUNTS)
            other = solve_shared(few, rows, evaluate, worst, SHARED_WORK)
            if other.times and (not rough.times or other.error < rough.error):
                rough = other
        if not rough.times or (exact.times and exact.error <= rough.error):
            return exact
        # What was refused with few counts proves nothing; the bound stays that of all of them.
        rough = replace(rough, bound=min(exact.bound, rough.error))
        return polish(shared, rough, evaluate, POLISH_TRIES, WorkSpent(SHARED_WORK))

    def _near(
        self,
        shared: SharedProblem,
        rows: int,
        evaluate: Evaluate,
        first: SharedSolution,
        exact: SharedSolution,
    ) -> SharedSolution:
        """Return the best column whose rows stand near those of a first one, or that of the search."""
        best = polish(shared, first, evaluate, POLISH_TRIES, WorkSpent(SHARED_WORK))
        for _ in range(NEAR_TRIES if shared.between == Between.LINE else 0):
            near = shared.near(best.times, NEAR_STEPS)
            found = solve_shared(near, rows, evaluate, best.error, SHARED_WORK)
            if not found.times or found.error >= best.error:
                break
            is_worth_more = found.error <= NEAR_GAIN * best.error
            best = replace(found, bound=min(first.bound, found.error))
            if not is_worth_more:
                break
        return exact if exact.times and exact.error <= best.error else best

    def _refined(self, shared: SharedProblem, solution: SharedSolution) -> SharedSolution:
        """Return the counts at these times that are closest in the mean, at most 5 % worse.

        For a channel whose dose they would change by more than they may, counts that hold it.
        """
        allowed = max(1.05 * solution.bound, solution.error)
        left = WorkSpent(SHARED_WORK)
        levels = []
        try:
            for number, problem in enumerate(self.problems):

                def attempt(
                    shift: float, number: int = number, problem: ChannelProblem = problem
                ) -> tuple[Mapping[int, int] | None, float]:
                    counts = levels_of(shared, number, solution.times, allowed, left, shift)
                    if counts is None:
                        return None, 0.0
                    return counts, problem.dose_error(self._table(problem, solution.times, counts))

                most = shared.channels[number].tolerance(allowed)
                found = hold_dose(attempt, most, problem.target.dose_within)
                if found is None:
                    return solution
                levels.append(found)
        except WorkSpent.Exhausted:
            return solution
        error = self._joint_error(shared, self._tables(solution.times, levels))
        return replace(solution, levels=tuple(levels), error=error, is_closest=True)

    def _table(
        self, problem: ChannelProblem, times: Sequence[int], counts: Mapping[int, int]
    ) -> Rows:
        step = self.times.step_s
        return tuple(
            problem.row(time * step, counts.get(time, 0), is_lit=bool(problem.lit[time]))
            for time in sorted(times)
        )

    def _tables(self, times: Sequence[int], levels: Levels) -> list[Rows]:
        pairs = zip(self.problems, levels, strict=True)
        return [self._table(problem, times, counts) for problem, counts in pairs]

    def _joint_error(self, shared: SharedProblem, tables: Sequence[Rows]) -> float:
        return max(
            scaled.joint_error(channel.error_at_samples(rows))
            for scaled, channel, rows in zip(shared.channels, self.channels, tables, strict=True)
        )

    def _fits(
        self,
        shared: SharedProblem,
        tables: Sequence[Rows],
        bound: float,
        method: Method,
        needed: int,
        *,
        is_closest: bool = False,
    ) -> list[Fit]:
        """Return the tables with their certificates, given the bound of their joint error."""
        joint, left = self._joint_error(shared, tables), WorkSpent(EXTRA_WORK)
        is_joint = len(self.channels) > 1
        floor_rows = _rows_for(shared, 0.0, left)
        half_rows = None
        alone = shared.channels[0]
        if joint and (is_joint or joint / 2 * alone.scale >= alone.floor):
            half_rows = _rows_for(shared, joint / 2, left)
        fits = []
        for scaled, channel, rows in zip(shared.channels, self.channels, tables, strict=True):
            error = channel.error_at_samples(rows)
            certificate = Certificate(
                error=error,
                bound=min(max(bound * scaled.scale, scaled.floor), error),
                floor=min(scaled.floor, error),
                floor_rows=floor_rows,
                half_rows=half_rows,
                is_closest=is_closest,
                sample_s=channel.proven_every_s,
                tolerance_s=self.times.step_s // 2,
                joint_error=joint if is_joint else None,
                joint_bound=min(bound, joint) if is_joint else None,
            )
            fits.append(channel.fit(rows, method, needed, certificate))
        return fits


def floor_of_channel(channel: ChannelRows) -> float:
    """Return the error that no number of rows would beat, 0 if it was not found."""
    if not channel.runs:
        return 0.0
    left = WorkSpent(EXTRA_WORK)
    if channel.is_circle and channel.times.between == Between.LINE:
        return SharedFitting([channel.problem]).floor_of_circle(left)
    found = floor_of(channel.searched(), channel.error_of, 1.0, left)
    return 0.0 if found is None else found.bound


def _rows_for(shared: SharedProblem, error: float, left: WorkSpent) -> int | None:
    """Return the fewest rows that keep a joint error, None if that was not found."""
    try:
        return fewest_for(shared, error, left)
    except WorkSpent.Exhausted:
        return None
