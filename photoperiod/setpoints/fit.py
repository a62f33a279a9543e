"""Choose the rows of a day: the best table that fits the controller, with proof.

Rows stand on the controller's grid of times and levels. The lamp lights and goes dark at the grid
times nearest to the plan's; those rows are fixed, and between them the exact search finds the rows
whose worst error is least: of one channel, or of all that share one column of times.

Everything outside `photoperiod.setpoints` sees `Target`, `fit`, `Fit` and `Certificate` only.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

import numpy as np

from photoperiod.arrays import Floats, runs_of_true
from photoperiod.drive.grid import Between, Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import Replay, play
from photoperiod.setpoints.problem import Draft, Target, simplify
from photoperiod.setpoints.segments import WorkSpent, pieces_needed
from photoperiod.setpoints.shared import (
    Levels,
    SharedProblem,
    SharedSolution,
    Sharer,
    bound_of,
    fewest_for,
    levels_of,
    most_counts,
    polish,
    rows_needed,
    solve_shared,
    times_for,
)
from photoperiod.setpoints.single import (
    Lit,
    Problem,
    Refinement,
    Solution,
    floor_of,
    nearest_counts_error,
    relaxed_bound,
    rows_for,
    run_of,
    solve,
)
from photoperiod.setpoints.tolerance import SAMPLE_S, Ladder, Wanted, sample_step
from photoperiod.units import SECONDS_PER_DAY

__all__ = ["Certificate", "Fit", "Target", "fit"]

#: Gates that one search may look at: some seconds of work on a small machine.
WORK_LIMIT = 25_000_000

#: The same for the second objective.
REFINE_WORK_LIMIT = 12_000_000

#: The same for what else a certificate says.
EXTRA_WORK_LIMIT = 10_000_000

#: The same for channels that share one column of times.
SHARED_WORK_LIMIT = 90_000_000

#: With more counts than this in a gate not all of them are tried.
MOST_COUNTS = 128

#: Counts tried in a gate of such channels when the work ran out with all of them.
FEW_COUNTS = 16

#: Grids of times finer than this are not searched [s].
LEAST_SAMPLE_S = 10

#: Errors that are tried to bring the counts at given times nearer.
POLISH_TRIES = 10


#: Shifts of the plan that are tried to hold a dose.
DOSE_TRIES = 6

Corners = tuple[tuple[tuple[int, int], ...], ...]
Found = TypeVar("Found")


class Method(StrEnum):
    """How the rows of a table were found."""

    EXACT = "exact"
    SIMPLIFICATION = "simplification"  # row by row where the table missed the plan most
    COARSER_TIMES = "coarser-times"  # the best on a coarser grid of times
    FORCED = "forced"  # the rows hold no more than the switchings


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
    joint_error, joint_bound : float or None
        Where channels share their times: the greatest error of any of them that does not stand at
        its floor, as a share of its own peak, times its weight; and what no column of times within
        the rows has less than. ``bound``, ``floor_rows`` and ``half_rows`` then are those of all
        channels together. None for a channel with times of its own.
    """

    error: float
    bound: float
    floor: float
    floor_rows: int | None
    half_rows: int | None
    sample_s: int
    tolerance_s: int
    joint_error: float | None = None
    joint_bound: float | None = None

    @property
    def is_best(self) -> bool:
        """True if the table is proven to be at most 5 % worse than any other."""
        if self.joint_error is not None and self.joint_bound is not None:
            return self.joint_error <= 1.05 * self.joint_bound + 1e-5
        return self.error <= 1.05 * self.bound + 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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
    method : Method
        How the rows were found.
    certificate : Certificate
        What is proven.
    times : TimeGrid
        How the controller goes from row to row.
    path : LightPath
        What becomes of its levels.
    """

    rows: tuple[Row, ...]
    rows_needed: int
    worst_light_error: float
    worst_second: int
    strict_light_error: float
    method: Method
    certificate: Certificate
    times: TimeGrid
    path: LightPath

    @property
    def replay(self) -> Replay:
        """The table, played."""
        return _replay_of(self)


@functools.lru_cache(maxsize=40)  # a day of a channel takes a megabyte and a half
def _replay_of(found: Fit) -> Replay:
    """Return the replay of a table; `Fit` compares by identity, so that it can be looked up at once."""
    return play(found.rows, found.times, found.path.levels, found.path)


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
    if sample_step(times, targets[0].path.levels) < LEAST_SAMPLE_S:
        return _fit_fine_times(drafts, times, row_limit)
    if len(drafts) > 1:
        return _SharedFitting(drafts).best(row_limit)
    fitting = _Fitting(drafts[0])
    if fitting.is_circle and times.between == Between.LINE:
        return _SharedFitting(drafts).best(row_limit)
    return [fitting.best(row_limit)]


def _fit_fine_times(drafts: Sequence[Draft], times: TimeGrid, row_limit: int) -> list[Fit]:
    """Return tables for a grid of times too fine to be searched, with the gap that remains.

    The better of two: rows by line simplification, and the best rows on a grid of about a minute with
    the switchings moved to where they belong. The bound is that of lines with real corners.
    """
    seconds = simplify(drafts, row_limit)
    needed = len(set().union(*(draft.forced for draft in drafts))) or 1
    choices = [(Method.SIMPLIFICATION if needed <= row_limit else Method.FORCED,
                [draft.rows(seconds) for draft in drafts])]  # fmt: skip
    coarse = replace(times, step_s=next(
        step for step in range(times.step_s, SECONDS_PER_DAY, times.step_s)
        if step >= SAMPLE_S and SECONDS_PER_DAY % step == 0
    ))  # fmt: skip
    found = fit([draft.target for draft in drafts], coarse, row_limit)
    moved = _switchings_moved([Draft(draft.target, coarse) for draft in drafts], drafts)
    if moved is not None and all(f.method == Method.EXACT for f in found):
        tables = [
            tuple(sorted(replace(row, second=moved.get(row.second, row.second)) for row in f.rows))
            for f in found
        ]
        if all(len({row.second for row in rows}) == len(rows) for rows in tables):
            choices.append((Method.COARSER_TIMES, tables))
    parts = [_Fitting(draft) for draft in drafts]
    scales = [float(draft.target.reachable.max()) or 1.0 for draft in drafts]

    def worst(tables: list[tuple[Row, ...]]) -> float:
        return max(part.error_at_samples(rows) / scale
                   for part, rows, scale in zip(parts, tables, scales, strict=True))  # fmt: skip

    method, tables = min(choices, key=lambda choice: worst(choice[1]))
    fits = []
    for part, rows in zip(parts, tables, strict=True):
        made = part.finish(rows, method, needed, None)
        bound = part.bound_by_lines(max(row_limit, needed))
        proof = replace(made.certificate, bound=min(bound, made.certificate.error))
        fits.append(replace(made, certificate=proof))
    return fits


def _switchings_moved(coarse: Sequence[Draft], fine: Sequence[Draft]) -> dict[int, int] | None:
    """Return where the switchings of a coarse grid stand on a fine one, None if that is not clear."""
    found: dict[int, int] = {}
    for rough, exact in zip(coarse, fine, strict=True):
        for is_light, old, new in zip(
            (True, False), rough.switchings(), exact.switchings(), strict=True
        ):
            if old.size != new.size:
                return None
            pairs = [(int(o), int(n)) for o, n in zip(old, new, strict=True)]
            if is_light and exact.path.dark_by_level and exact.times.between == Between.LINE:
                pairs += [((o - rough.step) % SECONDS_PER_DAY, (n - exact.step) % SECONDS_PER_DAY)
                          for o, n in pairs]  # fmt: skip
            for at, to in pairs:
                if found.setdefault(at, to) != to:
                    return None
    return found


def hold_dose(
    attempt: Callable[[float], tuple[Found | None, float]], most_shift: float, within: float
) -> Found | None:
    """Return what is closest to the plan, or, if its dose is off by too much, what holds the dose.

    Parameters
    ----------
    attempt : callable
        Gives for a shift of the plan what is closest to it, and the error of its dose.
    most_shift : float
        No larger shift is tried. [fraction of full]
    within : float
        The dose may be off by this share.
    """
    found, dose = attempt(0.0)
    if found is None or abs(dose) <= within:
        return found
    best, off = found, abs(dose)
    sign = -1.0 if dose > 0 else 1.0
    low, high = 0.0, most_shift
    shift = high
    for _ in range(DOSE_TRIES):
        found, dose = attempt(sign * shift)
        if found is not None and abs(dose) < off:
            best, off = found, abs(dose)
            if off <= within:
                break
        if found is not None and dose * sign > 0:  # too far
            high = shift
        elif shift == high:  # not even the largest shift is enough
            break
        else:
            low = shift
        shift = (low + high) / 2
    return best


class _Fitting:
    """The exact fit of one channel."""

    def __init__(self, draft: Draft) -> None:
        self.draft, self.times, self.path = draft, draft.times, draft.path
        self.sample_s = sample_step(draft.times, draft.path.levels)
        self.wanted = self._wanted()
        self.ladder = Ladder.of(draft.path, draft.ceiling)
        self.fixed, self.runs = self._parts()
        self.is_circle = any(run.is_circle for run in self.runs)

    def _wanted(self) -> Wanted:
        """Return what is wanted at the samples; what is held must suit all seconds up to the next."""
        draft = self.draft
        if self.times.between == Between.HOLD:
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
        samples = day // self.sample_s
        if draft.lit.all():
            wraps = self.times.wraps
            run = Lit(start=0, length=samples, end=None, is_circle=wraps)
            return {}, (run,)
        _, darks = draft.switchings()
        fixed = {dark: draft.row(dark, 0, is_lit=False) for dark in darks.tolist()}
        by_level = self.path.dark_by_level and self.times.between == Between.LINE
        runs = []
        for begin, end in runs_of_true(draft.lit, repeats=True):
            light, dark = begin * draft.step, end * draft.step
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

    def best(self, row_limit: int) -> Fit:
        """Return the best table within the rows, or within those it needs at least."""
        needed = len(self.fixed) + self._least_corners()
        corners = max(row_limit, needed) - len(self.fixed)
        if not self.runs:
            return self.finish(self._rows(()), Method.EXACT, needed, Solution((), 0.0, 0.0))
        problem = self._problem()
        solution = solve(problem, corners, self._evaluate, 1.0, WorkSpent(WORK_LIMIT))
        if solution is None or not solution.is_best:  # the work ran out
            bound = relaxed_bound(problem, corners) if solution is None else solution.bound
            return self._other(row_limit, needed, solution, bound)
        solution = self._refined(solution, corners)
        method = Method.EXACT if needed <= row_limit else Method.FORCED
        return self.finish(self._rows(solution.corners), method, needed, solution)

    def bound_by_lines(self, row_limit: int) -> float:
        """Return an error that no table within the rows can beat, by lines with real corners."""
        if not self.runs:
            return 0.0
        corners = row_limit - len(self.fixed)
        return relaxed_bound(self._problem(), corners) if corners >= len(self.runs) else 0.0

    def _other(self, row_limit: int, needed: int, solution: Solution | None, bound: float) -> Fit:
        """Return the better of what was found and what a search with few counts finds."""
        (other,) = _SharedFitting([self.draft]).best(row_limit, counts_most=FEW_COUNTS)
        if solution is not None and solution.error <= other.certificate.error:
            method = Method.EXACT if needed <= row_limit else Method.FORCED
            return self.finish(self._rows(solution.corners), method, needed, solution)
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
        if not self.path.dark_by_level or self.times.between == Between.HOLD:
            return len(self.runs)
        problem = self._problem()
        anything = problem.ladder.band(problem.wanted, 1.0)
        needed = [int(pieces_needed(run_of(problem, anything, lit))[0]) for lit in self.runs]
        return sum(
            max(least, 1) if least <= lit.length else 1
            for least, lit in zip(needed, self.runs, strict=True)
        )

    def _refined(self, solution: Solution, corners: int) -> Solution:
        """Return the solution that is closest in the mean, at most 5 % worse at its worst.

        If it would change the dose by more than it may, one that holds the dose comes first.
        """
        allowed = max(1.05 * solution.bound, solution.error)
        try:
            refinement = Refinement(self._problem(), allowed, corners, WorkSpent(REFINE_WORK_LIMIT))
        except WorkSpent.Exhausted:
            return solution
        found = refinement.closest()
        if found is None:
            return solution

        def attempt(shift: float) -> tuple[Corners | None, float]:
            moved = refinement.closest(shift) if shift else found
            return moved, 0.0 if moved is None else self.draft.dose_error(self._rows(moved))

        corners_found = hold_dose(attempt, allowed, self.draft.target.dose_within) or found
        return Solution(corners_found, min(self._evaluate(corners_found), allowed), solution.bound)

    def _problem(self) -> Problem:
        return Problem(
            wanted=self.wanted,
            ladder=self.ladder,
            runs=self.runs,
            between=self.times.between,
            rounding=self.path.levels.rounding,
            grid=self.draft.step // self.sample_s,
        )

    def _rows(self, corners: Sequence[Sequence[tuple[int, int]]]) -> tuple[Row, ...]:
        rows = dict(self.fixed)
        for index, count in (corner for run in corners for corner in run):
            second = index * self.sample_s
            rows[second] = self.draft.row(second, count, is_lit=True)
        return tuple(rows[second] for second in sorted(rows))

    def _evaluate(self, corners: Sequence[Sequence[tuple[int, int]]]) -> float:
        return self.error_at_samples(self._rows(corners))

    def error_at_samples(self, rows: tuple[Row, ...]) -> float:
        """Return the worst error of some rows that counts."""
        if self.times.between == Between.HOLD:
            replay = play(rows, self.times, self.path.levels, self.path)
            return self._sampled(self.draft.errors(replay))
        samples = np.arange(0, SECONDS_PER_DAY, self.sample_s, dtype=np.int64)
        light = play(rows, self.times, self.path.levels, self.path, seconds=samples).light
        return float(self.wanted.errors(light).max())

    def _sampled(self, errors: Floats) -> float:
        """Return the worst error that counts: at samples, or at every second of a held level."""
        return float(
            errors.max() if self.times.between == Between.HOLD else errors[:: self.sample_s].max()
        )

    def finish(
        self,
        rows: tuple[Row, ...],
        method: Method,
        needed: int,
        solution: Solution | None,
        certificate: Certificate | None = None,
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
            certificate=certificate or self._certificate(self._sampled(errors), solution),
            times=self.times,
            path=self.path,
        )

    def floor(self, work: WorkSpent) -> float:
        """Return the error that no number of rows would beat, 0 if it was not found."""
        if not self.runs:
            return 0.0
        if self.is_circle and self.times.between == Between.LINE:
            least = nearest_counts_error(self._problem())
            alone = _SharedFitting([self.draft]).problem([least])
            try:
                if times_for(alone, 0.0, alone.steps, work):
                    return least
            except WorkSpent.Exhausted:
                return 0.0
            return _SharedFitting([self.draft]).floor_by_search()
        found = floor_of(self._problem(), self._evaluate, 1.0, work)
        return 0.0 if found is None else found.bound

    def _certificate(self, error: float, solution: Solution | None) -> Certificate:
        floor, floor_rows, half_rows = 0.0, None, None
        if solution is not None and self.runs:
            fixed = len(self.fixed)
            problem, work = self._problem(), WorkSpent(EXTRA_WORK_LIMIT)
            least = floor_of(problem, self._evaluate, error + 1e-6, work)
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
            sample_s=1 if self.times.between == Between.HOLD else self.sample_s,
            tolerance_s=self.draft.step // 2,
        )


class _SharedFitting:
    """The exact fit of channels that share one column of times."""

    def __init__(self, drafts: Sequence[Draft]) -> None:
        self.drafts = drafts
        self.parts = [_Fitting(draft) for draft in drafts]
        self.times, self.sample_s = self.parts[0].times, self.parts[0].sample_s

    def best(self, row_limit: int, counts_most: int | None = None) -> list[Fit]:
        """Return the best tables within the rows, or within those they need at least.

        Parameters
        ----------
        row_limit : int
            Rows the controller holds.
        counts_most : int or None
            Only so many counts are tried in a gate; None for all of them, if the work allows.
        """
        seconds = simplify(self.drafts, row_limit)
        rough = [draft.rows(seconds) for draft in self.drafts]
        problem = self.problem([part.floor(WorkSpent(EXTRA_WORK_LIMIT)) for part in self.parts])
        needed = rows_needed(problem, WorkSpent(REFINE_WORK_LIMIT))
        rows = max(row_limit, needed)
        known = max(1.0 / sharer.scale for sharer in problem.sharers)
        if len(rough[0]) <= rows and all(draft.target.may_exceed for draft in self.drafts):
            known = min(known, self._joint_error(problem, rough) + 1e-6)
        solution = self._solve(problem, rows, known, counts_most)
        if not solution.times:
            method = Method.SIMPLIFICATION if needed <= row_limit else Method.FORCED
            return self._finish(problem, rough, solution.bound, method, needed)
        solution = self._refined(problem, solution)
        tables = self._tables(solution.times, solution.levels)
        method = Method.EXACT if needed <= row_limit else Method.FORCED
        return self._finish(problem, tables, solution.bound, method, needed)

    def floor_by_search(self) -> float:
        """Return the error of the one channel with any number of rows, 0 if it was not proven."""
        problem = self.problem([0.0])

        def evaluate(times: Sequence[int], levels: Levels) -> float:
            return self._joint_error(problem, self._tables(times, levels))

        (sharer,) = problem.sharers
        found = solve_shared(problem, problem.steps, evaluate, 1.0 / sharer.scale,
                             EXTRA_WORK_LIMIT, proof_share=0.0)  # fmt: skip
        return found.error * sharer.scale if found.error - found.bound < 1e-5 else 0.0

    def _forced(self) -> frozenset[int]:
        """Return the steps at which some channel has a fixed row or lights."""
        step = self.times.step_s
        found: set[int] = set() if self.times.wraps else {0}
        for part in self.parts:
            if part.draft.lit.any():
                found |= {second // step for second in part.fixed}
                found |= {r.start * self.sample_s // step for r in part.runs if not r.is_circle}
        if not found and not any(part.draft.lit.any() for part in self.parts):
            found = {0}
        return frozenset(found)

    def problem(self, floors: Sequence[float]) -> SharedProblem:
        """Return what is searched, given the floors of the channels."""
        return SharedProblem(
            sharers=[
                Sharer(
                    wanted=part.wanted,
                    ladder=part.ladder,
                    lit=part.draft.lit,
                    scale=(float(part.draft.target.reachable.max()) or 1.0)
                    / part.draft.target.weight,
                    floor=floor,
                )
                for part, floor in zip(self.parts, floors, strict=True)
            ],
            forced=self._forced(),
            grid=self.times.step_s // self.sample_s,
            rounding=self.parts[0].path.levels.rounding,
            between=self.times.between,
            wraps=self.times.wraps,
        )

    def _solve(
        self, problem: SharedProblem, rows: int, known: float, counts_most: int | None
    ) -> SharedSolution:
        """Return the best column; if the work runs out, the best with fewer counts tried."""

        def evaluate(times: Sequence[int], levels: Levels) -> float:
            return self._joint_error(problem, self._tables(times, levels))

        low = bound_of(problem, rows, known)
        exact = SharedSolution((), (), known, low)
        if counts_most is None and most_counts(problem, low) <= MOST_COUNTS:
            exact = solve_shared(problem, rows, evaluate, known, SHARED_WORK_LIMIT)
            if exact.is_proven:
                return exact
        few = replace(problem, counts_most=FEW_COUNTS)
        rough = solve_shared(few, rows, evaluate, known, SHARED_WORK_LIMIT)
        if not rough.times or (exact.times and exact.error <= rough.error):
            return exact
        return polish(problem, replace(rough, bound=min(exact.bound, rough.error)), evaluate,
                      POLISH_TRIES, WorkSpent(SHARED_WORK_LIMIT))  # fmt: skip

    def _refined(self, problem: SharedProblem, solution: SharedSolution) -> SharedSolution:
        """Return the counts at these times that are closest in the mean, at most 5 % worse.

        For a channel whose dose they would change by more than they may, counts that hold it.
        """
        allowed = max(1.05 * solution.bound, solution.error)
        work = WorkSpent(SHARED_WORK_LIMIT)
        levels = []
        try:
            for number, draft in enumerate(self.drafts):

                def attempt(
                    shift: float, number: int = number, draft: Draft = draft
                ) -> tuple[Mapping[int, int] | None, float]:
                    counts = levels_of(problem, number, solution.times, allowed, work, shift)
                    if counts is None:
                        return None, 0.0
                    return counts, draft.dose_error(self._table(draft, solution.times, counts))

                most = problem.sharers[number].tolerance(allowed)
                found = hold_dose(attempt, most, draft.target.dose_within)
                if found is None:
                    return solution
                levels.append(found)
        except WorkSpent.Exhausted:
            return solution
        error = self._joint_error(problem, self._tables(solution.times, levels))
        return replace(solution, levels=tuple(levels), error=error)

    def _table(
        self, draft: Draft, times: Sequence[int], counts: Mapping[int, int]
    ) -> tuple[Row, ...]:
        step = self.times.step_s
        return tuple(
            draft.row(time * step, counts.get(time, 0), is_lit=bool(draft.lit[time]))
            for time in sorted(times)
        )

    def _tables(
        self, times: Sequence[int], levels: Sequence[Mapping[int, int]]
    ) -> list[tuple[Row, ...]]:
        pairs = zip(self.drafts, levels, strict=True)
        return [self._table(draft, times, counts) for draft, counts in pairs]

    def _joint_error(self, problem: SharedProblem, tables: Sequence[tuple[Row, ...]]) -> float:
        return max(
            sharer.joint_error(part.error_at_samples(rows))
            for sharer, part, rows in zip(problem.sharers, self.parts, tables, strict=True)
        )

    def _finish(
        self,
        problem: SharedProblem,
        tables: Sequence[tuple[Row, ...]],
        bound: float,
        method: Method,
        needed: int,
    ) -> list[Fit]:
        joint, work = self._joint_error(problem, tables), WorkSpent(EXTRA_WORK_LIMIT)
        floor_rows = self._rows_for(problem, 0.0, work)
        half_rows = None
        alone = problem.sharers[0] if len(self.parts) == 1 else None
        if joint and (alone is None or joint / 2 * alone.scale >= alone.floor):
            half_rows = self._rows_for(problem, joint / 2, work)
        fits = []
        for sharer, part, rows in zip(problem.sharers, self.parts, tables, strict=True):
            error = part.error_at_samples(rows)
            is_joint = len(self.parts) > 1
            certificate = Certificate(
                error=error,
                bound=min(max(bound * sharer.scale, sharer.floor), error),
                floor=min(sharer.floor, error),
                floor_rows=floor_rows,
                half_rows=half_rows,
                sample_s=1 if self.times.between == Between.HOLD else self.sample_s,
                tolerance_s=self.times.step_s // 2,
                joint_error=joint if is_joint else None,
                joint_bound=min(bound, joint) if is_joint else None,
            )
            fits.append(part.finish(rows, method, needed, None, certificate))
        return fits

    def _rows_for(self, problem: SharedProblem, error: float, work: WorkSpent) -> int | None:
        """Return the fewest rows that keep a joint error, None if that was not found."""
        try:
            return fewest_for(problem, error, work)
        except WorkSpent.Exhausted:
            return None
