"""Choose the rows of a day: the best table that fits the controller, with proof.

Rows stand on the controller's grid of times and levels. The lamp lights and goes dark at the grid
times nearest to the plan's; those rows are fixed, and between them the exact search finds the rows
whose worst error is least: of one channel, or of all that share one column of times.

Everything outside `photoperiod.setpoints` sees `Target`, `fit`, `errors_of`, `Fit` and `Certificate` only.
"""

from __future__ import annotations

from collections.abc import Sequence

from photoperiod.arrays import Floats
from photoperiod.drive.grid import Between, TimeGrid
from photoperiod.kernel.paths import rooms
from photoperiod.setpoints.certificate import Certificate, Fit, Method
from photoperiod.setpoints.dose_repair import with_dose_held
from photoperiod.setpoints.fine_times import FineTimesFitting, better_of
from photoperiod.setpoints.kept_night import with_night_kept
from photoperiod.setpoints.problem import ChannelProblem, Target
from photoperiod.setpoints.remembered import Remembered
from photoperiod.setpoints.single_fit import SingleFitting
from photoperiod.setpoints.tolerance import SAMPLE_S, sample_step

__all__ = ["Certificate", "Fit", "Method", "Target", "errors_of", "fit", "fit_anew", "remembered"]

#: Grids of times with samples nearer than this are not searched [s].
LEAST_SAMPLE_S = 10


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
    return remembered(targets, times, row_limit)


def fit_anew(targets: Sequence[Target], times: TimeGrid, row_limit: int) -> list[Fit]:
    """Return the same as `fit`, whether it was fitted before or not."""

    def search(problems: Sequence[ChannelProblem]) -> list[Fit]:
        return with_dose_held(problems, _least_error(problems, row_limit))

    problems = [ChannelProblem(target, times) for target in targets]
    try:
        return with_night_kept(problems, search(problems), search, row_limit)
    finally:
        rooms.give_back()


#: What was fitted in this process; `fit` asks here first.
remembered = Remembered(fit_anew)


def errors_of(target: Target, found: Fit) -> Floats:
    """Return how far the light of a table is off at each second, shape (86400,). [fraction of full]

    With a tolerance in time of half a time step, and without the step in which a lamp lights or goes dark.
    """
    return ChannelProblem(target, found.times).errors(found.replay)


def _least_error(problems: Sequence[ChannelProblem], row_limit: int) -> list[Fit]:
    """Return the tables of least error that are found."""
    times, coarse = problems[0].times, FineTimesFitting(problems, fit)
    if sample_step(times, problems[0].path.levels) < LEAST_SAMPLE_S:
        return coarse.best(row_limit)
    if len(problems) == 1:
        single = SingleFitting(problems[0])
        if not single.channel.is_circle or times.between != Between.LINE:
            found = single.best(row_limit)
            if times.step_s >= SAMPLE_S or found[0].certificate.is_best:
                return found
            return better_of(problems, found, coarse.best(row_limit))

    from photoperiod.setpoints.shared_fit import SharedFitting  # most channels have their own times

    shared = SharedFitting(problems)
    if times.step_s >= SAMPLE_S:
        return shared.best(row_limit)
    known = coarse.best(row_limit)  # coarser times first: they show where the rows belong
    found = shared.best(row_limit, found=[each.rows for each in known])
    return better_of(problems, found, known)
