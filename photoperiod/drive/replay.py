"""Play a table second by second, in integers, as the controller does.

This is the specification of the player in Python; nothing here knows what the plan was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.drive.grid import Between, LevelGrid, Rounding, Row, TimeGrid
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.stairs import Stairs, stairs_of
from photoperiod.units import SECONDS_PER_DAY


@dataclass(frozen=True, slots=True)
class Replay:
    """What one channel does in each second of a day, all of shape (86400,).

    ``counts`` are levels put out, ``relay_on`` the state of the rows (True where they hold none),
    ``lit`` whether the lamp burns, ``full`` whether it runs undimmed, ``light`` the light given as
    a fraction of full.
    """

    counts: Ints
    relay_on: Bools
    lit: Bools
    full: Bools
    light: Floats


def play(
    rows: Sequence[Row],
    times: TimeGrid,
    levels: LevelGrid,
    path: LightPath,
    rounding: Rounding | None = None,
    seconds: Ints | None = None,
) -> Replay:
    """Return what a table does over one day that is like the day before and after.

    Parameters
    ----------
    rows : sequence of Row
        At least one row, seconds rising.
    times, levels : TimeGrid, LevelGrid
        How the controller goes from row to row and rounds.
    path : LightPath
        What becomes of a level.
    rounding : Rounding or None
        Another rounding than that of ``levels``.
    seconds : ndarray or None
        The seconds of the day to be played; None for all 86,400.

    Raises
    ------
    ValueError
        If there is no row or their seconds do not rise.
    """
    rounding = rounding or levels.rounding
    stairs = None if seconds is not None else _stairs(rows, times, levels.every_seconds, rounding)
    if stairs is not None:
        return _played(stairs.counts, stairs.relay_on, path, stairs.lengths)
    counts, relay_on = levels_of(rows, times, levels.every_seconds, rounding, seconds)
    return _played(counts, relay_on, path)


def light_of(
    rows: Sequence[Row],
    times: TimeGrid,
    levels: LevelGrid,
    path: LightPath,
    rounding: Rounding | None = None,
) -> Floats:
    """Return the light alone that a table gives in each second of a day, as `play` does, shape (86400,)."""
    rounding = rounding or levels.rounding
    stairs = _stairs(rows, times, levels.every_seconds, rounding)
    if stairs is None:
        return play(rows, times, levels, path, rounding).light
    return np.repeat(path.light(stairs.counts, stairs.relay_on), stairs.lengths)


def _played(counts: Ints, relay_on: Bools, path: LightPath, lengths: Ints | None = None) -> Replay:
    """Return what becomes of some levels; with lengths each of them lasts for so many seconds."""
    lit, full = path.is_lit(counts, relay_on), path.is_full(counts, relay_on)
    light = path.light(counts, relay_on)
    if lengths is not None:
        counts, light = np.repeat(counts, lengths), np.repeat(light, lengths)
        relay_on, lit, full = (np.repeat(each, lengths) for each in (relay_on, lit, full))
    return Replay(counts=counts, relay_on=relay_on, lit=lit, full=full, light=light)


def _stairs(
    rows: Sequence[Row], times: TimeGrid, every_seconds: int, rounding: Rounding
) -> Stairs | None:
    seconds, counts, relays = _columns(rows)
    return stairs_of(seconds, counts, relays, times, every_seconds, rounding)


def _columns(rows: Sequence[Row]) -> tuple[Ints, Ints, Bools]:
    """Return seconds, counts and relay states of rows, shape (rows,)."""
    seconds = np.array([row.second for row in rows], dtype=np.int64)
    if seconds.size == 0 or (np.diff(seconds) <= 0).any():
        raise ValueError("a table needs rows whose seconds rise")
    counts = np.array([row.count for row in rows], dtype=np.int64)
    return seconds, counts, np.array([row.relay is not False for row in rows])


def levels_of(
    rows: Sequence[Row],
    times: TimeGrid,
    every_seconds: int,
    rounding: Rounding,
    at_seconds: Ints | None = None,
) -> tuple[Ints, Bools]:
    """Return the count and relay state of every second, shape (86400,) each, or of some.

    Between two rows at seconds A and B with counts a and b, at second t:

    ``half-up``
        floor(a + (b − a)(t − A)/(B − A) + 1/2)
    ``down``
        floor(a + (b − a)(t − A)/(B − A))
    ``toward-last-row``
        a + trunc((b − a)(t − A)/(B − A)), as integer division in C does

    all in integers. With ``wrap`` the last row is followed by the first row of the next day; with
    ``hold`` its level stays until midnight, and from midnight the first row applies.
    """
    seconds, counts, relays = _columns(rows)
    if at_seconds is None:
        stairs = stairs_of(seconds, counts, relays, times, every_seconds, rounding)
        if stairs is not None:
            return np.repeat(stairs.counts, stairs.lengths), np.repeat(
                stairs.relay_on, stairs.lengths
            )
    now = np.arange(SECONDS_PER_DAY, dtype=np.int64) if at_seconds is None else at_seconds
    now = now - now % every_seconds
    index = np.searchsorted(seconds, now, side="right") - 1
    before_first = index < 0
    after = np.where(index == len(rows) - 1, 0, index + 1)
    index[before_first] = len(rows) - 1 if times.wraps else 0
    after[before_first] = 0
    if times.between == Between.HOLD:
        return counts[index], relays[index]
    elapsed = now - seconds[index]
    elapsed[elapsed < 0] += SECONDS_PER_DAY
    span = seconds[after] - seconds[index]
    span[span <= 0] += SECONDS_PER_DAY
    change = counts[after] - counts[index]
    if not times.wraps:
        change[(index == len(rows) - 1) | before_first] = 0
    product = change * elapsed
    if rounding == Rounding.HALF_UP:
        moved = (2 * product + span) // (2 * span)
    elif rounding == Rounding.DOWN:
        moved = product // span
    elif rounding == Rounding.TOWARD_LAST_ROW:
        moved = np.sign(product) * (np.abs(product) // span)
    else:
        raise ValueError(f"unknown rounding {rounding!r}")
    return counts[index] + moved, relays[index]


def seconds_around(rows: Sequence[Row], number: int, every_seconds: int) -> Ints:
    """Return the seconds of the day in which a row has a say, by its number: between its neighbours.

    With fewer than three rows, all. A controller that emits every few seconds puts a row out late by as much.
    """
    if len(rows) < 3:
        return np.arange(SECONDS_PER_DAY, dtype=np.int64)
    begin, end = rows[number - 1].second, rows[(number + 1) % len(rows)].second
    end += SECONDS_PER_DAY if end <= begin else 0
    last = min(end + every_seconds, begin + SECONDS_PER_DAY)
    return np.arange(begin, last, dtype=np.int64) % SECONDS_PER_DAY
