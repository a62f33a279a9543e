"""Choose the rows of a day: the best table that fits the controller, with proof.

Rows stand on the controller's grid of times and levels. The lamp lights and goes dark at the grid
times nearest to the plan's; those rows are fixed, and between them the exact search finds the rows
whose worst error is least. Channels that share one column of times are fitted by line
simplification instead, and their certificate proves nothing but a bound.

Everything outside `photoperiod.table` sees `Target`, `fit`, `Fit` and `Certificate` only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photoperiod.table.bands import Ladder, Wanted, sample_step
from photoperiod.table.draft import Draft, Target, simplify
from photoperiod.table.exact import (
    RESOLUTION,
    Lit,
    Problem,
    Solution,
    refine,
    rows_for,
    solve,
)
from photoperiod.table.grid import Row, TimeGrid
from photoperiod.table.replay import Replay, play
from photoperiod.table.search import WorkSpent
from photoperiod.units import SECONDS_PER_DAY

Floats = NDArray[np.float64]

__all__ = ["Certificate", "Fit", "Target", "fit"]

#: Gates that one search may look at: some seconds of work on a small machine.
WORK_LIMIT = 25_000_000

#: The same where few corners are tried first, as on a day without darkness.
FEW_WORK_LIMIT = 12_000_000

#: The same for what else a certificate says.
EXTRA_WORK_LIMIT = 10_000_000

#: Time steps below this are fitted by line simplification only [s].
LEAST_SAMPLE_S = 10

#: Very fine levels are searched on counts this far apart first: about so many for full light.
COARSE_COUNTS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """What is proven of a table, at samples ``sample_s`` apart with a tolerance in time.

    Parameters
    ----------
    error : float
        Worst error of the table at the samples. [fraction of full]
    bound : float
        No table on the grid within the rows has a smaller one. [fraction of full]
    floor : float
        No number of rows has a smaller one. [fraction of full]
    floor_rows : int or None
        Rows that reach the floor; more buy nothing. None if that was not found.
    half_rows : int or None
        Rows that would halve the error; None if no number does, or it was not found.
    sample_s, tolerance_s : int
        Distance of samples and tolerance in time. [s]
    """

    error: float
    bound: float
    floor: float
    floor_rows: int | None
    half_rows: int | None
    sample_s: int
    tolerance_s: int

    @property
    def is_best(self) -> bool:
        """True if the table is proven to be at most 5 % worse than any other."""
        return self.error <= 1.05 * self.bound + 1e-6


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
        ``exact``, ``simplification`` or ``forced`` (the rows hold no more than the switchings).
    certificate : Certificate
        What is proven.
    replay : Replay
        The table, played.
    """

    rows: tuple[Row, ...]
    rows_needed: int
    worst_light_error: float
    worst_second: int
    strict_light_error: float
    method: str
    certificate: Certificate
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
    drafts = [Draft(target, times) for target in targets]
    seconds = simplify(drafts, row_limit)
    rough = [draft.rows(seconds) for draft in drafts]
    if len(drafts) == 1:
        return [_Fitting(drafts[0]).best(rough[0], row_limit)]
    needed = len(set().union(*(draft.forced for draft in drafts))) or 1
    method = "simplification" if needed <= row_limit else "forced"
    return [
        _Fitting(draft).finish(rows, method, needed, None)
        for draft, rows in zip(drafts, rough, strict=True)
    ]


class _Fitting:
    """The exact fit of one channel."""

    def __init__(self, draft: Draft) -> None:
        self.draft, self.times, self.path = draft, draft.times, draft.path
        self.sample_s = sample_step(draft.times, draft.path.levels)
        self.wanted = self._wanted()
        self.ladder = Ladder.of(draft.path, draft.ceiling)
        self.fixed, self.runs = self._parts()

    def _wanted(self) -> Wanted:
        """Return what is wanted at the samples; what is held must suit all seconds up to the next."""
        draft = self.draft
        if self.times.between == "hold":
            least = draft.least.reshape(-1, self.sample_s).max(axis=1)
            most = draft.most.reshape(-1, self.sample_s).min(axis=1)
            middle = draft.target.reachable.reshape(-1, self.sample_s).mean(axis=1)
            return Wanted(least=least, most=most, middle=middle, may_exceed=draft.target.may_exceed)
        return Wanted(
            least=draft.least[:: self.sample_s],
            most=draft.most[:: self.sample_s],
            middle=draft.target.reachable[:: self.sample_s],
            may_exceed=draft.target.may_exceed,
        )

    def _parts(self) -> tuple[dict[int, Row], tuple[Lit, ...]]:
        """Return the rows that are fixed, by second, and the lit runs between them."""
        draft, day = self.draft, SECONDS_PER_DAY
        lights, darks = draft.switchings()
        samples = day // self.sample_s
        if draft.lit.all():
            wraps = self.times.wraps
            run = Lit(start=0, length=samples, end=None, is_circle=wraps)
            return {}, (run,)
        fixed = {int(t): draft.row(int(t), 0, is_lit=False) for t in darks}
        by_level = self.path.dark_by_level and self.times.between == "line"
        runs = []
        for light in lights.tolist():
            later = darks[darks > light]
            dark = int(later[0]) if later.size else int(darks[0]) + day
            if self.times.wraps or dark <= day:
                runs.append(self._run(light, dark, 0 if dark < day or self.times.wraps else None))
            else:  # the table breaks at midnight
                runs.append(self._run(light, day, None))
                runs.append(self._run(0, dark - day, 0))
            if by_level and (self.times.wraps or light > 0):
                before = (light - draft.step) % day
                fixed.setdefault(before, draft.row(before, 0, is_lit=False))
        if not self.times.wraps and not draft.lit[0]:
            fixed.setdefault(0, draft.row(0, 0, is_lit=False))
        if not fixed:  # never lit
            fixed[0] = draft.row(0, 0, is_lit=False)
        return fixed, tuple(sorted(runs, key=lambda run: run.start))

    def _run(self, begin: int, stop: int, end: int | None) -> Lit:
        length = (stop - begin) // self.sample_s
        return Lit(start=begin // self.sample_s, length=length, end=end)

    def best(self, rough: tuple[Row, ...], row_limit: int) -> Fit:
        """Return the best table within the rows, or within those it needs at least."""
        needed = len(self.fixed) + self._least_corners()
        corners = max(row_limit, needed) - len(self.fixed)
        if self.sample_s < LEAST_SAMPLE_S:
            return self.finish(rough, "simplification", needed, None)
        if not self.runs:
            return self.finish(rough, "exact", needed, Solution((), 0.0, 0.0))
        known = self._error_at_samples(rough) + 1e-6 if len(rough) <= row_limit else 1.0
        solution = self._solve(corners, known)
        if solution is None or solution.error > known:
            return self.finish(rough, "simplification", needed, None)
        solution = self._refined(solution, corners)
        method = "exact" if needed <= row_limit else "forced"
        return self.finish(self._rows(solution.corners), method, needed, solution)

    def _least_corners(self) -> int:
        """Return the corners without which the lamp would not be lit as planned.

        Where a low level makes it dark, one straight line from the first row to the row that
        switches off would be too low long before its end: such a run needs a second corner.
        """
        if not self.path.dark_by_level or self.times.between == "hold":
            return len(self.runs)
        least, top = self.ladder.first - 0.5, self.ladder.top
        return sum(
            2 if run.end is not None and least * run.length / 2 > top else 1 for run in self.runs
        )

    def _solve(self, corners: int, known: float) -> Solution | None:
        """Return the best corners; of very fine levels, if need be, the best among fewer of them."""
        if any(run.is_circle for run in self.runs):
            return self._solve_few(corners, known)
        limit = WORK_LIMIT
        solution = solve(self._problem(1), corners, self._evaluate, known, WorkSpent(limit))
        solution = solution or self._solve_few(corners, known)
        stride = max(self.path.top_count // COARSE_COUNTS, 1)
        if stride == 1 or (solution and solution.error <= 1.05 * solution.bound + 1e-6):
            return solution
        coarse = solve(self._problem(stride), corners, self._evaluate, known, WorkSpent(limit))
        if coarse is None or (solution is not None and solution.error <= coarse.error):
            return solution
        return Solution(coarse.corners, coarse.error, 0.0 if solution is None else solution.bound)

    def _solve_few(self, corners: int, known: float) -> Solution | None:
        """Return the best corners, few of them tried first.

        For a day without darkness, or levels so fine that the work may run out with many corners:
        then the best that fewer gave stands, with nothing for a bound.
        """
        work = WorkSpent(FEW_WORK_LIMIT)
        best: Solution | None = None
        for most in sorted(
            {count for count in (1, 2, 3, 4, 6, 8, 12, 16, 24) if count < corners} | {corners}
        ):
            found = solve(self._problem(1), most, self._evaluate, known, work)
            if found is None:
                continue
            if best is None or found.error < best.error:
                best = Solution(found.corners, found.error, found.bound if most == corners else 0.0)
            if best.error <= 2 * RESOLUTION:
                break
        return best

    def _refined(self, solution: Solution, corners: int) -> Solution:
        """Return the solution that is closest in the mean, at most 5 % worse at its worst."""
        allowed = max(1.05 * solution.bound, solution.error)
        try:
            found = refine(self._problem(1), allowed, corners, WorkSpent(FEW_WORK_LIMIT))
        except WorkSpent.Exhausted:
            return solution
        if found is None:
            return solution
        return Solution(found, min(self._evaluate(found), allowed), solution.bound)

    def _problem(self, stride: int) -> Problem:
        return Problem(
            wanted=self.wanted,
            ladder=self.ladder,
            runs=self.runs,
            between=self.times.between,
            rounding=self.path.levels.rounding,
            grid=self.draft.step // self.sample_s,
            stride=stride,
        )

    def _rows(self, corners: Sequence[Sequence[tuple[int, int]]]) -> tuple[Row, ...]:
        rows = dict(self.fixed)
        for index, count in (corner for run in corners for corner in run):
            second = index * self.sample_s
            rows[second] = self.draft.row(second, count, is_lit=True)
        return tuple(rows[second] for second in sorted(rows))

    def _evaluate(self, corners: Sequence[Sequence[tuple[int, int]]]) -> float:
        return self._error_at_samples(self._rows(corners))

    def _error_at_samples(self, rows: tuple[Row, ...]) -> float:
        replay = play(rows, self.times, self.path.levels, self.path)
        return self._sampled(self.draft.errors(replay))

    def _sampled(self, errors: Floats) -> float:
        """Return the worst error that counts: at samples, or at every second of a held level."""
        return float(
            errors.max() if self.times.between == "hold" else errors[:: self.sample_s].max()
        )

    def finish(
        self, rows: tuple[Row, ...], method: str, needed: int, solution: Solution | None
    ) -> Fit:
        """Return the fit of some rows."""
        replay = play(rows, self.times, self.path.levels, self.path)
        errors = self.draft.errors(replay)
        worst = int(errors.argmax())
        strict = np.abs(replay.light - self.draft.target.reachable)
        return Fit(
            rows=rows,
            rows_needed=needed,
            worst_light_error=float(errors[worst]),
            worst_second=worst,
            strict_light_error=float(strict.max()),
            method=method,
            certificate=self._certificate(self._sampled(errors), solution),
            replay=replay,
        )

    def _certificate(self, error: float, solution: Solution | None) -> Certificate:
        floor, floor_rows, half_rows = 0.0, None, None
        if solution is not None and self.runs:
            fixed = len(self.fixed)
            problem, work = self._problem(1), WorkSpent(EXTRA_WORK_LIMIT)
            unlimited = sum(run.length for run in self.runs)
            least = solve(problem, unlimited, self._evaluate, error + 1e-6, work)
            if least is not None:
                floor = least.bound
                floor_rows = fixed + sum(len(run) for run in least.corners)
                try:
                    half = rows_for(problem, error / 2, work)
                    half_rows = None if half is None else fixed + half
                except WorkSpent.Exhausted:
                    half_rows = None
        return Certificate(
            error=error,
            bound=0.0 if solution is None else min(solution.bound, error),
            floor=min(floor, error),
            floor_rows=floor_rows,
            half_rows=half_rows,
            sample_s=1 if self.times.between == "hold" else self.sample_s,
            tolerance_s=self.draft.step // 2,
        )
