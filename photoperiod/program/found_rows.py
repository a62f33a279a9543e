"""Tables whose single rows were moved for a dose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from photoperiod.drive.grid import Row
from photoperiod.schedule.moves import FoundRows
from photoperiod.setpoints.fit import Fit, Target
from photoperiod.setpoints.row_moves import RowMoves
from photoperiod.units import SECONDS_PER_DAY


def with_found_rows(
    targets: Mapping[str, Target],
    fits: Mapping[str, Fit],
    found: Mapping[str, FoundRows],
    *,
    shares_times: bool,
) -> dict[str, Fit]:
    """Return tables with the rows that were found, each where the table is the one of the day found.

    It may be that table at other times, where the controller's clock is not that of the plan. Any other
    table, such as that of a burn-in, stays as it is.

    Parameters
    ----------
    targets, fits : mapping of channel to Target, Fit
        Tables, and what they were fitted to.
    found : mapping of channel to FoundRows
        The rows.
    shares_times : bool
        Whether all channels share one column of times.
    """
    result = dict(fits)
    for id, rows in found.items():
        by_s = None if id not in fits else _shift(rows.fitted, fits[id])
        if by_s is not None:
            table = RowMoves(targets[id], fits[id], has_own_times=not shares_times)
            result[id] = table.fit(_later(rows.moved, by_s))
    joints = [each.certificate.joint_error for each in result.values()]
    most = max((each for each in joints if each is not None), default=None)
    if most is None or all(each is fits[id] for id, each in result.items()):
        return result
    return {
        id: replace(each, certificate=replace(each.certificate, joint_error=most))
        for id, each in result.items()
    }


def _shift(rows: tuple[Row, ...], found: Fit) -> int | None:
    """Return by how much later a table does the same as some rows [s]; None if it does something else."""
    if found.rows == rows:
        return 0
    if not found.times.wraps or len(found.rows) != len(rows):
        return None
    shifts = (row.second - rows[0].second for row in found.rows)
    return next((by_s for by_s in shifts if _later(rows, by_s) == found.rows), None)


def _later(rows: tuple[Row, ...], by_s: int) -> tuple[Row, ...]:
    moved = (replace(row, second=(row.second + by_s) % SECONDS_PER_DAY) for row in rows)
    return tuple(sorted(moved, key=lambda row: row.second)) if by_s else rows
