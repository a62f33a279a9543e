"""Tables held against the verifier, which has no code of the fit."""

from __future__ import annotations

from collections.abc import Iterator

from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program
from tests.oracle.plain_day import SLACK, Claim, Day
from tests.oracle.verify import RESOLUTION

#: The plain search goes through every corner: only grids with fewer steps and levels are searched.
MOST_STEPS, MOST_COUNTS = 100, 52


def faults_of(program: Program) -> Iterator[str]:
    """Yield what is wrong with the first tables of a program: another error, a row too many, a better table.

    Tables of tubes that burn in, and those that need more rows than there are, are left out.
    """
    controller = program.schedule.controller
    for id, c in program.channels.items():
        if not _is_plain(c, controller.setpoints_per_channel):
            continue
        proof = c.fit.certificate
        claim = Claim(
            rows=c.fit.rows,
            row_limit=controller.setpoints_per_channel,
            error=proof.error,
            bound=proof.bound,
            sample_s=proof.sample_s,
            tolerance_s=proof.tolerance_s,
            is_guarded=c.fit.has_guard_rows,
        )
        day = Day(claim, c.reachable, c.fit.times, c.path)
        yield from (f"{id}: {fault}" for fault in day.row_faults())
        error = day.error()
        if (
            c.fit.kept_for
        ):  # no tolerance upward, neither in light nor in time: its own error is no smaller
            if error > proof.error + SLACK:
                yield f"{id}: the error is {error:.9f}, more than {proof.error:.9f}"
            continue
        if abs(error - proof.error) > SLACK:
            yield f"{id}: the error is {error:.9f}, not {proof.error:.9f}"
        if proof.joint_bound is not None:
            continue
        if proof.bound > error + SLACK:
            yield f"{id}: the bound {proof.bound:.9f} is above the error {error:.9f}"
        small = day.lit.size <= MOST_STEPS and c.path.top_count <= MOST_COUNTS
        if small and proof.bound > RESOLUTION:
            better = day.fewest_rows(proof.bound - RESOLUTION)
            if better is not None and better <= claim.row_limit:
                yield f"{id}: {better} rows do better than the bound {proof.bound:.9f}"


def _is_plain(c: ChannelDay, rows_held: int) -> bool:
    """Return whether a channel's table is one that the verifier knows: fitted to its day, and held."""
    return len(c.fit.rows) <= rows_held and c.role == "plan"
