"""Which changes act on which date, and what they make of each channel."""

from __future__ import annotations

import bisect
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

from photoperiod.schedule.changes import (
    Acclimation,
    Change,
    ChangeKind,
    DarkDays,
    MovedHours,
    OtherDay,
    PartOut,
)
from photoperiod.schedule.model import Schedule

_DAY = dt.timedelta(days=1)

#: In this order changes stack.
ORDER = (
    ChangeKind.OTHER_DAY,
    ChangeKind.MOVED_HOURS,
    ChangeKind.DARK_DAYS,
    ChangeKind.ACCLIMATION,
)


@dataclass(frozen=True, slots=True)
class DayState:
    """What the changes of a date make of the channels, each by id in the order of the schedule.

    Parameters
    ----------
    day_plans : tuple of (str, str)
        Channels that go by a day plan.
    moved_s : tuple of (str, int)
        By how much days are moved. [s]
    dark, dark_at_night : tuple of str
        Channels whose day is dark, and whose moonlight is.
    shares : tuple of (str, float)
        Doses of acclimation beside those of what the others make. [share]
    """

    day_plans: tuple[tuple[str, str], ...] = ()
    moved_s: tuple[tuple[str, int], ...] = ()
    dark: tuple[str, ...] = ()
    dark_at_night: tuple[str, ...] = ()
    shares: tuple[tuple[str, float], ...] = ()

    @property
    def without_acclimation(self) -> DayState:
        """The same at full doses: what shares are shares of."""
        return replace(self, shares=())


#: A date on which nothing is changed.
AS_PLANNED = DayState()


class ChangeCalendar:
    """The changes of a schedule, by date.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    changes : iterable of Change or None
        Other changes than those of the schedule, such as some of them.
    """

    def __init__(self, schedule: Schedule, changes: Iterable[Change] | None = None) -> None:
        self.schedule = schedule
        self.changes = tuple(schedule.changes if changes is None else changes)
        self._turns = sorted({date for each in self.changes for date in _turns(each)})
        self._known: dict[dt.date, DayState] = {}

    def on(self, date: dt.date) -> DayState:
        """Return what the changes make of a date."""
        begin = self.begin(date)
        if begin is None:
            return AS_PLANNED
        if begin not in self._known:
            self._known[begin] = self._state(begin)
        return self._known[begin]

    def begin(self, date: dt.date) -> dt.date | None:
        """Return the first of the dates that go alike with a date; None before the first change."""
        at = bisect.bisect_right(self._turns, date)
        return self._turns[at - 1] if at else None

    def until(self, date: dt.date) -> dt.date:
        """Return the last of the dates that go alike with a date."""
        at = bisect.bisect_right(self._turns, date)
        return self._turns[at] - _DAY if at < len(self._turns) else dt.date.max

    def turns(self, first: dt.date, last: dt.date) -> list[dt.date]:
        """Return the dates, after the first and up to the last, on which something turns."""
        return [date for date in self._turns if first < date <= last]

    def _state(self, date: dt.date) -> DayState:
        plans: dict[str, str] = {}
        moved: dict[str, int] = {}
        dark: set[str] = set()
        dark_at_night: set[str] = set()
        shares: dict[str, float] = {}
        for change in sorted(self.changes, key=lambda each: each.first):
            match change:
                case OtherDay() if _holds(change, date):
                    plans |= dict.fromkeys(change.channels, change.day_plan)
                case MovedHours():
                    for id in change.channels:
                        moved[id] = moved.get(id, 0) + change.moved_s(date)
                case DarkDays() if _holds(change, date):
                    dark.update(change.channels)
                    if not change.keeps_moonlight:
                        dark_at_night.update(change.channels)
                case Acclimation() if _holds(change, date):
                    shares |= dict.fromkeys(change.channels, change.share_on(date))
                case _:
                    pass
        order = self.schedule.channels
        return DayState(
            day_plans=tuple((id, plans[id]) for id in order if id in plans),
            moved_s=tuple((id, moved[id]) for id in order if moved.get(id)),
            dark=tuple(id for id in order if id in dark),
            dark_at_night=tuple(id for id in order if id in dark_at_night),
            shares=tuple((id, shares[id]) for id in order if id in shares and id not in dark),
        )


def _holds(change: DarkDays | Acclimation | OtherDay, date: dt.date) -> bool:
    return change.first <= date and (change.last is None or date <= change.last)


def _turns(change: Change) -> Iterable[dt.date]:
    """Yield the dates on which a change makes something other than on the date before."""
    if isinstance(change, PartOut):  # it changes what tubes give, and not what is wanted of them
        return
    yield change.first
    if isinstance(change, Acclimation | MovedHours):
        yield from change.begins()
    stays = change.last is None or isinstance(change, MovedHours)
    if not stays and change.last is not None and change.last < dt.date.max:
        yield change.last + _DAY
