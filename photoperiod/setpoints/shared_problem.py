"""What is searched of channels that share one column of times.

Channels differ in what an error means: 2 % of full is nothing to a noon and everything to a
moonlight. So an error counts as a share of the channel's own peak, times its weight, and a channel
that stands at its own floor, which no number of rows would beat, holds nobody back: the *joint
error* of some tables is the least x at which every channel's error is at most x × peak ÷ weight or
its floor.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Bools
from photoperiod.drive.grid import Between, Rounding
from photoperiod.setpoints.bound import RealGates
from photoperiod.setpoints.certificate import FLOOR_SLACK
from photoperiod.setpoints.columns import Column, ColumnChannel
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.tolerance import Ladder, Wanted

#: How many of the windows that demand a row are looked at on a day without any switching.
WINDOWS = 48

#: For every channel the count at each step that has a row while it is lit.
Levels = Sequence[Mapping[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedChannel:
    """One channel of a column.

    Parameters
    ----------
    wanted : Wanted
        Light wanted at every sample.
    ladder : Ladder
        Light of every count.
    lit : ndarray, shape (steps,)
        Whether it is lit in each time step.
    scale : float
        Light that counts as a joint error of 1: its peak over its weight. [fraction of full]
    floor : float
        The least error that any number of rows of its own gives. [fraction of full]
    """

    wanted: Wanted
    ladder: Ladder
    lit: Bools
    scale: float
    floor: float

    def tolerance(self, joint_error: float) -> float:
        """Return the error this channel may have at a joint error. [fraction of full]"""
        return max(joint_error * self.scale, self.floor + FLOOR_SLACK)

    def joint_error(self, error: float) -> float:
        """Return the joint error that an error of this channel means."""
        return 0.0 if error <= self.floor + FLOOR_SLACK else error / self.scale


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedProblem:
    """Some channels with one column of times.

    Parameters
    ----------
    channels : sequence of SharedChannel
        The channels.
    forced : frozenset of int
        Steps of the time grid at which a row must stand.
    grid : int
        Samples in one time step.
    rounding, between, wraps
        As for `photoperiod.setpoints.columns.Column`.
    stride : int
        Rows have counts that are multiples of this; 1 for all counts. What is refused with more is no
        proof.
    counts_most : int or None
        Only about so many counts of a gate are tried; None for all of them. What is refused then is
        no proof.
    places : ndarray, shape (steps,), or None
        Steps at which rows may stand beside the forced ones; None for all of them. What is refused
        then is no proof. For lines only.
    """

    channels: Sequence[SharedChannel]
    forced: frozenset[int]
    grid: int
    rounding: Rounding
    between: Between
    wraps: bool
    counts_most: int | None = None
    stride: int = 1
    places: Bools | None = None

    @property
    def steps(self) -> int:
        """Time steps in a day."""
        return int(self.channels[0].lit.size)

    @property
    def is_circle(self) -> bool:
        """Whether it is one channel that is never dark, its lines going round the day."""
        is_alone = len(self.channels) == 1 and not self.forced
        return is_alone and self.wraps and self.between == Between.LINE

    @property
    def is_exact(self) -> bool:
        """Whether all counts and places are tried, so that a refusal is a proof."""
        return self.stride == 1 and self.counts_most is None and self.places is None

    @property
    def most_error(self) -> float:
        """A joint error that any tables keep: light is off by the whole of full at most."""
        return max(1.0 / channel.scale for channel in self.channels)

    def at_error(self, error: float) -> list[ColumnChannel]:
        """Return the channels with the bands that a joint error leaves them."""
        found = [
            ColumnChannel(
                band=channel.ladder.band(channel.wanted, channel.tolerance(error)),
                lit=channel.lit,
                first=channel.ladder.first,
                stride=self.stride,
            )
            for channel in self.channels
        ]
        if self.counts_most is None:
            return found
        return [
            replace(channel, stride=1 << (channel.widest // self.counts_most).bit_length())
            if channel.widest >= self.counts_most
            else channel
            for channel in found
        ]

    def column(self, channels: Sequence[ColumnChannel], cut: int) -> Column:
        """Return the column of some bands, with the day cut at a step, at which a row stands."""
        forced = sorted(self.forced | {cut})
        at = forced.index(cut)
        return Column(
            channels=channels,
            forced=(*forced[at:], *(step + self.steps for step in forced[:at])),
            grid=self.grid,
            rounding=self.rounding,
            between=self.between,
            wraps=self.wraps,
            places=self.places,
        )

    def near(self, times: Sequence[int], reach: int) -> SharedProblem:
        """Return the same with rows at most so many steps from some times."""
        around = np.array(times)[:, None] + np.arange(-reach, reach + 1)
        places = np.zeros(self.steps, dtype=bool)
        places[around % self.steps] = True
        return replace(self, places=places)

    def cuts(self, channels: Sequence[ColumnChannel]) -> Sequence[int]:
        """Return steps of which one must have a row; one is enough where a row is forced.

        Of forced rows the one is taken at which the fewest counts go through, because a channel that
        is lit at the cut needs a set of its own for each count that it may begin with.
        """
        if not self.wraps:
            return (0,)
        if not self.forced:
            return _window(self, channels)

        def through(step: int) -> tuple[int, int]:
            both = [c for c in channels if c.lit[step] and c.lit[step - 1]]
            at = step * self.grid
            return sum(int(c.band.high[at] - c.band.low[at]) + 1 for c in both), step

        return (min(self.forced, key=through),)


def _window(problem: SharedProblem, channels: Sequence[ColumnChannel]) -> Sequence[int]:
    """Return the steps of the shortest window found that no single line of some channel passes.

    One step will do if one level suits every channel all day.
    For held levels: of the longest stretch from the beginning of the day that one level can last.
    """
    size = problem.steps * problem.grid
    best: Sequence[int] = range(problem.steps)  # some row stands somewhere, at the least
    is_wanted = False
    for channel in channels:
        if not channel.lit.any():
            continue  # dark at every row, wherever the rows stand
        run = Corridor(low=channel.band.low, high=channel.band.high, grid=1, first=0, end=None,
                  rounding=problem.rounding)  # fmt: skip
        if (run.low > run.high).any():
            return (0,)  # nothing fits at all
        if int(run.low.max()) <= int(run.high.min()):
            continue  # one level suits this channel all day
        is_wanted = True
        if problem.between == Between.HOLD:
            lasts = int(np.argmax(np.maximum.accumulate(run.low) > np.minimum.accumulate(run.high)))
            best = min(best, range(lasts // problem.grid + 1), key=len)
            continue
        low, high = run.real_ends()
        twice = RealGates(np.tile(low, 2), np.tile(high, 2))
        for stop in range(size, 2 * size, max(size // WINDOWS, 1)):
            begin = twice.farthest(stop)
            if stop - begin >= size:
                continue
            # No line passes begin − 1 .. stop, so a row stands strictly between.
            inside = range(-(-begin // problem.grid), -(-stop // problem.grid))
            if len(inside) < len(best):
                best = [step % problem.steps for step in inside]
    return best if is_wanted else (0,)
