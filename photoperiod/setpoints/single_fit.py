"""The exact fit of one channel with times of its own."""

from __future__ import annotations

from dataclasses import replace

from photoperiod.drive.grid import Between
from photoperiod.setpoints.certificate import Certificate, Fit
from photoperiod.setpoints.channel_rows import ChannelRows, method_within
from photoperiod.setpoints.corridor import Corridor, one_line_ends
from photoperiod.setpoints.hold_dose import hold_dose
from photoperiod.setpoints.problem import ChannelProblem
from photoperiod.setpoints.single import (
    Corners,
    Refinement,
    SingleProblem,
    Solution,
    floor_of,
    relaxed_bound,
    rows_for,
    run_of,
    solve,
)
from photoperiod.setpoints.work import EXTRA_WORK, REFINEMENT_WORK, SINGLE_WORK, WorkSpent

#: Where the work runs out, every 4th, 16th, 64th … count is tried, down to so many levels.
COARSER = range(2, 16, 2)
FEWEST_LEVELS = 64


class SingleFitting:
    """The exact fit of one channel.

    Parameters
    ----------
    problem : ChannelProblem
        The channel; if it is lit all day and lines of its table wrap, `SharedFitting` is for it.
    """

    def __init__(self, problem: ChannelProblem) -> None:
        self.problem = problem
        self.channel = ChannelRows(problem)

    def best(self, row_limit: int) -> list[Fit]:
        """Return the best table within the rows, or within those it needs at least."""
        channel, fixed = self.channel, len(self.channel.fixed)
        needed = fixed + self._least_corners()
        corners = max(row_limit, needed) - fixed
        if not channel.runs:
            return [self._fit(Solution((), 0.0, 0.0), row_limit, needed)]
        searched = channel.searched()
        solution = solve(searched, corners, channel.error_of, 1.0, WorkSpent(SINGLE_WORK))
        if solution is None or not solution.is_best:  # the work ran out
            bound = relaxed_bound(searched, corners) if solution is None else solution.bound
            coarse = self._on_coarser_levels(searched, corners)
            if coarse is None:
                return [self._other(row_limit, needed, solution, bound)]
            if solution is None or coarse[1].error < solution.error:
                searched, own = coarse
                refined = self._refined(own, corners, searched)
                solution = replace(refined, bound=min(bound, refined.error))
            return [self._fit(solution, row_limit, needed)]
        return [self._fit(self._refined(solution, corners, searched), row_limit, needed)]

    def _on_coarser_levels(
        self, searched: SingleProblem, corners: int
    ) -> tuple[SingleProblem, Solution] | None:
        """Return the best corners on the finest coarser grid of levels that can be searched."""
        if searched.between == Between.HOLD:
            return None
        for doublings in COARSER:
            coarse = replace(searched, stride=1 << doublings)
            if searched.ladder.top >> doublings < FEWEST_LEVELS:
                break
            found = solve(coarse, corners, self.channel.error_of, 1.0, WorkSpent(SINGLE_WORK))
            if found is not None and found.is_best:
                return coarse, found
        return None

    def bound_by_lines(self, row_limit: int) -> float:
        """Return an error that no table within the rows can beat, by lines with real corners."""
        if not self.channel.runs:
            return 0.0
        corners = row_limit - len(self.channel.fixed)
        if corners < len(self.channel.runs):
            return 0.0
        return relaxed_bound(self.channel.searched(), corners)

    def _other(self, row_limit: int, needed: int, solution: Solution | None, bound: float) -> Fit:
        """Return the better of what was found and what a search with few counts finds."""
        from photoperiod.setpoints.shared_fit import FEW_COUNTS, SharedFitting  # seldom needed

        (other,) = SharedFitting([self.problem]).best(row_limit, counts_most=FEW_COUNTS)
        if solution is not None and solution.error <= other.certificate.error:
            return self._fit(solution, row_limit, needed)
        certificate = replace(
            other.certificate,
            bound=min(max(bound, other.certificate.bound), other.certificate.error),
        )
        return replace(other, certificate=certificate, rows_needed=needed)

    def _least_corners(self) -> int:
        """Return the corners without which the lamp would not be lit as planned.

        Where a low level makes it dark, one straight line from the first row to the row that
        switches off may be too low long before its end: such a run needs a second corner.
        """
        channel = self.channel
        if not channel.path.dark_by_level or channel.times.between == Between.HOLD:
            return len(channel.runs)
        searched = channel.searched()
        anything = searched.ladder.band(searched.wanted, 1.0)
        corridors = [run_of(searched, anything, lit) for lit in channel.runs]
        return sum(1 if _is_shut(run) or one_line_ends(run) else 2 for run in corridors)

    def _refined(self, solution: Solution, corners: int, searched: SingleProblem) -> Solution:
        """Return the solution that is closest in the mean, at most 5 % worse at its worst.

        If it would change the dose by more than it may, one that holds the dose comes first.
        """
        allowed = max(1.05 * solution.bound, solution.error)
        for doublings in (0, *COARSER):
            own = replace(searched, stride=searched.stride << doublings)
            if doublings and searched.ladder.top // own.stride < FEWEST_LEVELS:
                break
            try:
                refinement = Refinement(own, allowed, corners, WorkSpent(REFINEMENT_WORK))
            except WorkSpent.Exhausted:
                if self._holds_dose(solution.corners):
                    break
                continue  # coarser levels may show how its dose is held
            found = refinement.closest()
            if found is not None:
                chosen = self._with_dose(refinement, found, allowed)
                error = min(self.channel.error_of(chosen), allowed)
                return Solution(chosen, error, solution.bound, is_closest=own.stride == 1)
            if doublings == 0:
                break
        return solution

    def _holds_dose(self, corners: Corners) -> bool:
        off = self.problem.dose_error(self.channel.rows(corners))
        return abs(off) <= self.problem.target.dose_within

    def _with_dose(self, refinement: Refinement, found: Corners, allowed: float) -> Corners:
        """Return what is closest to the plan, or else to a plan that is moved so that the dose holds."""

        def attempt(shift: float) -> tuple[Corners | None, float]:
            moved = refinement.closest(shift) if shift else found
            if moved is None:
                return None, 0.0
            return moved, self.problem.dose_error(self.channel.rows(moved))

        return hold_dose(attempt, allowed, self.problem.target.dose_within) or found

    def _fit(self, solution: Solution, row_limit: int, needed: int) -> Fit:
        rows = self.channel.rows(solution.corners)
        certificate = self._certificate(self.channel.error_at_samples(rows), solution)
        return self.channel.fit(rows, method_within(row_limit, needed), needed, certificate)

    def _certificate(self, error: float, solution: Solution) -> Certificate:
        """Return what is proven of a solution, and what more rows would bring."""
        channel = self.channel
        floor, floor_rows, half_rows = 0.0, None, None
        if channel.runs:
            fixed = len(channel.fixed)
            searched, left = channel.searched(), WorkSpent(EXTRA_WORK)
            least = floor_of(searched, channel.error_of, error + 1e-6, left)
            if least is not None:
                floor = least.bound
                floor_rows = fixed + sum(len(run) for run in least.corners)
                try:
                    half = rows_for(searched, error / 2, left)
                    half_rows = None if half is None else fixed + half
                except WorkSpent.Exhausted:
                    half_rows = None
        return Certificate(
            error=error,
            bound=min(solution.bound, error),
            floor=min(floor, error),
            floor_rows=floor_rows,
            half_rows=half_rows,
            is_closest=solution.is_closest or not channel.runs,
            sample_s=channel.proven_every_s,
            tolerance_s=self.problem.step // 2,
        )


def _is_shut(run: Corridor) -> bool:
    """Return whether some gate lets nothing through."""
    return bool((run.low > run.high).any())
