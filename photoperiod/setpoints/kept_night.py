"""A night that a coarse grid of times leaves no step for.

Where a lamp goes dark and lights nearest to the same grid time, it is lit at every grid time, and the search
then takes no row at which it is dark. But a table may be dark at just that time: with lines between rows
that is a night of some length. Both are searched, and the better one is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from photoperiod.setpoints.certificate import FLOOR_SLACK, Certificate, Fit
from photoperiod.setpoints.channel_rows import ChannelRows
from photoperiod.setpoints.dose_repair import keeps
from photoperiod.setpoints.problem import ChannelProblem

#: Finds tables of channels that share one column of times.
Search = Callable[[Sequence[ChannelProblem]], list[Fit]]

#: Any light is off by no more [fraction of full].
ANY_ERROR = 1.0


def with_night_kept(
    problems: Sequence[ChannelProblem], found: list[Fit], search: Search, row_limit: int
) -> list[Fit]:
    """Return tables, or those that are dark at the grid time of a night, if they are better.

    Parameters
    ----------
    problems : sequence of ChannelProblem
        One channel, or all that share one column of times.
    found : list of Fit
        Their tables.
    search : callable
        What found them.
    row_limit : int
        Rows the controller holds.
    """
    if all(problem.night_step is None for problem in problems):
        return found
    others = search([ChannelProblem(p.target, p.times, keeps_night=True) for p in problems])
    channels = [ChannelRows(problem) for problem in problems]
    errors = [
        channel.error_at_samples(other.rows)
        for channel, other in zip(channels, others, strict=True)
    ]
    proofs = [
        _both(each.certificate, other.certificate)
        for each, other in zip(found, others, strict=True)
    ]
    joint = _joint(problems, proofs, errors)
    is_allowed = len(others[0].rows) <= max(row_limit, len(found[0].rows)) and all(
        keeps(channel, other.rows, ANY_ERROR)
        for channel, other in zip(channels, others, strict=True)
    )
    if not is_allowed or joint >= _joint(problems, proofs, [p.error for p in proofs]):
        return [
            channel.fit(each.rows, each.method, each.rows_needed, proof)
            for channel, each, proof in zip(channels, found, proofs, strict=True)
        ]
    return [
        channel.fit(
            other.rows,
            other.method,
            other.rows_needed,
            replace(
                proof,
                error=error,
                bound=min(proof.bound, error),
                floor=min(proof.floor, error),
                joint_error=None if proof.joint_error is None else joint,
                joint_bound=None if proof.joint_bound is None else min(proof.joint_bound, joint),
                is_closest=other.certificate.is_closest,
            ),
        )
        for channel, other, proof, error in zip(channels, others, proofs, errors, strict=True)
    ]


def _both(proof: Certificate, other: Certificate) -> Certificate:
    """Return what is proven of all tables together, those with the night and those without it.

    The night's own errors are measured without the steps in which it begins and ends, so that they are
    a bound of what they are with them.
    """
    joint_bound = proof.joint_bound
    if joint_bound is not None and other.joint_bound is not None:
        joint_bound = min(joint_bound, other.joint_bound)
    is_same_floor = proof.floor <= other.floor
    return replace(
        proof,
        bound=min(proof.bound, other.bound),
        floor=min(proof.floor, other.floor),
        floor_rows=proof.floor_rows if is_same_floor else None,
        half_rows=proof.half_rows if is_same_floor else None,
        joint_bound=joint_bound,
    )


def _joint(
    problems: Sequence[ChannelProblem], proofs: Sequence[Certificate], errors: Sequence[float]
) -> float:
    """Return the largest error of channels that are not at their floors, as a share of the peak."""
    return max(
        0.0 if error <= proof.floor + FLOOR_SLACK else error * problem.target.weight / problem.peak
        for problem, proof, error in zip(problems, proofs, errors, strict=True)
    )
