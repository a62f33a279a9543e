"""Play a table second by second, in integers, as the controller does.

This is the specification of the player in Python; nothing here knows what the plan was.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.drive.grid import Between, LevelGrid, Rounding, Row, TimeGrid
from photoperiod.drive.kept import kept_while_used
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.stairs import stairs_of
from photoperiod.units import SECONDS_PER_DAY

if TYPE_CHECKING:
    from numpy.typing import NDArray

T = TypeVar("T", bound=np.generic)

#: So many played tables are kept with their rows: one that was found is played again to tell of it.
KEPT_PLAYED = 8

#: Of a table with more steps than this, some seconds are played alone.
FEW_STEPS = 1_000

#: So few seconds are always played alone.
FEW_SECONDS = 500

#: The light of so many played tables is kept second by second. One takes 0.7 MB, and 0.1 ms to make again.
MOST_LIGHTS = 24


class LightSteps(NamedTuple):
    """Light that stays as it is from step to step.

    ``begins`` are the seconds of the day with which steps begin, the first is 0 [s]; ``light`` is given from
    there on [fraction of full]. Both of shape (steps,).
    """

    begins: Ints
    light: Floats

    @classmethod
    def of(cls, light: Floats) -> LightSteps:
        """Return the steps of light in each second of a day, shape (86400,)."""
        begins = np.append(0, np.flatnonzero(light[1:] != light[:-1]) + 1)
        return cls(begins, light[begins])

    def light_at(self, seconds: Ints) -> Floats:
        """Return the light in some seconds of the day, in their shape. [fraction of full]"""
        return self.light[np.searchsorted(self.begins, seconds, side="right") - 1]

    def farthest(self, other: LightSteps) -> float:
        """Return the largest difference from other light in any second. [fraction of full]"""
        at = np.concatenate((self.begins, other.begins))
        return float(np.abs(self.light_at(at) - other.light_at(at)).max())


@dataclass(frozen=True, eq=False)
class Replay:
    """What one channel does in each second of a day: it is kept as stairs, which take little memory.

    Parameters
    ----------
    step_counts : ndarray, shape (steps,)
        Levels put out, step by step.
    step_relays : ndarray, shape (steps,)
        The state of the rows meanwhile; True where they hold none.
    path : LightPath
        What becomes of a level.
    lengths : ndarray, shape (steps,), or None
        For how long each step lasts; some last for no time [s]. None if each is one second.
    """

    step_counts: Ints
    step_relays: Bools
    path: LightPath
    lengths: Ints | None = None

    @property
    def step_lengths(self) -> Ints:
        """For how long each step lasts, shape (steps,). [s]"""
        return np.ones_like(self.step_counts) if self.lengths is None else self.lengths

    @functools.cached_property
    def step_lit(self) -> Bools:
        """Whether the lamp burns, step by step, shape (steps,)."""
        return self.path.is_lit(self.step_counts, self.step_relays)

    @functools.cached_property
    def step_light(self) -> Floats:
        """The light given, step by step, shape (steps,). [fraction of full]"""
        return self.path.light(self.step_counts, self.step_relays)

    @functools.cached_property
    def light_s(self) -> float:
        """All the light of the day: the seconds at full that would give as much. [s]"""
        return float(self.light.sum())

    @functools.cached_property
    def light_steps(self) -> LightSteps:
        """The light given, as steps that last for some time."""
        if self.lengths is None:
            return LightSteps.of(self.light)
        lasts = self.lengths > 0
        return LightSteps(self._begins[lasts], self.step_light[lasts])

    @property
    def counts(self) -> Ints:
        """Levels put out in each second, shape (86400,). [counts]"""
        return self.each_second(self.step_counts)

    @property
    def relay_on(self) -> Bools:
        """The state of the rows in each second, shape (86400,); True where they hold none."""
        return self.each_second(self.step_relays)

    @property
    def lit(self) -> Bools:
        """Whether the lamp burns in each second, shape (86400,)."""
        return self.each_second(self.step_lit)

    @property
    def full(self) -> Bools:
        """Whether the lamp runs undimmed in each second, shape (86400,)."""
        return self.each_second(self.path.is_full(self.step_counts, self.step_relays))

    @property
    def light(self) -> Floats:
        """The light given in each second, shape (86400,), for reading only. [fraction of full]"""
        return _light_of(self)

    def at(self, seconds: Ints) -> Replay:
        """Return the same in some seconds of the day only, one after the other."""
        step = seconds
        if self.lengths is not None:  # of steps that begin at once the last one lasts
            step = np.searchsorted(self._begins, seconds, side="right") - 1
        return Replay(self.step_counts[step], self.step_relays[step], self.path)

    @functools.cached_property
    def _begins(self) -> Ints:
        """When each step begins, shape (steps,). [s]"""
        return np.cumsum(self.step_lengths) - self.step_lengths

    def each_second(self, values: NDArray[T]) -> NDArray[T]:
        """Return what is so from step to step as it is in each second."""
        return values if self.lengths is None else np.repeat(values, self.lengths)


@kept_while_used(MOST_LIGHTS)
def _light_of(replay: Replay) -> Floats:
    """Return the light in each second, shape (86400,), for reading only. [fraction of full]"""
    light = replay.each_second(replay.step_light)
    light.setflags(write=False)
    return light


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
    rounding, every_seconds = rounding or levels.rounding, levels.every_seconds
    rows = tuple(rows)
    if seconds is None or (seconds.size > FEW_SECONDS and _steps(rows) <= FEW_STEPS):
        played = _played(rows, times, every_seconds, rounding, path)
        if played is not None:
            return played if seconds is None else played.at(seconds)
    return Replay(*levels_of(rows, times, every_seconds, rounding, seconds), path)


def _steps(rows: tuple[Row, ...]) -> int:
    """Return the counts that lines between rows go up or down through in a day."""
    return sum(abs(row.count - rows[number - 1].count) for number, row in enumerate(rows))


@functools.lru_cache(maxsize=KEPT_PLAYED)
def _played(
    rows: tuple[Row, ...], times: TimeGrid, every_seconds: int, rounding: Rounding, path: LightPath
) -> Replay | None:
    """Return what rows do as stairs, None if they have too many steps."""
    seconds, counts, relays = _columns(rows)
    stairs = stairs_of(seconds, counts, relays, times, every_seconds, rounding)
    if stairs is None:
        return None
    return Replay(stairs.counts, stairs.relay_on, path, stairs.lengths)


def _columns(rows: Sequence[Row]) -> tuple[Ints, Ints, Bools]:
    """Return seconds [s from midnight], counts and relay states of rows, shape (rows,) each."""
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
