"""The times of a day in the file: by the clock on any date, or by the sky on one."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from photoperiod.arrays import Floats
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.text import clock_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, SECONDS_PER_MINUTE

if TYPE_CHECKING:
    from photoperiod.sky.almanac import Almanac


#: Light that follows the sun is sampled this far apart [s].
SAMPLE_S = 60

_EVENT = re.compile(r"([a-z ]+?)(?: ([+-]) (\d+) min)?")


class FollowsSky(Exception):
    """A day needs the sky of a date, where none is known."""


def clock_seconds(text: str) -> int:
    """Return the seconds from midnight of ``HH:MM`` or ``HH:MM:SS``; ``24:00`` is 86,400."""
    hours, minutes, *rest = (int(part) for part in text.split(":"))
    return hours * 3600 + minutes * 60 + (rest[0] if rest else 0)


def is_event(view: Cursor, key: str) -> bool:
    """Return whether a time is an event of the sky."""
    value = view.get(key)
    if value is None:
        raise AlreadyReported
    return isinstance(value, dict) or not str(value)[:1].isdigit()


class Times(Protocol):
    """Where the times of a day come from."""

    def at_clock(self, second: int) -> int:
        """Return when the clock shows a second of the date, or of a later one."""
        ...

    def first(self, view: Cursor, key: str, complaints: Findings) -> int:
        """Return when something begins, in seconds from the midnight of the date."""
        ...

    def after(self, view: Cursor, key: str, second: int, complaints: Findings) -> int:
        """Return when an event is, within 24 hours after a second."""
        ...

    def refuse_crossing(
        self, view: Cursor, key: str, start: int, end: int, complaints: Findings
    ) -> None:
        """Complain of an event at the end of a day that is only that of the next one."""
        ...

    def sunlight(self, model: str, *, of_year: bool) -> Floats:
        """Return light by the sun through the date, every `SAMPLE_S`, 1 at the peak."""
        ...

    def moonlight(self, second: int) -> float:
        """Return the brightness of the moon's phase beside the full moon's."""
        ...

    def moon_up(self, start: int, end: int) -> list[tuple[int, int]]:
        """Return from when to when the moon is up between two seconds."""
        ...


class ClockTimes:
    """Times by the clock, the same on every date."""

    def at_clock(self, second: int) -> int:
        """Return the second itself: each date is like the other."""
        return second

    def first(self, view: Cursor, key: str, complaints: Findings) -> int:
        """Return a clock time."""
        if is_event(view, key):
            raise FollowsSky
        return clock_seconds(view.text(key))

    def after(self, view: Cursor, key: str, second: int, complaints: Findings) -> int:
        """Refuse: only events are asked for."""
        raise FollowsSky

    def refuse_crossing(
        self, view: Cursor, key: str, start: int, end: int, complaints: Findings
    ) -> None:
        """Refuse: it needs a date."""
        raise FollowsSky

    def sunlight(self, model: str, *, of_year: bool) -> Floats:
        """Refuse: it needs a date."""
        raise FollowsSky

    def moonlight(self, second: int) -> float:
        """Refuse: it needs a date."""
        raise FollowsSky

    def moon_up(self, start: int, end: int) -> list[tuple[int, int]]:
        """Refuse: it needs a date."""
        raise FollowsSky


@dataclass(frozen=True, slots=True)
class _Event:
    """An event as the file has it: its name, an offset [s], and bounds and a stand-in by the clock."""

    text: str
    name: str
    offset_s: int
    bounds: Mapping[str, str]

    @classmethod
    def of(cls, view: Cursor, key: str) -> _Event:
        """Return the event of a key; AlreadyReported if it has a fault of shape."""
        value = view.get(key)
        bounds = value if isinstance(value, dict) else {}
        text = str(bounds.get("at", value))
        found = re.fullmatch(_EVENT, text)
        if found is None:
            raise AlreadyReported
        name, sign, minutes = found.groups()
        offset_s = int(minutes or 0) * SECONDS_PER_MINUTE * (-1 if sign == "-" else 1)
        return cls(text, name, offset_s, bounds)

    @property
    def is_evening(self) -> bool:
        """True for what comes after the sun's noon."""
        return self.name.endswith(("set", "dusk"))

    @property
    def earliest_s(self) -> int:
        """From when on, beside the sun's noon, a time of the clock belongs to it. [s]"""
        hours = -12 if self.name == "noon" else (-6 if self.is_evening else -18)
        return hours * SECONDS_PER_HOUR


class SkyTimes:
    """Times by the clock and the sky of one date, in seconds that pass from its midnight."""

    def __init__(self, sky: Almanac, date: dt.date) -> None:
        self.sky, self.date = sky, date

    def at_clock(self, second: int) -> int:
        """Return when the clock shows a second of the date, or of a later one."""
        return self.sky.at_clock(self.date, second)

    def first(self, view: Cursor, key: str, complaints: Findings) -> int:
        """Return a clock time, or the event that belongs to the date."""
        if not is_event(view, key):
            return self.at_clock(clock_seconds(view.text(key)))
        event = _Event.of(view, key)
        second = self._second(event, 0)
        if second is None:
            raise self._missing(view, key, event, 0, complaints)
        return second

    def after(self, view: Cursor, key: str, second: int, complaints: Findings) -> int:
        """Return when an event is next after a second: that of the date, or of the next one."""
        event = _Event.of(view, key)
        for days in (0, 1):
            found = self._second(event, days)
            if found is None and second < self._noon_s(days) + (
                SECONDS_PER_DAY // 2 if event.is_evening else 0
            ):
                raise self._missing(view, key, event, days, complaints)
            if found is not None and second < found:
                if found - second <= SECONDS_PER_DAY:
                    return found
                break
        complaints.add(
            "PHO305",
            view.at(key),
            f"the next '{event.text}' after {_clock_of(second)} comes more than 24 hours later",
            "a day lasts at most 24 hours: write another end, or begin later",
        )
        raise AlreadyReported

    def _noon_s(self, days: int) -> int:
        """Return the sun's noon of the date, or of one days later. [s]"""
        date = self.date + dt.timedelta(days=days)
        return self.sky.noon_of(date) + self.sky.midnight(date) - self.sky.midnight(self.date)

    def _second(self, event: _Event, days: int) -> int | None:
        """Return an event of the date, or of one days later, by its bounds; None if there is none."""
        date = self.date + dt.timedelta(days=days)
        found = self.sky.event_of(event.name, date)
        if found is None:
            up = self.sky.is_above(event.name, date)
            keys = "if_sun_stays_up" if up else "if_sun_stays_down", "if_none"
            key = next((key for key in keys if key in event.bounds), None)
            return None if key is None else self._beside(event, key, days)
        second = found + event.offset_s + self.sky.midnight(date) - self.sky.midnight(self.date)
        if "not_before" in event.bounds:
            second = max(second, self._beside(event, "not_before", days))
        if "not_after" in event.bounds:
            second = min(second, self._beside(event, "not_after", days))
        return second

    def _beside(self, event: _Event, key: str, days: int) -> int:
        """Return a time of the clock that belongs to the same day of the sun as an event. [s]

        Of a sunset, ``00:30`` is after midnight, and of a sunrise ``23:00`` before it.
        """
        earliest = self._noon_s(days) + event.earliest_s
        clock_s = clock_seconds(event.bounds[key])
        found = [self.at_clock(clock_s + n * SECONDS_PER_DAY) for n in range(days - 2, days + 3)]
        return next(second for second in found if second >= earliest)

    def _missing(
        self, view: Cursor, key: str, event: _Event, days: int, complaints: Findings
    ) -> AlreadyReported:
        complaints.add(
            "PHO801",
            view.at(key),
            f"there is no {event.name} on {self.date + dt.timedelta(days=days)}",
            f'say what counts on such dates: `{{at: {event.text}, if_none: "09:00"}}`',
        )
        return AlreadyReported()

    def refuse_crossing(
        self, view: Cursor, key: str, start: int, end: int, complaints: Findings
    ) -> None:
        """Complain of an event at the end of a day that is only that of the next one.

        The one of this date lies before the start, and the sun rises again in between.
        """
        event = _Event.of(view, key)
        own = self._second(event, 0)
        here = self.sky.midnight(self.date)
        rises = self.sky.instants("sunrise", here + start + 1, here + end)
        if (own is not None and own > start) or not rises:
            return
        complaints.add(
            "PHO303",
            view.at(key),
            f"'{event.text}' comes before the first light at {_clock_of(start)}, so that the next one is"
            " a day later",
            "let the day begin earlier, or end later",
        )
        raise AlreadyReported

    def sunlight(self, model: str, *, of_year: bool) -> Floats:
        """Return light by the sun through the date, every `SAMPLE_S`, 1 at the peak."""
        return self.sky.sunlight(self.date, model, SAMPLE_S, of_year=of_year)

    def moonlight(self, second: int) -> float:
        """Return the brightness of the moon's phase beside the full moon's."""
        return self.sky.moonlight(self.date, second)

    def moon_up(self, start: int, end: int) -> list[tuple[int, int]]:
        """Return from when to when the moon is up between two seconds."""
        return self.sky.moon_up(self.date, start, end)


def _clock_of(second: int) -> str:
    return clock_text(second % SECONDS_PER_DAY)
