"""What a table would have done at instants, and what a log says of the same, as light."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints, Singles
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.zone_light import zone_ppfd
from photoperiod.formats.image import FIRST_DAY
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import of_set
from photoperiod.sky.clock import Clock
from photoperiod.units import SECONDS_PER_DAY

EPOCH = dt.date(1970, 1, 1)

#: What is planned at some instants.
Planned = Callable[[Floats], Floats]


class Plan:
    """The replay at instants: light and relay of channels, PPFD of zones.

    Each set of rows is played once, so that a log of a year asks for no more than its tables.
    """

    def __init__(self, table: PlayableTable, clock: Clock) -> None:
        self.table, self.clock = table, clock
        self._first_days = np.array([each.first_day for each in table.image.tables])
        self._known: dict[str, tuple[Ints, Singles, Bools]] = {}

    def local(self, unix_s: Floats) -> tuple[Ints, Ints]:
        """Return the day (from 1970) and the second of the day of instants."""
        whole = np.floor(unix_s).astype(np.int64)
        shown = whole + self.clock.offsets_s(whole)
        return shown // SECONDS_PER_DAY, shown % SECONDS_PER_DAY

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
        """Return which table is played at instants, and the second of its day."""
        days, seconds = self.local(unix_s)
        from_2000 = days - (FIRST_DAY - EPOCH).days
        index = np.searchsorted(self._first_days, from_2000, side="right") - 1
        if self.table.image.span is None:
            index = np.zeros_like(index)
        return np.maximum(index, 0), seconds

    def _played(self, id: str) -> tuple[Ints, Singles, Bools]:
        """Return which of a channel's days each table has, and light and relay of those days."""
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


def band(planned: Planned, unix_s: Floats, reach_s: float) -> tuple[Floats, Floats]:
    """Return the least and the largest of what is planned within some seconds of instants."""
    low = high = planned(unix_s)
    for shift in set(np.round(np.linspace(-reach_s, reach_s, 13)).tolist()) - {0.0}:
        value = planned(unix_s + shift)
        low, high = np.minimum(low, value), np.maximum(high, value)
    return low, high


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Light of a channel [fraction of full], or PPFD of a zone [µmol m⁻² s⁻¹], as a log has it.

    ``scale`` is what counts as full; ``is_put_out`` tells that a value holds until the next one, and
    ``planned`` gives the same of the replay.
    """

    subject: str
    is_zone: bool
    scale: float
    is_put_out: bool
    unix_s: Floats
    values: Floats
    planned: Planned


def date_of_day(day: int) -> dt.date:
    """Return the date of a day from 1970 on."""
    return EPOCH + dt.timedelta(days=day)


def light_of(path: LightPath, quantity: str, values: Floats, relay_on: Bools) -> Floats:
    """Return the light that values of a quantity give. [fraction of full]

    Volts are those at the control pair, so that a converter that strays shows.
    """
    if quantity == "light_percent":
        return values / 100
    if quantity == "count":
        counts = np.clip(np.round(values), 0, path.top_count).astype(np.int64)
        return path.light(counts, relay_on)
    volts = values / 1000
    if quantity == "converter_code":
        volts = path.converter.volts(values.astype(np.int64))
    elif quantity == "volts":
        volts = values
    elif quantity == "level_percent":
        volts = values / 10
    middles = 0.5 * (path.volts[1:] + path.volts[:-1])
    lit = path.is_lit(np.searchsorted(middles, volts, side="right"), relay_on)
    return np.where(lit, path.ballast.light_at(volts), 0.0)
