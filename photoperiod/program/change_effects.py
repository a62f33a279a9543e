"""What each change does to the doses of zones: with it, and without it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from photoperiod.changes.calendar import ORDER, ChangeCalendar, DayState
from photoperiod.changes.changed_days import ChangedDays
from photoperiod.drive.zone_light import full_ppfd_now
from photoperiod.program.acclimation import light_s
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.model import ChangedDose, ChangeEffect, Table
from photoperiod.program.part_losses import PartLosses
from photoperiod.schedule.changes import Acclimation, Change, PartOut
from photoperiod.units import UMOL_PER_MOL


def change_effects(
    sequence: DaySequence, tables: Sequence[Table], span: DateSpan
) -> tuple[ChangeEffect, ...]:
    """Return what each change that acts within some dates does to the doses, in the order of the file.

    Doses are those of finished tables with the light of the tubes on the date, changes stacked up to each.
    Where light is held (`hold_light`), they are raised by as much as on that date. Where days follow the sky
    they are those of the light within reach, because a table serves many dates.
    """
    days = sequence.days
    if not isinstance(days, ChangedDays):
        return ()
    told = _Told(sequence, days, tables, PartLosses(sequence.schedule))
    found = []
    for index, change in enumerate(sequence.schedule.changes):
        last = told.last(change, span)
        first, last = max(change.first, span.first), min(last, span.last)
        if first > last:
            continue
        dates = (first,) if first == last else (first, last)
        found.append(
            ChangeEffect(
                index=index,
                change=change,
                first=first,
                last=last,
                doses={date: told.doses(change, date) for date in dates},
            )
        )
    return tuple(found)


@dataclass(slots=True)
class _Told:
    """The doses of dates with some of the changes."""

    sequence: DaySequence
    days: ChangedDays
    tables: Sequence[Table]
    losses: PartLosses
    calendars: dict[tuple[Change, ...], ChangeCalendar] = field(default_factory=dict)

    def last(self, change: Change, span: DateSpan) -> dt.date:
        """Return the last date on which a change acts; that of some dates if it stays."""
        if isinstance(change, PartOut):
            return self.losses.last(change) or span.last
        return span.last if change.last is None or self.stays(change) else change.last

    def stays(self, change: Change) -> bool:
        """Return whether a change still acts after its last date."""
        after = change.last
        if after is None or after >= dt.date.max:
            return True
        state = self._calendar((change,)).on(after + dt.timedelta(days=1))
        return bool(state.moved_s)

    def doses(self, change: Change, date: dt.date) -> dict[str, ChangedDose]:
        """Return the dose of each zone on a date without a change and with it. [mol m⁻² d⁻¹]"""
        if isinstance(change, PartOut):
            return self.losses.doses(change, self._table(date), self.tables)
        stacked = [
            each
            for each in self.sequence.schedule.changes
            if each.kind in ORDER and ORDER.index(each.kind) <= ORDER.index(change.kind)
        ]
        without = self._zones(date, tuple(each for each in stacked if each is not change))
        given = self._zones(date, tuple(stacked))
        return {id: ChangedDose(without=without[id], given=given[id]) for id in given}

    def _zones(self, date: dt.date, changes: tuple[Change, ...]) -> dict[str, float]:
        state = self._calendar(changes).on(date)
        is_whole = not any(isinstance(each, Acclimation) for each in changes)
        lit_s = self._lit_s(date, state.without_acclimation if is_whole else state)
        channels = self._table(date).channels
        return {
            zone: sum(
                full_ppfd_now(c.channel.full_ppfd[zone], c.held * c.brightness)
                * lit_s[id]
                / UMOL_PER_MOL
                for id, c in channels.items()
                if zone in c.channel.full_ppfd
            )
            for zone in self.sequence.schedule.zones
        }

    def _lit_s(self, date: dt.date, state: DayState) -> Mapping[str, float]:
        """Return the light of every channel on a date in some state. [s at full]"""
        acclimator = self.days.acclimator
        found = acclimator.scales(date) if state.shares and acclimator else {}
        scales = {id: found[id] for id, _ in state.shares if id in found}
        curves = self.days.days_of(state, scales).curves(date)
        if self.days.follows_sky:
            return light_s(self.sequence.schedule, curves)
        fits = self.sequence.fitted_to(curves).fits
        return {id: float(found.replay.light.sum()) for id, found in fits.items()}

    def _calendar(self, changes: tuple[Change, ...]) -> ChangeCalendar:
        if changes not in self.calendars:
            self.calendars[changes] = ChangeCalendar(self.sequence.schedule, changes)
        return self.calendars[changes]

    def _table(self, date: dt.date) -> Table:
        return next(
            table
            for table in self.tables
            if table.span and table.span.first <= date <= table.span.last
        )
