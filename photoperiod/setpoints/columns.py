"""A column of times that several channels share, and the stretches into which its rows cut the day.

Every switching of any channel is a row, so between two of them (a *stretch*) the same channels are
lit. The day is cut at one of them, and its samples are counted from there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from photoperiod.arrays import Bools, Ints
from photoperiod.drive.grid import Between, Rounding
from photoperiod.setpoints.bound import RealGates
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.tolerance import ToleranceBand


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnChannel:
    """One channel of a column at a given error.

    Parameters
    ----------
    band : ToleranceBand
        Counts that may be emitted at each sample of the day.
    lit : ndarray, shape (steps,)
        Whether the channel is lit in each step of the time grid.
    first : int
        No row of a lit channel has a lower count.
    stride : int
        Rows have counts that are multiples of this; 1 for an exact search.
    """

    band: ToleranceBand
    lit: Bools
    first: int
    stride: int = 1

    @property
    def widest(self) -> int:
        """The most counts, less one, that a gate has."""
        return max(int((self.band.high - np.maximum(self.band.low, self.first)).max()), 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """What a search needs to know of the channels that share a column of times.

    Parameters
    ----------
    channels : sequence of ColumnChannel
        The channels.
    forced : tuple of int
        Steps of the grid at which a row must stand, rising; the first of them is the cut.
    grid : int
        Samples in one time step.
    rounding, between : Rounding, Between
        How the controller goes from row to row.
    wraps : bool
        False if the last row is held until the end of the day, which then begins at step 0.
    places : ndarray, shape (steps,), or None
        Steps of the grid at which rows may stand beside the forced ones; None for all of them.
    """

    channels: Sequence[ColumnChannel]
    forced: tuple[int, ...]
    grid: int
    rounding: Rounding
    between: Between
    wraps: bool
    places: Bools | None = None

    @property
    def steps(self) -> int:
        """Time steps in a day."""
        return int(self.channels[0].lit.size)

    def coarser(self, times: int) -> Column:
        """Return the same with each so many-th count alone, and places of free rows, from the cut on."""
        if times == 1:
            return self
        places = (np.arange(self.steps) - self.forced[0]) % times == 0
        if self.places is not None:
            places &= self.places
        channels = [replace(channel, stride=channel.stride * times) for channel in self.channels]
        return replace(self, channels=channels, places=places)


@dataclass(slots=True)
class Stretch:
    """A part of the day in which the same channels are lit, from one forced row to the next.

    Parameters
    ----------
    begin, length : int
        Its first sample after the cut, and how many samples it has.
    runs : dict by number of channel
        The gates of the channels that are lit.
    opens, closes : list of int
        The channels that light at its first row, and those that go dark at its end.
    is_last : bool
        True if it ends the day.
    needed : ndarray, shape (length + 1,)
        A lower bound on the pieces from each place to the end of the day.
    """

    begin: int
    length: int
    runs: dict[int, Corridor]
    opens: list[int]
    closes: list[int]
    is_last: bool
    needed: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))


def least_rows(column: Column) -> int | None:
    """Return a number of rows that no column can do with less, None if no column fits at all."""
    return count_needed(list(stretches_of(column)), column)


def stretches_of(column: Column) -> Iterator[Stretch]:
    """Yield the stretches of the day in order from the cut on."""
    cut, steps, per = column.forced[0], column.steps, column.grid
    stops = [*column.forced[1:], cut + steps]
    begin = cut
    for stop in stops:
        is_last = stop == cut + steps
        ends_day = is_last and not column.wraps
        runs: dict[int, Corridor] = {}
        opens, closes = [], []
        for number, channel in enumerate(column.channels):
            if not channel.lit[begin % steps]:
                continue
            goes_dark = not ends_day and not channel.lit[stop % steps]
            size = (stop - begin) * per
            at = np.arange(begin * per, begin * per + size + (not goes_dark and not ends_day))
            at %= channel.band.low.size
            runs[number] = Corridor(
                low=channel.band.low[at],
                high=channel.band.high[at],
                grid=per,
                first=channel.first,
                end=0 if goes_dark else None,
                rounding=column.rounding,
                stride=channel.stride,
            )
            if (begin == cut and not column.wraps) or not channel.lit[(begin - 1) % steps]:
                opens.append(number)
            if goes_dark:
                closes.append(number)
        yield Stretch((begin - cut) * per, (stop - begin) * per, runs, opens, closes, is_last)
        begin = stop


def count_needed(stretches: list[Stretch], column: Column) -> int | None:
    """Set for each place of every stretch a lower bound on the pieces from there to the end.

    Pieces may have any real corners and need not meet, as in
    `photoperiod.setpoints.segments.pieces_needed`; a piece ends where the first channel can go no
    further. Returned is the bound for the whole day; None if some gate lets nothing through.
    """
    after = 0
    for stretch in reversed(stretches):
        needed = np.full(stretch.length + 1, after, dtype=np.int64)
        if not stretch.runs:
            needed[:-1] = after = after + 1
            stretch.needed = needed
            continue
        ends = []
        for run in stretch.runs.values():
            if (run.low > run.high).any():
                return None
            ends.append(RealGates(*run.real_ends()))
        stop = stretch.length
        while stop > 0:
            begin = max(gates.farthest(min(stop, gates.last)) for gates in ends)
            if begin == stop:
                return None
            after += 1
            needed[begin:stop] = after
            stop = begin
        stretch.needed = needed
    return after
