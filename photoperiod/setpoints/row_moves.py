"""Tables that differ from a finished one at single rows, within what is proven of it.

They serve doses that are finer than what the best table gives: a row of a ramp that goes a count up or
stands a step later changes the dose by far less than a plan can.
"""

from __future__ import annotations

import copy
import functools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from photoperiod.arrays import Ints
from photoperiod.drive.grid import Row
from photoperiod.drive.replay import play, seconds_around
from photoperiod.setpoints.certificate import Fit
from photoperiod.setpoints.channel_rows import ChannelRows
from photoperiod.setpoints.dose_repair import joint_error, keeps, most_error
from photoperiod.setpoints.problem import ChannelProblem, Target

#: By so many counts of level, or steps of time, a row is moved; none farther once one was too far.
SIZES = (1, 2, 4, 8, 16, 32, 64)


@dataclass(frozen=True, slots=True)
class RowMove:
    """One row of a table, by its number, in another place; and how much more light that gives. [s at full]"""

    number: int
    row: Row
    more_s: float


class RowMoves:
    """What single rows of a finished table may do.

    A table keeps the worst error that its certificate allows (at most 5 % above the least, or its own where
    that is larger), stays lit where it is meant to be, and switches when it did.

    Parameters
    ----------
    target : Target
        What the table was fitted to.
    found : Fit
        The table.
    has_own_times : bool
        False if other channels share its times, so that only levels may move.
    """

    def __init__(self, target: Target, found: Fit, *, has_own_times: bool) -> None:
        self.found, self.rows, self.has_own_times = found, found.rows, has_own_times
        self.channel = ChannelRows(ChannelProblem(target, found.times))
        self.most_error = most_error(self.channel.problem, found.certificate)
        self._light = found.replay.light
        self._known: Sequence[list[RowMove] | None] = [None] * len(self.rows)

    def after(self, rows: tuple[Row, ...]) -> RowMoves:
        """Return what single rows may do once others were moved; the error that is allowed stays.

        A row whose neighbours are where they were may do what it could.
        """
        moved = copy.copy(self)
        moved.__dict__.pop("_of_each", None)
        moved.rows = rows
        path = self.found.path
        moved._light = play(rows, self.found.times, path.levels, path).light
        if keeps(self.channel, rows, self.most_error):
            moved._known = [
                moves if self._near(number) == moved._near(number) else None
                for number, moves in enumerate(self._of_each)
            ]
        else:  # no move of one row mends that
            moved._known = [[] for _ in rows]
        return moved

    @property
    def single(self) -> list[RowMove]:
        """The moves of one row that are allowed.

        Rows that are no neighbours can be moved together: what each adds stays the same, and so does the
        error that counts.
        """
        return [move for moves in self._of_each for move in moves]

    @functools.cached_property
    def _of_each(self) -> list[list[RowMove]]:
        """The moves of each row that are allowed."""
        return [
            self._of(number) if known is None else known for number, known in enumerate(self._known)
        ]

    def _of(self, number: int) -> list[RowMove]:
        if not self._is_lit(self.rows[number]):
            return []
        return [RowMove(number, row, self._more_s(number, row)) for row in self._others(number)]

    def _near(self, number: int) -> tuple[Row, ...]:
        """Return a row with its neighbours: what a move of it hangs on."""
        return tuple(self.rows[(number + by) % len(self.rows)] for by in (-1, 0, 1))

    def are_apart(self, a: int, b: int) -> bool:
        """Return whether two rows, by their numbers, are no neighbours."""
        size = len(self.rows)
        return min((a - b) % size, (b - a) % size) > 1

    def moved(self, moves: Sequence[RowMove]) -> tuple[Row, ...]:
        """Return the rows of the table after moves of rows that are no neighbours."""
        rows = list(self.rows)
        for move in moves:
            rows[move.number] = move.row
        return tuple(rows)

    def fit(self, rows: tuple[Row, ...]) -> Fit:
        """Return moved rows as a table with what is proven of it."""
        proof, problem = self.found.certificate, self.channel.problem
        error = self.channel.error_at_samples(rows)
        proof = replace(proof, error=error, floor=min(proof.floor, error), is_closest=False)
        if proof.joint_error is not None:
            joint = max(proof.joint_error, joint_error(problem, proof))
            proof = replace(proof, joint_error=joint)
        fitted = self.channel.fit(rows, self.found.method, self.found.rows_needed, proof)
        return replace(
            fitted,
            kept_for=self.found.kept_for,
            error_without_guard=self.found.error_without_guard,
            has_guard_rows=self.found.has_guard_rows,
        )

    def _with(self, number: int, row: Row) -> tuple[Row, ...]:
        return (*self.rows[:number], row, *self.rows[number + 1 :])

    def _others(self, number: int) -> Iterator[Row]:
        """Yield where else a row may stand: up and down, earlier and later, as far as the error allows."""
        row, ladder, step_s = self.rows[number], self.channel.ladder, self.found.times.step_s
        for sign in (-1, 1):
            for by in SIZES:
                count = row.count + sign * by
                if not ladder.first <= count <= ladder.top:
                    break
                if not self._keeps(number, replace(row, count=count)):
                    break
                yield replace(row, count=count)
            for by in SIZES:
                second = row.second + sign * by * step_s
                if not self._may_stand(number, second):
                    break
                if not self._keeps(number, replace(row, second=second)):
                    break
                yield replace(row, second=second)

    def _keeps(self, number: int, row: Row) -> bool:
        return keeps(self.channel, self._with(number, row), self.most_error, self._around(number))

    def _around(self, number: int) -> Ints:
        """Return the seconds of the day in which a row has a say."""
        return seconds_around(self.rows, number, self.found.path.levels.every_seconds)

    def _may_stand(self, number: int, second: int) -> bool:
        """Return whether a row may stand at another time: between its neighbours, switching nothing."""
        rows = self.rows
        if not self.has_own_times or number in (0, len(rows) - 1):
            return False  # rows stay in their order, and midnight is where it was
        before, after = rows[number - 1], rows[number + 1]
        return self._is_lit(before) and before.second < second < after.second

    def _is_lit(self, row: Row) -> bool:
        return bool(self.channel.problem.lit[row.second // self.channel.problem.step])

    def _more_s(self, number: int, row: Row) -> float:
        """Return how much more light a table gives with another row. [s at full]"""
        seconds = self._around(number)
        after = play(
            self._with(number, row),
            self.found.times,
            self.found.path.levels,
            self.found.path,
            seconds=seconds,
        )
        return float((after.light - self._light[seconds]).sum())
