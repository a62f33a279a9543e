"""The reference player, which every other player must equal; ``docs/player.md`` describes it.

It uses integers only and keeps no state: outputs follow from the tables and the moment alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntFlag

import numpy as np

from photoperiod.arrays import Bools, Ints
from photoperiod.drive.grid import AfterLastRow, Between, RelayKind, Rounding, Row, TimeGrid
from photoperiod.drive.replay import levels_of
from photoperiod.formats.image import ChannelImage, Image
from photoperiod.units import SECONDS_PER_DAY


class Status(IntFlag):
    """What a player reports beside its outputs; several may hold at once."""

    FINE = 0
    SAFE = 1  # no table that can be played, no trusted clock, or stopped by hand
    EARLY = 2  # before the first day of the tables; the first one is played
    EXPIRED = 4  # after the last day; the last one goes on
    SOFT = 8  # a soft start holds some output down


@dataclass(frozen=True, slots=True)
class Output:
    """What the player sets one output to: level [counts], converter code, relay (True: closed)."""

    count: int
    code: int
    relay: bool


def play(
    image: Image,
    day: int,
    second: int,
    *,
    clock_valid: bool = True,
    stopped: bool = False,
    since_start_s: int | None = None,
) -> tuple[Status, tuple[Output, ...]]:
    """Return the status, and what every output is set to at a moment of the controller's clock.

    Parameters
    ----------
    image : Image
        The tables.
    day : int
        Days from 2000-01-01; ignored if the tables have no dates.
    second : int
        Second of the day, 0 to 86,399; any other is an invalid clock.
    clock_valid, stopped : bool
        Whether day and second can be trusted; whether a person stopped the lamps.
    since_start_s : int or None
        Seconds since the lamps began to rise from the dark after a start, a safe state or a stop;
        None if the soft start is over.
    """
    if stopped or not clock_valid or not 0 <= second < SECONDS_PER_DAY:
        return Status.SAFE, safe_outputs(image)
    status = Status.FINE
    if image.span is not None:
        first, last = image.span
        status |= Status.EARLY * (day < first) | Status.EXPIRED * (day > last)
    outputs = []
    for channel, index in zip(image.channels, image.table_on(day).sets, strict=True):
        count, row = _level(image, image.sets[index], second)
        ceiling = soft_ceiling(image, channel, since_start_s)
        if count > ceiling:
            count, status = ceiling, status | Status.SOFT
        outputs.append(_switched(image, channel, count, row))
    return status, tuple(outputs)


def safe_outputs(image: Image) -> tuple[Output, ...]:
    """Return the declared safe state of every output."""
    return tuple(_output(image, c.safe_count, c.safe_relay) for c in image.channels)


def open_output(image: Image) -> Output:
    """Return an output whose relay is open. Its level is 0, in case that the relay is welded."""
    return _output(image, 0, False)


def soft_ceiling(image: Image, channel: ChannelImage, since_start_s: int | None) -> int:
    """Return the largest count that a soft start allows.

    It rises from the floor to the top in a straight line over time, rounded down, so that it is
    never above the line.
    """
    whole = image.soft_start_minutes * 60
    if since_start_s is None or since_start_s >= whole:
        return image.top_count
    rise = image.top_count - channel.soft_count
    return channel.soft_count + rise * max(since_start_s, 0) // whole


def _level(image: Image, rows: Sequence[Row], second: int) -> tuple[int, Row]:
    """Return the count at a second, and the row whose relay state holds."""
    now = second - second % image.every_seconds
    index = -1
    for row in rows:
        if row.second <= now:
            index += 1
    if image.stays and (index < 0 or index == len(rows) - 1):
        row = rows[max(index, 0)]
        return row.count, row
    row, following = rows[index], rows[(index + 1) % len(rows)]  # index −1 is the last row
    if image.holds:
        return row.count, row
    elapsed = now - row.second
    if elapsed < 0:
        elapsed += SECONDS_PER_DAY
    length = following.second - row.second
    if length <= 0:
        length += SECONDS_PER_DAY
    change = following.count - row.count
    return row.count + _rounded(change * elapsed, length, image.rounding), row


def _rounded(product: int, length: int, rounding: Rounding) -> int:
    """Return product ÷ length in whole counts.

    No negative number is divided: languages round such quotients differently.
    """
    if rounding == Rounding.TOWARD_LAST_ROW:
        return product // length if product >= 0 else -(-product // length)
    if rounding == Rounding.DOWN:
        return product // length if product >= 0 else -((-product + length - 1) // length)
    if product >= 0:
        return (2 * product + length) // (2 * length)
    return -((-2 * product + length - 1) // (2 * length))


def _switched(image: Image, channel: ChannelImage, count: int, row: Row) -> Output:
    """Return the output at a count of the rows: its relay is decided before the count is snapped."""
    relay = True
    if image.relay == RelayKind.COLUMN:
        relay = row.relay is not False
    elif image.relay == RelayKind.FOLLOWS_LEVEL:
        relay = count >= channel.on_count
    if channel.snap_from <= count < channel.snap_to:
        count = channel.snap_to
    return _output(image, count, relay)


def _output(image: Image, count: int, relay: bool) -> Output:
    """Return an output. Level 0 beside an open relay: a welded contact then gives the floor."""
    if not relay:
        count = 0
    return Output(count, image.code_of(count), relay)


def play_rows(image: Image, channel: ChannelImage, rows: Sequence[Row]) -> tuple[Ints, Bools]:
    """Return count and relay of one output for all seconds of a day, shape (86400,) each."""
    times = TimeGrid(
        step_s=1,
        between=Between.HOLD if image.holds else Between.LINE,
        after_last_row=AfterLastRow.HOLD if image.stays else AfterLastRow.WRAP,
    )
    levels, relays = levels_of(rows, times, image.every_seconds, Rounding(image.rounding))
    if image.relay == RelayKind.NONE:
        relays = np.full(levels.shape, True)
    elif image.relay == RelayKind.FOLLOWS_LEVEL:
        relays = levels >= channel.on_count
    snapped = (levels >= channel.snap_from) & (levels < channel.snap_to)
    return np.where(relays, np.where(snapped, channel.snap_to, levels), 0), relays
