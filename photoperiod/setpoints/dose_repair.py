"""Move the levels of finished rows a little, so that they hold the day's dose.

It serves tables for which the second objective took too much work. Rows keep their times; no row is moved so
far that the worst error gets larger than the one that is allowed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from photoperiod.arrays import Ints
from photoperiod.drive.grid import Row
from photoperiod.drive.light_path import LIGHT_SLACK
from photoperiod.drive.replay import play
from photoperiod.setpoints.certificate import FLOOR_SLACK, Certificate, Fit
from photoperiod.setpoints.channel_rows import ChannelRows
from photoperiod.setpoints.problem import ChannelProblem
from photoperiod.units import SECONDS_PER_DAY

#: A dose is held by tables with at most this many times the least error, or the least that was found.
WORSE = 1.05

#: Steps in which all rows are moved together, of the allowed error each.
SHARES = 64

#: With more lit rows than this they are moved together only: each one takes dozens of plays.
MOST_ROWS = 64

#: How often the rows are gone through one by one.
ROUNDS = 2

Rows = tuple[Row, ...]


def with_dose_held(problems: Sequence[ChannelProblem], fits: Sequence[Fit]) -> list[Fit]:
    """Return tables that hold their doses, as far as their levels at these times can.

    Tables that the second objective has chosen stay as they are.

    Parameters
    ----------
    problems : sequence of ChannelProblem
        One channel, or all that share one column of times.
    fits : sequence of Fit
        Their tables.
    """
    if all(found.certificate.is_closest for found in fits):
        return list(fits)
    held = [_held(problem, found) for problem, found in zip(problems, fits, strict=True)]
    joints = [
        joint_error(problem, found.certificate)
        for problem, found in zip(problems, held, strict=True)
    ]
    return [
        replace(each, certificate=replace(each.certificate, joint_error=max(joints)))
        if each.certificate.joint_error is not None
        else each
        for each in held
    ]


def joint_error(problem: ChannelProblem, proof: Certificate) -> float:
    """Return the error of a channel as a share of its peak, times its weight; 0 at its floor."""
    if proof.error <= proof.floor + FLOOR_SLACK:
        return 0.0
    return proof.error * problem.target.weight / problem.peak


def most_error(problem: ChannelProblem, proof: Certificate) -> float:
    """Return the largest error that a table may have for the sake of its dose. [fraction of full]"""
    if proof.joint_error is None or proof.joint_bound is None:
        return max(WORSE * (proof.bound if proof.is_best else proof.error), proof.error)
    joint = max(
        WORSE * (proof.joint_bound if proof.is_best else proof.joint_error), proof.joint_error
    )
    return max(joint * problem.peak / problem.target.weight, proof.error)


def _held(problem: ChannelProblem, found: Fit) -> Fit:
    proof = found.certificate
    if proof.is_closest or abs(problem.dose_error(found.rows)) <= problem.target.dose_within:
        return found
    channel = ChannelRows(problem)
    rows = _DoseRepair(channel, most_error(problem, proof)).held(found.rows)
    error = channel.error_at_samples(rows)
    proof = replace(proof, error=error, floor=min(proof.floor, error))
    return channel.fit(rows, found.method, found.rows_needed, proof)


class _DoseRepair:
    """Levels that hold the dose of a channel within an error at its samples."""

    def __init__(self, channel: ChannelRows, most_error: float) -> None:
        self.channel, self.problem, self.most_error = channel, channel.problem, most_error
        self.within = channel.problem.target.dose_within

    def held(self, rows: Rows) -> Rows:
        """Return rows whose dose is held, or nearer to the plan's than before."""
        dose = self.problem.dose_error(rows)
        if abs(dose) <= self.within:
            return rows
        sign = -1 if dose > 0 else 1
        rows = self._farthest(rows, sign, partial(self._all_moved, rows), SHARES)
        movable = [n for n, row in enumerate(rows) if self._is_lit(row)]
        for number in movable * ROUNDS if len(movable) <= MOST_ROWS else ():
            if abs(self.problem.dose_error(rows)) <= self.within:
                break
            moved = partial(self._one_moved, rows, number)
            rows = self._farthest(rows, sign, moved, self._span(rows[number].count))
        return rows

    def _is_lit(self, row: Row) -> bool:
        return bool(self.problem.lit[row.second // self.problem.step])

    def _farthest(self, rows: Rows, sign: int, moved: Callable[[int], Rows], most: int) -> Rows:
        """Return the rows that are moved farthest without going too far, by halving."""
        low, high = 0, most + 1
        while high - low > 1:
            middle = (low + high) // 2
            tried = moved(sign * middle)
            keeps_all = keeps(self.channel, tried, self.most_error)
            dose = self.problem.dose_error(tried) if keeps_all else None
            if dose is None or dose * sign > self.within:
                high = middle
                continue
            low, rows = middle, tried
            if abs(dose) <= self.within:
                break
        return rows

    def _all_moved(self, rows: Rows, share: int) -> Rows:
        """Return the lit rows moved in light by a share of the allowed error."""
        light = self.channel.path.burning_light
        counts = np.array([row.count for row in rows])
        moved = self.channel.path.nearest_counts(light[counts] + share / SHARES * self.most_error)
        return tuple(
            replace(row, count=self._allowed(int(count))) if self._is_lit(row) else row
            for row, count in zip(rows, moved, strict=True)
        )

    def _one_moved(self, rows: Rows, number: int, counts: int) -> Rows:
        row = rows[number]
        moved = replace(row, count=self._allowed(row.count + counts))
        return (*rows[:number], moved, *rows[number + 1 :])

    def _span(self, count: int) -> int:
        """Return how many counts a row may move: twice the allowed error in light, one at the least."""
        light = self.channel.path.burning_light
        near = np.abs(light - light[count]) <= 2 * self.most_error
        return max(int(near.sum()), 1)

    def _allowed(self, count: int) -> int:
        ladder = self.channel.ladder
        return min(max(count, ladder.first), ladder.top)


def keeps(channel: ChannelRows, rows: Rows, most_error: float, seconds: Ints | None = None) -> bool:
    """Return whether rows of a channel keep an error, and do nothing that it must not do.

    Parameters
    ----------
    channel, rows : ChannelRows, tuple of Row
        The channel, and its rows.
    most_error : float
        The error at the samples. [fraction of full]
    seconds : ndarray or None
        The seconds of the day in which that is not known yet; None for all.
    """
    problem = channel.problem
    if seconds is None:
        seconds = np.arange(SECONDS_PER_DAY, dtype=np.int64)
    at = seconds[seconds % channel.proven_every_s == 0]
    played = play(rows, channel.times, channel.path.levels, channel.path, seconds=at)
    most_over = most_error if problem.target.may_exceed else 0.0
    if (played.light > problem.most[at] + (most_over + LIGHT_SLACK)).any():
        return False
    if (played.light < problem.least[at] - (most_error + LIGHT_SLACK)).any():
        return False
    return channel.burns_at(at, played.counts)
