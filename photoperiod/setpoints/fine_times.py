"""Tables for a grid of times that is too fine to be searched, with the gap that remains."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cached_property

from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.setpoints.certificate import FLOOR_SLACK, Certificate, Fit, Method
from photoperiod.setpoints.channel_rows import method_within
from photoperiod.setpoints.problem import ChannelProblem, Target, simplify
from photoperiod.setpoints.single_fit import SingleFitting
from photoperiod.setpoints.tolerance import SAMPLE_S
from photoperiod.units import SECONDS_PER_DAY

#: How rows were found that came out of a search.
_SEARCHED = (Method.EXACT, Method.BEST_FOUND)

Tables = list[tuple[Row, ...]]

#: Fits targets on a grid of times within so many rows.
Fitter = Callable[[Sequence[Target], TimeGrid, int], list[Fit]]


class FineTimesFitting:
    """The better of two tables: by line simplification, and the best on a coarser grid.

    The coarser grid is of about a minute; its switchings are moved to where they belong on the fine
    one. The bound is that of lines with real corners.

    Parameters
    ----------
    problems : sequence of ChannelProblem
        Channels that share one column of times, or one channel.
    on_coarse : callable
        Fits the same channels on the coarser grid.
    """

    def __init__(self, problems: Sequence[ChannelProblem], on_coarse: Fitter) -> None:
        self.problems, self.on_coarse = problems, on_coarse

    @cached_property
    def parts(self) -> list[SingleFitting]:
        """The channels."""
        return [SingleFitting(problem) for problem in self.problems]

    def best(self, row_limit: int) -> list[Fit]:
        """Return the better tables within the rows, or within those they need at least."""
        needed = len(set().union(*(problem.forced for problem in self.problems))) or 1
        simple = method_within(row_limit, needed, Method.SIMPLIFICATION)
        seconds = simplify(self.problems, row_limit)
        choices = [(simple, [problem.rows(seconds) for problem in self.problems])]
        coarse = self._from_coarse(row_limit)
        if coarse is not None:
            choices.append((Method.COARSER_TIMES, coarse))
        method, tables = min(choices, key=lambda choice: self._worst(choice[1]))
        return self._fits(tables, method, needed, max(row_limit, needed))

    def _from_coarse(self, row_limit: int) -> Tables | None:
        """Return the best tables on a coarser grid with switchings moved, None if that fails."""
        times = coarser(self.problems[0].times)
        found = self.on_coarse([problem.target for problem in self.problems], times, row_limit)
        rough = [ChannelProblem(problem.target, times) for problem in self.problems]
        moved = switchings_moved(rough, self.problems)
        if moved is None or not all(fit.method in _SEARCHED for fit in found):
            return None
        tables = [
            tuple(
                sorted(replace(row, second=moved.get(row.second, row.second)) for row in fit.rows)
            )
            for fit in found
        ]
        if any(len({row.second for row in rows}) < len(rows) for rows in tables):
            return None  # a switching was moved onto another row
        return tables

    def _worst(self, tables: Tables) -> float:
        """Return the worst error of any channel as a share of its peak."""
        return max(
            part.channel.error_at_samples(rows) / part.problem.peak
            for part, rows in zip(self.parts, tables, strict=True)
        )

    def _fits(self, tables: Tables, method: Method, needed: int, rows_most: int) -> list[Fit]:
        fits = []
        for part, rows in zip(self.parts, tables, strict=True):
            error = part.channel.error_at_samples(rows)
            certificate = Certificate(
                error=error,
                bound=min(part.bound_by_lines(rows_most), error),
                floor=0.0,
                floor_rows=None,
                half_rows=None,
                sample_s=part.channel.proven_every_s,
                tolerance_s=part.problem.step // 2,
            )
            fits.append(part.channel.fit(rows, method, needed, certificate))
        return fits


def better_of(
    problems: Sequence[ChannelProblem], searched: list[Fit], coarse: list[Fit]
) -> list[Fit]:
    """Return the better tables, with all that is proven of both.

    Parameters
    ----------
    problems : sequence of ChannelProblem
        The channels.
    searched : list of Fit
        What was found on the fine grid before the work ran out.
    coarse : list of Fit
        What `FineTimesFitting` found.
    """

    def joint(fits: list[Fit]) -> float:
        pairs = zip(fits, searched, problems, strict=True)
        return max(
            0.0
            if each.certificate.error <= own.certificate.floor + FLOOR_SLACK
            else each.certificate.error * problem.target.weight / problem.peak
            for each, own, problem in pairs
        )

    error = joint(coarse)
    if error >= joint(searched):
        return searched
    found = []
    for own, each in zip(searched, coarse, strict=True):
        proof = replace(
            own.certificate,
            error=each.certificate.error,
            bound=min(max(own.certificate.bound, each.certificate.bound), each.certificate.error),
            floor=min(own.certificate.floor, each.certificate.error),
            half_rows=None,
            is_closest=False,
        )
        if proof.joint_bound is not None:
            bound = min(proof.joint_bound, error)
            proof = replace(proof, joint_error=error, joint_bound=bound)
        found.append(replace(each, certificate=proof, rows_needed=own.rows_needed))
    return found


def coarser(times: TimeGrid) -> TimeGrid:
    """Return the finest grid of at least a minute whose times are all on a finer one."""
    steps = range(times.step_s, SECONDS_PER_DAY, times.step_s)
    step_s = next(s for s in steps if s >= SAMPLE_S and SECONDS_PER_DAY % s == 0)
    return replace(times, step_s=step_s)


def switchings_moved(
    coarse: Sequence[ChannelProblem], fine: Sequence[ChannelProblem]
) -> dict[int, int] | None:
    """Return where the switchings of a coarse grid stand on a fine one, None if that is not clear.

    It is not if a channel switches less often on the coarse grid, or if channels that share a row
    would take it to different times.
    """
    found: dict[int, int] = {}
    for rough, exact in zip(coarse, fine, strict=True):
        for is_light, old, new in zip(
            (True, False), rough.switchings(), exact.switchings(), strict=True
        ):
            if old.size != new.size:
                return None
            pairs = list(zip(old.tolist(), new.tolist(), strict=True))
            if is_light and exact.rises_from_zero:
                # A row of level 0 stands one step before the lamp lights.
                pairs += [
                    ((o - rough.step) % SECONDS_PER_DAY, (n - exact.step) % SECONDS_PER_DAY)
                    for o, n in pairs
                ]
            for at, to in pairs:
                if found.setdefault(at, to) != to:
                    return None
    return found
