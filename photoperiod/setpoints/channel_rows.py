"""The rows of one channel: those that switchings fix, and the lit runs between them to be filled."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from photoperiod.arrays import Ints, runs_of_true
from photoperiod.drive.grid import Between, Row
from photoperiod.drive.replay import play
from photoperiod.setpoints.certificate import Certificate, Fit, Method
from photoperiod.setpoints.problem import ChannelProblem
from photoperiod.setpoints.single import Lit, RunCorners, SingleProblem
from photoperiod.setpoints.tolerance import Ladder, Wanted, sample_step
from photoperiod.units import SECONDS_PER_DAY


class ChannelRows:
    """What a search needs to know of a channel, and rows made of what it finds.

    Parameters
    ----------
    problem : ChannelProblem
        The channel on the grid of the controller.
    """

    def __init__(self, problem: ChannelProblem) -> None:
        self.problem, self.times, self.path = problem, problem.times, problem.path
        self.sample_s = sample_step(problem.times, problem.path.levels)
        self.wanted = self._wanted()
        self.ladder = Ladder.of(problem.path, problem.ceiling)
        self.fixed, self.runs = self._parts()
        self.is_circle = any(run.is_circle for run in self.runs)

    @property
    def proven_every_s(self) -> int:
        """How far the samples are apart at which an error is proven. [s]"""
        return 1 if self.times.between == Between.HOLD else self.sample_s

    def _wanted(self) -> Wanted:
        """Return what is wanted at the samples; what is held must suit all seconds up to the next."""
        problem = self.problem
        if self.times.between == Between.HOLD:
            least = problem.least.reshape(-1, self.sample_s).max(axis=1)
            most = problem.most.reshape(-1, self.sample_s).min(axis=1)
            middle = problem.target.reachable.reshape(-1, self.sample_s).mean(axis=1)
        else:
            least = problem.least[:: self.sample_s]
            most = problem.most[:: self.sample_s]
            middle = problem.target.reachable[:: self.sample_s]
        return Wanted(least=least, most=most, middle=middle, may_exceed=problem.target.may_exceed)

    def _parts(self) -> tuple[dict[int, Row], tuple[Lit, ...]]:
        """Return the rows that are fixed, by second, and the lit runs between them."""
        problem, day, wraps = self.problem, SECONDS_PER_DAY, self.times.wraps
        if problem.lit.all():
            return {}, (Lit(start=0, length=day // self.sample_s, end=None, is_circle=wraps),)
        _, darks = problem.switchings()
        fixed = {dark: problem.row(dark, 0, is_lit=False) for dark in darks.tolist()}
        runs = []
        for begin, end in runs_of_true(problem.lit, repeats=True):
            light, dark = begin * problem.step, end * problem.step
            if wraps or dark <= day:
                runs.append(self._run(light, dark, 0 if dark < day or wraps else None))
            else:  # the table breaks at midnight
                runs.append(self._run(light, day, None))
                runs.append(self._run(0, dark - day, 0))
            if problem.rises_from_zero and (wraps or light > 0):
                before = (light - problem.step) % day
                fixed.setdefault(before, problem.row(before, 0, is_lit=False))
        if not wraps and not problem.lit[0]:
            fixed.setdefault(0, problem.row(0, 0, is_lit=False))
        if not fixed:  # never lit
            fixed[0] = problem.row(0, 0, is_lit=False)
        return fixed, tuple(sorted(runs, key=lambda run: run.start))

    def _run(self, begin: int, stop: int, end: int | None) -> Lit:
        length = (stop - begin) // self.sample_s
        return Lit(start=begin // self.sample_s, length=length, end=end)

    def searched(self) -> SingleProblem:
        """Return what is searched if this channel has times of its own."""
        return SingleProblem(
            wanted=self.wanted,
            ladder=self.ladder,
            runs=self.runs,
            between=self.times.between,
            rounding=self.path.levels.rounding,
            grid=self.problem.step // self.sample_s,
        )

    def rows(self, corners: Sequence[RunCorners]) -> tuple[Row, ...]:
        """Return the fixed rows and those at corners, given as (sample of the day, count)."""
        rows = dict(self.fixed)
        for index, count in (corner for run in corners for corner in run):
            second = index * self.sample_s
            rows[second] = self.problem.row(second, count, is_lit=True)
        return tuple(rows[second] for second in sorted(rows))

    def error_of(self, corners: Sequence[RunCorners]) -> float:
        """Return the worst error of the rows at corners."""
        return self.error_at_samples(self.rows(corners))

    def error_at_samples(self, rows: tuple[Row, ...]) -> float:
        """Return the worst error of some rows that counts: at samples, or in every second if held."""
        if self.times.between == Between.HOLD:
            replay = play(rows, self.times, self.path.levels, self.path)
            return float(self.problem.errors(replay).max())
        samples = np.arange(0, SECONDS_PER_DAY, self.sample_s, dtype=np.int64)
        light = play(rows, self.times, self.path.levels, self.path, seconds=samples).light
        return float(self.wanted.errors(light).max())

    def burns_through(self, rows: tuple[Row, ...]) -> bool:
        """Return whether some rows never give a count at which a lamp that should be lit is not."""
        samples = np.arange(0, SECONDS_PER_DAY, self.sample_s, dtype=np.int64)
        counts = play(rows, self.times, self.path.levels, self.path, seconds=samples).counts
        return self.burns_at(samples, counts)

    def burns_at(self, seconds: Ints, counts: Ints) -> bool:
        """Return the same of the counts in some seconds of the day; only the samples among these count."""
        is_sample = seconds % self.sample_s == 0
        samples, counts = seconds[is_sample], counts[is_sample]
        is_wanted = self.wanted.least[samples // self.sample_s] > 0.0
        meant_lit = self.problem.lit[samples // self.problem.step] & is_wanted
        return bool((counts[meant_lit] >= self.ladder.first).all())

    def fit(
        self, rows: tuple[Row, ...], method: Method, rows_needed: int, certificate: Certificate
    ) -> Fit:
        """Return some rows as the fit of the channel, with the errors at every second."""
        replay = play(rows, self.times, self.path.levels, self.path)
        errors = self.problem.errors(replay)
        worst = int(errors.argmax())
        if method == Method.EXACT and not certificate.is_best:
            method = Method.BEST_FOUND
        at = self.problem.stretch(replay)
        strict = np.abs(replay.light[at] - self.problem.target.reachable[at])
        return Fit(
            rows=rows,
            rows_needed=rows_needed,
            worst_light_error=float(errors[worst]),
            worst_second=worst,
            strict_light_error=float(strict.max(initial=0.0)),
            method=method,
            certificate=certificate,
            times=self.times,
            path=self.path,
        )


def method_within(row_limit: int, rows_needed: int, method: Method = Method.EXACT) -> Method:
    """Return how rows were found, or that they hold no more than what is needed."""
    return method if rows_needed <= row_limit else Method.FORCED
