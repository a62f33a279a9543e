"""A table as stairs: the few seconds of a day at which its output steps, and what it is from there on.

Between two rows the output takes each count between theirs once. So it is reckoned when it steps, and
not for each second what it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Ints
from photoperiod.drive.grid import Between, Rounding, TimeGrid
from photoperiod.units import SECONDS_PER_DAY

#: With more steps than this in a day it is no work saved.
MOST_STEPS = 20_000


@dataclass(frozen=True, slots=True)
class Stairs:
    """What a table puts out, stretch by stretch, all of shape (stretches,).

    ``lengths`` are in seconds, and add up to a day; some are 0. ``counts`` and ``relay_on`` are what is put
    out meanwhile.
    """

    lengths: Ints
    counts: Ints
    relay_on: Bools


def stairs_of(
    seconds: Ints, counts: Ints, relays: Bools, times: TimeGrid, every_seconds: int, rounding: Rounding
) -> Stairs | None:  # fmt: skip
    """Return the stairs of a table, None if it has too many steps for them to be worth it.

    Parameters
    ----------
    seconds, counts, relays : ndarray, shape (rows,)
        The rows, seconds rising.
    times, every_seconds, rounding
        As for `photoperiod.drive.replay.levels_of`.
    """
    last = seconds.size - 1
    # Up to the first row the last one of the day before goes on, or the first row stands already.
    before, start = (last, seconds[last] - SECONDS_PER_DAY) if times.wraps else (0, 0)
    rows = np.concatenate(([before], np.arange(last + 1)))
    starts = np.concatenate(([start], seconds))
    ends = np.append(seconds, seconds[0] + SECONDS_PER_DAY)
    change = np.append(counts, counts[0]) - counts[rows]
    if times.between == Between.HOLD:
        change[:] = 0
    elif not times.wraps:
        change[[0, -1]] = 0
    size = np.abs(change)
    if int(size.sum()) > MOST_STEPS:
        return None
    # Each piece begins with the count of its row, and then steps up or down, one count at a time.
    piece = np.repeat(np.arange(size.size), size + 1)
    heads = np.cumsum(size + 1) - (size + 1)
    step = np.arange(piece.size) - heads[piece]
    elapsed = _steps_at(step, change[piece], (ends - starts)[piece], rounding)
    at = np.clip(starts[piece] + elapsed, 0, SECONDS_PER_DAY)
    at = np.minimum(-(-at // every_seconds) * every_seconds, SECONDS_PER_DAY)
    return Stairs(
        lengths=np.diff(at, append=SECONDS_PER_DAY),
        counts=counts[rows[piece]] + np.sign(change)[piece] * step,
        relay_on=relays[rows[piece]],
    )


def _steps_at(step: Ints, change: Ints, span: Ints, rounding: Rounding) -> Ints:
    """Return after how many seconds of a piece the output has moved so many counts; 0 for none."""
    size, rises = np.maximum(np.abs(change), 1), change > 0
    if rounding == Rounding.HALF_UP:
        # floor((2 · change · t + span) / (2 · span)) reaches the step: at a half up, after it down.
        half = (2 * step - 1) * span
        reached = np.where(rises, -(-half // (2 * size)), half // (2 * size) + 1)
    elif rounding == Rounding.DOWN:
        reached = np.where(rises, -(-step * span // size), (step - 1) * span // size + 1)
    elif rounding == Rounding.TOWARD_LAST_ROW:
        reached = -(-step * span // size)
    else:
        raise ValueError(f"unknown rounding {rounding!r}")
    return np.where(step > 0, reached, 0)
