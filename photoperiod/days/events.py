"""The times of a plan on one date: by the clock, and by the sky."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from photoperiod.diagnostics.model import Path
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.day_plan import ClockTime, Event
from photoperiod.schedule.findings import Findings
from photoperiod.sky.kinds import SunEvent
from photoperiod.text import clock_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

if TYPE_CHECKING:
    from photoperiod.sky.almanac import Almanac


class SkyTimes:
    """The `Times` of one date under some sky, in seconds that pass from its midnight.

    A method that finds no time adds a finding and raises AlreadyReported.
    """

    def __init__(self, sky: Almanac, date: dt.date) -> None:
        self.sky, self.date = sky, date

    def at_clock(self, second: int) -> int:
        """Return when the clock shows a second of the date, or of a later one. [s]"""
        return self.sky.at_clock(self.date, second)

    def first(self, event: Event, path: Path, findings: Findings) -> int:
        """Return when the event that belongs to the date happens. [s]"""
        second = self._second(event, 0)
        if second is None:
            raise self._missing(event, 0, path, findings)
        return second

    def after(self, event: Event, second: int, path: Path, findings: Findings) -> int:
        """Return when an event happens next after a second: that of the date, or the next one. [s]"""
        for days in (0, 1):
            found = self._second(event, days)
            if found is None and second < self._noon_s(days) + (
                SECONDS_PER_DAY // 2 if event.name.is_evening else 0
            ):
                raise self._missing(event, days, path, findings)
            if found is not None and second < found:
                if found - second <= SECONDS_PER_DAY:
                    return found
                break
        findings.add(
            "PHO305",
            path,
            f"the next '{event.text}' after {_clock_of(second)} comes more than 24 hours later",
            "a day lasts at most 24 hours: write another end, or begin later",
        )
        raise AlreadyReported

    def refuse_crossing(
        self, event: Event, start: int, end: int, path: Path, findings: Findings
    ) -> None:
        """Refuse an event at the end of a day that is really the one of the next day.

        That is so if the event of this date lies before the start, and the sun rises again before the
        end.
        """
        own = self._second(event, 0)
        here = self.sky.midnight(self.date)
        rises = self.sky.instants("sunrise", here + start + 1, here + end)
        if (own is not None and own > start) or not rises:
            return
        findings.add(
            "PHO303",
            path,
            f"'{event.text}' comes before the first light at {_clock_of(start)}, so that the next one is"
            " a day later",
            "let the day begin earlier, or end later",
        )
        raise AlreadyReported

    def _noon_s(self, days: int) -> int:
        """Return the sun's noon of the date, or of one some days later. [s]"""
        date = self.date + dt.timedelta(days=days)
        return self.sky.noon_of(date) + self.sky.midnight(date) - self.sky.midnight(self.date)

    def _second(self, event: Event, days: int) -> int | None:
        """Return an event of the date, or of one some days later, by its bounds; None without it. [s]"""
        date = self.date + dt.timedelta(days=days)
        found = self.sky.event_of(event.name, date)
        if found is None:
            up = self.sky.is_above(event.name, date)
            polar = event.if_sun_stays_up if up else event.if_sun_stays_down
            stand_in = event.if_none if polar is None else polar
            return None if stand_in is None else self._beside(event.name, stand_in, days)
        second = found + event.offset_s + self.sky.midnight(date) - self.sky.midnight(self.date)
        if event.not_before is not None:
            second = max(second, self._beside(event.name, event.not_before, days))
        if event.not_after is not None:
            second = min(second, self._beside(event.name, event.not_after, days))
        return second

    def _beside(self, name: SunEvent, time: ClockTime, days: int) -> int:
        """Return a time of the clock that belongs to the same day of the sun as an event. [s]

        Of a sunset, ``00:30`` is after midnight, and of a sunrise ``23:00`` before it.
        """
        earliest = self._noon_s(days) + _earliest_s(name)
        found = [
            self.at_clock(time.second + n * SECONDS_PER_DAY) for n in range(days - 2, days + 3)
        ]
        return next(second for second in found if second >= earliest)

    def _missing(self, event: Event, days: int, path: Path, findings: Findings) -> AlreadyReported:
        findings.add(
            "PHO801",
            path,
            f"there is no {event.name} on {self.date + dt.timedelta(days=days)}",
            f'say what counts on such dates: `{{at: {event.text}, if_none: "09:00"}}`',
        )
        return AlreadyReported()


def _earliest_s(name: SunEvent) -> int:
    """Return from when on, counted from the sun's noon, a time of the clock belongs to an event. [s]"""
    if name is SunEvent.NOON:
        return -12 * SECONDS_PER_HOUR
    return (-6 if name.is_evening else -18) * SECONDS_PER_HOUR


def _clock_of(second: int) -> str:
    return clock_text(second % SECONDS_PER_DAY)
