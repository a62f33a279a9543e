"""Verify a certificate without any code of the fit: measure the table, and look for a better one.

The measure is written out here anew, from `docs/setpoints.md`; the table is played by the replay,
which is the specification of the player. The search is plain: every corner that any piece reaches is
kept, nothing is pruned. It takes seconds to minutes where the fit takes milliseconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.arrays import Floats
from photoperiod.drive.grid import TimeGrid
from photoperiod.drive.light_path import LightPath
from tests.oracle.plain_column import Column
from tests.oracle.plain_day import SLACK, Claim, Day

#: A bound may be this much above what is refuted here: the resolution of the proof.
RESOLUTION = 2e-7

#: The same of a joint bound [share of peak].
JOINT_RESOLUTION = 2e-6

#: A channel whose error is above its floor by less stands at its floor [fraction of full].
FLOOR_SLACK = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class JointClaim:
    """What the certificates of channels with one column of times claim together.

    Parameters
    ----------
    claims : sequence of Claim
        Of each channel; their bounds are not looked at.
    weights, floors : sequence of float
        Weight of each channel, and the error that it is said no number of rows would beat.
        [1; fraction of full]
    error, bound : float
        The joint error and what no column within the rows has less than. [share of peak]
    """

    claims: Sequence[Claim]
    weights: Sequence[float]
    floors: Sequence[float]
    error: float
    bound: float


def faults(claim: Claim, reachable: Floats, times: TimeGrid, path: LightPath) -> list[str]:
    """Return what is wrong with a claim, nothing if it stands.

    Parameters
    ----------
    claim : Claim
        The claim.
    reachable : ndarray, shape (86400,)
        The reachable plan at each second. [fraction of full]
    times, path : TimeGrid, LightPath
        How the controller plays, and what becomes of its levels.
    """
    day = Day(claim, reachable, times, path)
    found = day.row_faults()
    error = day.error()
    if abs(error - claim.error) > SLACK:
        found.append(f"the error is {error:.9f}, not {claim.error:.9f}")
    if claim.bound > error + SLACK:
        found.append(f"the bound {claim.bound:.9f} is above the table's own error {error:.9f}")
    elif claim.bound > RESOLUTION:
        better = day.fewest_rows(claim.bound - RESOLUTION)
        if better is not None and better <= claim.row_limit:
            found.append(f"{better} rows do better than the bound {claim.bound:.9f}")
    return found


def joint_faults(
    joint: JointClaim, reachables: Sequence[Floats], times: TimeGrid, paths: Sequence[LightPath]
) -> list[str]:
    """Return what is wrong with the claims of channels that share their times.

    Parameters
    ----------
    joint : JointClaim
        The claims.
    reachables, paths : sequences
        The reachable plan and the light path of each channel, as for `faults`.
    times : TimeGrid
        How the controller plays.

    Raises
    ------
    TooLarge
        If the plain search would keep more than `MOST_LABELS` labels.
    """
    days = [
        Day(claim, reachable, times, path)
        for claim, reachable, path in zip(joint.claims, reachables, paths, strict=True)
    ]
    found = []
    if len({tuple(row.second for row in claim.rows) for claim in joint.claims}) > 1:
        found.append("the channels' rows do not stand at the same times")
    scales, measured = [], 0.0
    for number, (day, weight, floor) in enumerate(
        zip(days, joint.weights, joint.floors, strict=True)
    ):
        found += [f"channel {number}: {fault}" for fault in day.row_faults()]
        error = day.error()
        if abs(error - day.claim.error) > SLACK:
            found.append(f"channel {number}: the error is {error:.9f}, not {day.claim.error:.9f}")
        if floor > RESOLUTION and day.fewest_rows(floor - RESOLUTION) is not None:
            found.append(f"channel {number}: rows enough do better than the floor {floor:.9f}")
        scales.append((float(day.reachable.max()) or 1.0) / weight)
        if error > floor + FLOOR_SLACK:
            measured = max(measured, error / scales[-1])
    if abs(measured - joint.error) > JOINT_RESOLUTION:
        found.append(f"the joint error is {measured:.9f}, not {joint.error:.9f}")
    if joint.bound > measured + JOINT_RESOLUTION:
        found.append(f"the joint bound {joint.bound:.9f} is above the error {measured:.9f}")
    elif joint.bound > JOINT_RESOLUTION:
        least = joint.bound - JOINT_RESOLUTION
        errors = [
            max(least * scale, floor + FLOOR_SLACK)
            for scale, floor in zip(scales, joint.floors, strict=True)
        ]
        better = Column(days, errors).fewest_rows()
        if better is not None and better <= joint.claims[0].row_limit:
            found.append(f"{better} rows do better than the joint bound {joint.bound:.9f}")
    return found
