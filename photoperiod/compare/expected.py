"""What a table puts out at instants: the light and relay of channels, the PPFD of zones."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints, Singles
from photoperiod.compare.model import time_text
from photoperiod.drive.zone_light import zone_ppfd
from photoperiod.formats.image import FIRST_DAY
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import of_set
from photoperiod.sky.clock import Clock
from photoperiod.units import SECONDS_PER_DAY

EPOCH = dt.date(1970, 1, 1)

#: A function of instants [Unix seconds] that gives a value at each.
AtInstants = Callable[[Floats], Floats]


class Expected:
    """The replay of a table at instants: light and relay of channels, PPFD of zones.

    Each set of rows is played once and kept, so that a long log costs no more than its tables.

    Parameters
    ----------
    table : PlayableTable
        The table.
    clock : Clock
        The controller's clock.
    """

    def __init__(self, table: PlayableTable, clock: Clock) -> None:
        self.table, self.clock = table, clock
        self._first_days = np.array([each.first_day for each in table.image.tables])
        self._known: dict[str, tuple[Ints, Singles, Bools]] = {}

    def local(self, unix_s: Floats) -> tuple[Ints, Ints]:
        """Return day [from 1970-01-01] and second of the day of instants, on the controller's clock."""
        whole = np.floor(unix_s).astype(np.int64)
        shown = whole + self.clock.offsets_s(whole)
        return shown // SECONDS_PER_DAY, shown % SECONDS_PER_DAY

    def time_text(self, unix_s: float) -> str:
        """Return an instant as the controller's clock shows it."""
        return time_text(self.clock, float(unix_s))

    def light(self, id: str, unix_s: Floats) -> Floats:
        """Return the light of a channel at instants. [fraction of full]"""
        of_table, light, _ = self._played(id)
        index, second = self._where(unix_s)
        return light[of_table[index], second].astype(np.float64)

    def relay_on(self, id: str, unix_s: Floats) -> Floats:
        """Return 1 where the relay of a channel is closed at instants, else 0."""
        of_table, _, relay_on = self._played(id)
        index, second = self._where(unix_s)
        return relay_on[of_table[index], second].astype(np.float64)

    def ppfd(self, zone: str, unix_s: Floats) -> Floats:
        """Return the PPFD of a zone at instants. [µmol m⁻² s⁻¹]"""
        full_ppfd = self.table.full_ppfd(zone)
        sources = ((full, self.light(id, unix_s)) for id, full in full_ppfd.items())
        return zone_ppfd(sources, np.zeros(unix_s.shape))

    def _where(self, unix_s: Floats) -> tuple[Ints, Ints]:
        """Return the index of the table that is played at instants, and the second of the day."""
        days, seconds = self.local(unix_s)
        from_2000 = days - (FIRST_DAY - EPOCH).days
        index = np.searchsorted(self._first_days, from_2000, side="right") - 1
        if self.table.image.span is None:
            index = np.zeros_like(index)
        return np.maximum(index, 0), seconds

    def _played(self, id: str) -> tuple[Ints, Singles, Bools]:
        """Return each table's row in the other two arrays: light and relay of a channel's days."""
        if id not in self._known:
            at = self.table.channels.index(id)
            sets = [each.sets[at] for each in self.table.image.tables]
            own, of_table = np.unique(sets, return_inverse=True)
            days = [of_set(self.table, id, int(index)) for index in own]
            self._known[id] = (
                of_table.reshape(-1).astype(np.int64),
                np.stack([day.light.astype(np.float32) for day in days]),
                np.stack([day.relay_on for day in days]),
            )
        return self._known[id]


def band(expected: AtInstants, unix_s: Floats, reach_s: float) -> tuple[Floats, Floats]:
    """Return the smallest and the largest value within ``reach_s`` seconds of each instant."""
    low = high = expected(unix_s)
    for shift in set(np.round(np.linspace(-reach_s, reach_s, 13)).tolist()) - {0.0}:
        value = expected(unix_s + shift)
        low, high = np.minimum(low, value), np.maximum(high, value)
    return low, high


def date_of_day(day: int) -> dt.date:
    """Return the date of a day that is counted from 1970-01-01."""
    return EPOCH + dt.timedelta(days=day)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedLight:
    """Light of a channel [fraction of full], or PPFD of a zone [µmol m⁻² s⁻¹], as a log has it.

    Parameters
    ----------
    subject : str
        The channel or zone.
    is_zone : bool
        True for a zone.
    scale : float
        The value at full, in the unit of ``values``.
    holds : bool
        True if a value holds until the next record.
    unix_s, values : ndarray, shape (records,)
        Instants that rise [Unix seconds], and the logged values.
    expected : callable
        The same quantity by the table, at given instants.
    """

    subject: str
    is_zone: bool
    scale: float
    holds: bool
    unix_s: Floats
    values: Floats
    expected: AtInstants
