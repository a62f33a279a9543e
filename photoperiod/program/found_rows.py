"""Tables whose single rows were moved for a dose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from photoperiod.schedule.moves import FoundRows
from photoperiod.setpoints.fit import Fit, Target
from photoperiod.setpoints.row_moves import RowMoves


def with_found_rows(
    targets: Mapping[str, Target],
    fits: Mapping[str, Fit],
    found: Mapping[str, FoundRows],
    *,
    shares_times: bool,
) -> dict[str, Fit]:
    """Return tables with the rows that were found, each where the table is the one of the day found.

    Any other table, such as that of a burn-in, stays as it is.

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
        if id in fits and fits[id].rows == rows.fitted:
            table = RowMoves(targets[id], fits[id], has_own_times=not shares_times)
            result[id] = table.fit(rows.moved)
    joints = [each.certificate.joint_error for each in result.values()]
    most = max((each for each in joints if each is not None), default=None)
    if most is None or all(each is fits[id] for id, each in result.items()):
        return result
    return {
        id: replace(each, certificate=replace(each.certificate, joint_error=most))
        for id, each in result.items()
    }
