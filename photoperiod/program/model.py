"""A schedule compiled for some dates: the one value that checks, exports and summaries read."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from photoperiod.drive.grid import Row
from photoperiod.program.channel_day import ChannelDay, CompiledDay, ZoneDay
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_types import SeasonCount, SeasonError
from photoperiod.schedule.changes import Acclimation, Change, DarkDays
from photoperiod.schedule.model import Schedule
from photoperiod.schedule.tube import Tube
from photoperiod.sky.clock import ClockChange
from photoperiod.tubes.burn_in_plan import BY_PLAN, DayPlan

if TYPE_CHECKING:
    from photoperiod.tubes.hours import LastLight, NoDayBefore, TubeHours

#: Told how many days of how many are done.
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What all channels do on some dates: rows, and what they give.

    Parameters
    ----------
    span : DateSpan or None
        The dates; None for a day of no date.
    day : CompiledDay
        The tables, and what they give.
    plan : DayPlan
        Which channels burn in, wait or give way.
    season : SeasonError or None
        How far the table is from the days of its dates; None where they all want the same.
    short : frozenset of str
        Channels whose light is held (`hold_light`), and can't be on these dates.
    """

    span: DateSpan | None
    day: CompiledDay
    plan: DayPlan = BY_PLAN
    season: SeasonError | None = None
    short: frozenset[str] = frozenset()

    @property
    def channels(self) -> Mapping[str, ChannelDay]:
        """Every channel's day."""
        return self.day.channels

    @property
    def zones(self) -> Mapping[str, ZoneDay]:
        """What every zone gets."""
        return self.day.zones

    @property
    def rows(self) -> tuple[tuple[Row, ...], ...]:
        """The rows of every channel, in the order of the file."""
        return tuple(tuple(c.fit.rows) for c in self.channels.values())

    @property
    def energy_kwh(self) -> float:
        """Mains energy of one of its dates, of the channels whose watts are given. [kWh]"""
        return sum(c.energy_kwh or 0.0 for c in self.channels.values())


@dataclass(frozen=True, slots=True)
class ControllerTable:
    """Tables in a row of dates that have the same rows: the controller gets them as one."""

    tables: tuple[Table, ...]

    @property
    def span(self) -> DateSpan | None:
        """The dates; None for a day of no date."""
        first, last = self.tables[0].span, self.tables[-1].span
        return DateSpan(first.first, last.last) if first and last else None

    @property
    def channels(self) -> Mapping[str, ChannelDay]:
        """Every channel's day, by the first of the tables."""
        return self.tables[0].channels


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeUse:
    """One tube over the dates: its channel, its hours, and whether it is in by the last date."""

    tube: Tube
    channel: str
    hours: TubeHours
    is_fitted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedDose:
    """The dose of a zone on a date without a change, and as it is with it. [mol m⁻² d⁻¹]"""

    without: float
    given: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeEffect:
    """What a change does within the dates of a program.

    Parameters
    ----------
    index : int
        Which of the changes of the schedule it is, from 0.
    change : Change
        The change.
    first, last : date
        Its first and its last date within those of the program.
    doses : mapping of date to mapping of zone to ChangedDose
        On these two dates, with all changes that stack before it.
    """

    index: int
    change: Change
    first: dt.date
    last: dt.date
    doses: Mapping[dt.date, Mapping[str, ChangedDose]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """Everything that follows from a schedule and dates.

    Parameters
    ----------
    tables : tuple of Table
        In the order of their dates; at least one.
    first_day_by_plan : CompiledDay
        The first date by the plan.
    before : mapping of zone to LastLight
        What each zone got before the first date, as the ledger has it; empty without one.
    no_day_before : NoDayBefore or None
        Why no zone has a day before; None if one has, and without dates.
    effects : tuple of ChangeEffect
        What the changes that act on the dates do to doses, in the order of the file.
    measured_anew : mapping of str to mapping of str to float
        By id, the channels whose PPFD at full is not the one that the ledger has: the ledger's, by zone.
        [µmol m⁻² s⁻¹]
    clock_changes : tuple of (str, ClockChange)
        When the plan's or the controller's clock changes within the dates.
    set_back : tuple of (date, channel, float)
        How far light is off where the controller's clock is set back. [fraction of full]
    moon_nights : mapping of channel to (int, int, int)
        On how many dates the tables show a moon by phase, of how many that have one, and on how many
        they light one that is not there.
    season_counts : tuple of SeasonCount
        How many tables channels share by the errors that they may have, where days follow the sky.
    """

    schedule: Schedule
    span: DateSpan | None
    tables: tuple[Table, ...]
    first_day_by_plan: CompiledDay
    tubes: Mapping[str, TubeUse]
    before: Mapping[str, LastLight] = field(default_factory=dict)
    no_day_before: NoDayBefore | None = None
    effects: tuple[ChangeEffect, ...] = ()
    measured_anew: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    clock_changes: tuple[tuple[str, ClockChange], ...] = ()
    set_back: tuple[tuple[dt.date, str, float], ...] = ()
    moon_nights: Mapping[str, tuple[int, int, int]] = field(default_factory=dict)
    season_counts: tuple[SeasonCount, ...] = ()

    @property
    def channels(self) -> Mapping[str, ChannelDay]:
        """Every channel's day, by the first table."""
        return self.tables[0].channels

    @property
    def zones(self) -> Mapping[str, ZoneDay]:
        """What every zone gets, by the first table."""
        return self.tables[0].zones

    def is_lowered(self, table: Table, zone_id: str) -> bool:
        """Return whether a zone gets less on the dates of a table because the file asks for that.

        Dark days and acclimation are meant to be below the band of the plan; the summary tells their doses.
        """
        channels = self.schedule.channels
        return table.span is not None and any(
            isinstance(each.change, DarkDays | Acclimation)
            and each.first <= table.span.first <= each.last
            and any(channels[id].full_ppfd.get(zone_id) for id in each.change.channels)
            for each in self.effects
        )

    @property
    def controller_tables(self) -> tuple[ControllerTable, ...]:
        """What the controller gets, in the order of its dates."""
        runs = itertools.groupby(self.tables, key=lambda table: table.rows)
        return tuple(ControllerTable(tuple(run)) for _, run in runs)

    @property
    def loads(self) -> tuple[tuple[ControllerTable, ...], ...]:
        """The controller's tables, together as many as it holds at once."""
        size, tables = self.schedule.controller.tables, self.controller_tables
        return tuple(tables[at : at + size] for at in range(0, len(tables), size))

    def table_on(self, date: dt.date) -> Table:
        """Return the table of a date within the span."""
        for table in self.tables:
            if table.span is None or table.span.first <= date <= table.span.last:
                return table
        raise ValueError(f"{date} is not within the dates of the program")
