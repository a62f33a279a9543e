"""The rows that were chosen for a channel, and what is proven of them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.kept import kept_while_used
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import Replay, play


class Method(StrEnum):
    """How the rows of a table were found."""

    EXACT = "exact"
    BEST_FOUND = "best-found"  # the work ran out; the best of several coarser grids of levels
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
        Rows that reach the floor; more lower the error no further, but may bring the table closer in the
        mean. None if that was not found.
    half_rows : int or None
        Rows that would halve the error; None if no number does, or it was not found.
    is_closest : bool
        Whether the second objective was searched to its end: of all tables within 5 % of the least error
        (with shared times: at these times) the one closest to the plan in the mean that holds the dose. False
        if that took too much work, or the table comes from a coarser grid.
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
    is_closest: bool = False

    @property
    def is_best(self) -> bool:
        """True if the table is proven to be at most 5 % worse than any other."""
        if self.joint_error is not None and self.joint_bound is not None:
            return self.joint_error <= 1.05 * self.joint_bound + 1e-5
        return self.error <= 1.05 * self.bound + 1e-6


#: With an error up to this many times the least error of any number of rows, more rows would not
#: help. Our choice.
NEAR_LEAST_ERROR = 1.05

#: An error above the floor by less is the floor's [fraction of full].
FLOOR_SLACK = 1e-7

#: Played days that are kept: those of all 64 channels that a schedule may have, and some more. One takes
#: a megabyte and a half.
MOST_REPLAYS = 72

#: With a larger error the table is one of another day [share of the channel's peak]. Our choice.
WORST_SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, weakref_slot=True)
class Fit:
    """The rows of one channel and how well they do. Two fits are equal only if they are the same one.

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
    kept_for : tuple of str
        The zones that a closer table would have lifted over their limit, by id: there these rows give
        no more light than the plan.
    error_without_guard : float or None
        Error at the samples of the best table without the guard rows of its column of times; None if
        no guard row took a row from the day. [fraction of full]
    has_guard_rows : bool
        True if these guard rows are its own: it may have none, where only channels that share its times do.
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
    kept_for: tuple[str, ...] = ()
    error_without_guard: float | None = None
    has_guard_rows: bool = False

    def is_held(self, rows_held: int, peak: float) -> bool:
        """Return whether the table fits the rows of a controller and is still one of its day.

        Errors that more rows would not mend, such as a level step that is coarse for a dim light, do
        not count. ``peak`` is the most light of the day within reach. [fraction of full]
        """
        return len(self.rows) <= rows_held and not self.strays_far(peak)

    def strays_far(self, peak: float) -> bool:
        """Return whether the table is one of another day, and more rows would mend that.

        ``peak`` is the most light of the day within reach. [fraction of full]
        """
        proof = self.certificate
        is_least = proof.floor > 0 and proof.error <= NEAR_LEAST_ERROR * proof.floor
        return self.worst_light_error > WORST_SHARE * peak > 0 and not is_least

    @property
    def replay(self) -> Replay:
        """The table, played."""
        return _replay_of(self)


@kept_while_used(MOST_REPLAYS)
def _replay_of(found: Fit) -> Replay:
    """Return the replay of a table."""
    return play(found.rows, found.times, found.path.levels, found.path)
