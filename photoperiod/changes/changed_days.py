"""The light wanted of every channel on a date, with the changes that act on it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Protocol

from photoperiod.arrays import Floats, Ints
from photoperiod.changes.altered_days import Alteration, AlteredDays, Scale
from photoperiod.changes.calendar import AS_PLANNED, ChangeCalendar, DayState
from photoperiod.curves.curve import Curve
from photoperiod.days.day_curves import DayCurves
from photoperiod.days.passing_day import PassingDay
from photoperiod.schedule.model import Channel, Schedule

#: So many states of days are kept with their curves: a step of an acclimation is looked up again and again.
KEPT_STATES = 64


class Acclimator(Protocol):
    """Finds how much smaller days must be, so that their finished tables give the shares of a date."""

    def scales(self, date: dt.date) -> Mapping[str, Scale]:
        """Return the scales of the channels that are acclimated on a date."""
        ...


class ChangedDays(DayCurves):
    """The curves of a schedule with changes, date by date.

    Each change holds on dates of the controller's clock, from midnight to midnight: a date is one day that
    repeats, and its table shows what shines on past midnight as if the day before had been the same.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    """

    def __init__(self, schedule: Schedule) -> None:
        super().__init__(schedule)
        self.calendar = ChangeCalendar(schedule)
        #: Whoever fits tables sets it; without it days are acclimated by their light, not by their tables.
        self.acclimator: Acclimator | None = None
        self._of_states: dict[tuple[DayState, tuple[tuple[str, Scale], ...]], DayCurves] = {}

    def curves(self, date: dt.date | None) -> dict[str, Curve]:
        """Return what every channel is wanted to give through a date; a day of no date is as planned."""
        return self.days_on(date).curves(date)

    def days_on(self, date: dt.date | None) -> DayCurves:
        """Return the days to which a date belongs: all of them changed as this one is."""
        if date is None:
            return self.days_of(AS_PLANNED)
        state = self.calendar.on(date)
        if not state.shares:
            return self.days_of(state)
        if self.acclimator is None:
            return self.days_of(state, {id: Scale(share) for id, share in state.shares})
        return self.days_of(state, self.acclimator.scales(date))

    def alike_until(self, date: dt.date) -> dt.date:
        """Return the last date before something is changed that was not on this date."""
        return self.calendar.until(date)

    def acclimated(self, date: dt.date) -> frozenset[str]:
        """Return the channels that are acclimated on a date, by id."""
        return frozenset(id for id, _ in self.calendar.on(date).shares)

    def days_of(self, state: DayState, scales: Mapping[str, Scale] | None = None) -> DayCurves:
        """Return days that are all changed in one way.

        Parameters
        ----------
        state : DayState
            What is changed; its shares play no part.
        scales : mapping of channel to Scale or None
            How much smaller days are.
        """
        key = state.without_acclimation, tuple((scales or {}).items())
        if key not in self._of_states:
            if len(self._of_states) >= KEPT_STATES:
                self._of_states.pop(next(iter(self._of_states)))
            self._of_states[key] = self._altered(state, scales or {})
        return self._of_states[key]

    def _altered(self, state: DayState, scales: Mapping[str, Scale]) -> DayCurves:
        plain = replace(self.schedule, day_plans={}, changes=())
        by_plan = dict(state.day_plans)
        channels = {
            id: self._by_day_plan(channel, by_plan[id]) if id in by_plan else channel
            for id, channel in self.schedule.channels.items()
        }
        moved = dict(state.moved_s)
        alterations = {
            id: Alteration(
                moved_s=moved.get(id, 0),
                is_dark=id in state.dark,
                is_dark_at_night=id in state.dark_at_night,
                scale=scales.get(id, Scale()),
            )
            for id in channels
        }
        found = AlteredDays(
            replace(plain, channels=channels),
            {id: each for id, each in alterations.items() if each != Alteration()},
        )
        found.share_skies(self)
        return found

    def _by_day_plan(self, channel: Channel, plan: str) -> Channel:
        planned = self.schedule.day_plans[plan][channel.id]
        return replace(channel, day=planned.day, moonlight=planned.moonlight)

    def passing(self, date: dt.date | None) -> PassingDay | None:
        """Return what really passes on a date on which the controller's clock changes; None on others."""
        return self.days_on(date).passing(date)

    def _light_at(self, channel: Channel, unix_s: Ints) -> Floats:
        date = self.controller_clock.wall_of(int(unix_s[0]))[0]
        days = self.days_on(date)
        return days._light_at(days.schedule.channels[channel.id], unix_s)
