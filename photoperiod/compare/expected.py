"""What a table puts out at instants: the light and relay of channels, the PPFD of zones."""

from __future__ import annotations

import datetime as dt
import itertools
from collections import OrderedDict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from photoperiod.arrays import Bools, Floats, Ints
from photoperiod.compare.model import time_text
from photoperiod.drive.zone_light import zone_ppfd
from photoperiod.formats.image import FIRST_DAY
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import of_set
from photoperiod.sky.clock import Clock
from photoperiod.units import SECONDS_PER_DAY

EPOCH = dt.date(1970, 1, 1)

#: So many played days are kept: those of one date and its neighbours, for most tables. Each takes about
#: 0.26 MB, so a table of any size takes no more memory than this.
MOST_KEPT_DAYS = 64

#: Counts of a day, in as little memory as they need.
Counts = npt.NDArray[np.uint16]

#: A function of instants [Unix seconds] that gives a value at each.
AtInstants = Callable[[Floats], Floats]


class Expected:
    """The replay of a table at instants: light and relay of channels, PPFD of zones.

    Only the sets of rows that are asked for are played, and the last ones are kept.

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
        self._sets: dict[str, Ints] = {}
        self._days: OrderedDict[tuple[str, int], tuple[Counts, Bools]] = OrderedDict()

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
        path, light = self.table.paths[id], np.zeros(unix_s.shape)
        for here, counts, relay_on in self._played(id, unix_s):
            light[here] = path.light(counts, relay_on)
        return light

    def relay_on(self, id: str, unix_s: Floats) -> Floats:
        """Return 1 where the relay of a channel is closed at instants, else 0."""
        closed = np.zeros(unix_s.shape)
        for here, _, relay_on in self._played(id, unix_s):
            closed[here] = relay_on
        return closed

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

    def _played(self, id: str, unix_s: Floats) -> Iterator[tuple[Bools, Ints, Bools]]:
        """Yield for each set of rows where it is played, and the counts and relay states there."""
        index, second = self._where(unix_s)
        if id not in self._sets:
            at = self.table.channels.index(id)
            self._sets[id] = np.array([each.sets[at] for each in self.table.image.tables])
        sets = self._sets[id][index]
        for own in np.unique(sets).tolist():
            here = sets == own
            counts, relay_on = self._day(id, own)
            yield here, counts[second[here]].astype(np.int64), relay_on[second[here]]

    def _day(self, id: str, own: int) -> tuple[Counts, Bools]:
        """Return counts and relay states of a channel in each second of a day of some rows."""
        if (id, own) not in self._days:
            day = of_set(self.table, id, own)
            self._days[id, own] = day.counts.astype(np.uint16), day.relay_on
            if len(self._days) > MOST_KEPT_DAYS:
                self._days.popitem(last=False)
        self._days.move_to_end((id, own))
        return self._days[id, own]


def date_by_date(unix_s: Floats) -> Iterator[slice]:
    """Yield the instants of each date (UTC), so that the days played for one date are used together."""
    begins = np.flatnonzero(np.diff(unix_s // SECONDS_PER_DAY)) + 1
    for begin, end in itertools.pairwise([0, *begins.tolist(), unix_s.size]):
        yield slice(begin, end)


def band(expected: AtInstants, unix_s: Floats, reach_s: float) -> tuple[Floats, Floats, Floats]:
    """Return the value at each instant, and the smallest and the largest within ``reach_s`` seconds of it."""
    now, low, high = (np.zeros(unix_s.shape) for _ in range(3))
    shifts = {*np.round(np.linspace(-reach_s, reach_s, 13)).tolist()} - {0.0}
    for here in date_by_date(unix_s):
        now[here] = expected(unix_s[here])
        values = [now[here], *(expected(unix_s[here] + shift) for shift in sorted(shifts))]
        low[here], high[here] = np.min(values, axis=0), np.max(values, axis=0)
    return now, low, high


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
    holds : bool or ndarray of bool, shape (records,)
        True if a value holds until the next record: one for all of them, or one for each.
    unix_s, values : ndarray, shape (records,)
        Instants that rise [Unix seconds], and the logged values.
    expected : callable
        The same quantity by the table, at given instants.
    """

    subject: str
    is_zone: bool
    scale: float
    holds: bool | Bools
    unix_s: Floats
    values: Floats
    expected: AtInstants

    @property
    def held(self) -> Bools:
        """Whether each value holds until the next record, shape (records,)."""
        return np.broadcast_to(self.holds, self.unix_s.shape)

    def part(self, here: slice) -> LoggedLight:
        """Return some of the records."""
        return replace(
            self, holds=self.held[here], unix_s=self.unix_s[here], values=self.values[here]
        )
