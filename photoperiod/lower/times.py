"""The times of a day in the file: by the clock on any date, or by the sky on one."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from photoperiod.lower.common import Complaints
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE, clock_text
from photoperiod.view import Poisoned, View

if TYPE_CHECKING:
    from photoperiod.sky.days import Sky

Floats = NDArray[np.float64]

#: Light that follows the sun is sampled this far apart [s].
SAMPLE_S = 60

_EVENT = re.compile(r"([a-z ]+?)(?: ([+-]) (\d+) min)?")


class FollowsSky(Exception):
    """A day needs the sky of a date, where none is known."""


def clock_seconds(text: str) -> int:
    """Return the seconds from midnight of ``HH:MM`` or ``HH:MM:SS``; ``24:00`` is 86,400."""
    hours, minutes, *rest = (int(part) for part in text.split(":"))
    return hours * 3600 + minutes * 60 + (rest[0] if rest else 0)


def is_event(view: View, key: str) -> bool:
    """Return whether a time is an event of the sky."""
    value = view.get(key)
    if value is None:
        raise Poisoned
    return isinstance(value, dict) or not str(value)[:1].isdigit()


class Times(Protocol):
    """Where the times of a day come from."""

    def first(self, view: View, key: str, complaints: Complaints) -> int:
        """Return when something begins, in seconds from the midnight of the date."""
        ...

    def after(self, view: View, key: str, second: int, complaints: Complaints) -> int:
        """Return when an event is, within 24 hours after a second."""
        ...

    def refuse_crossing(
        self, view: View, key: str, start: int, end: int, complaints: Complaints
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

    def first(self, view: View, key: str, complaints: Complaints) -> int:
        """Return a clock time."""
        if is_event(view, key):
            raise FollowsSky
        return clock_seconds(view.text(key))

    def after(self, view: View, key: str, second: int, complaints: Complaints) -> int:
        """Refuse: only events are asked for."""
        raise FollowsSky

    def refuse_crossing(
        self, view: View, key: str, start: int, end: int, complaints: Complaints
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


class SkyTimes:
    """Times by the clock and the sky of one date."""

    def __init__(self, sky: Sky, date: dt.date) -> None:
        self.sky, self.date = sky, date

    def first(self, view: View, key: str, complaints: Complaints) -> int:
        """Return a clock time, or the first such event of the date."""
        if not is_event(view, key):
            return clock_seconds(view.text(key))
        return self._event(view, key, -1, SECONDS_PER_DAY - 1, complaints)

    def after(self, view: View, key: str, second: int, complaints: Complaints) -> int:
        """Return the first such event within 24 hours after a second."""
        return self._event(view, key, second, second + SECONDS_PER_DAY, complaints)

    def _event(self, view: View, key: str, after: int, last: int, complaints: Complaints) -> int:
        """Return the first second of an event in (after, last], by its bounds."""
        value = view.get(key)
        bounds = value if isinstance(value, dict) else {}
        text = str(bounds.get("at", value))
        found = re.fullmatch(_EVENT, text)
        if found is None:
            raise Poisoned
        name, sign, minutes = found.groups()
        offset_s = int(minutes or 0) * SECONDS_PER_MINUTE * (-1 if sign == "-" else 1)
        for event in self.sky.events(name, self.date):
            second = event + offset_s
            midnight = second - second % SECONDS_PER_DAY
            if "not_before" in bounds:
                second = max(second, midnight + clock_seconds(bounds["not_before"]))
            if "not_after" in bounds:
                second = min(second, midnight + clock_seconds(bounds["not_after"]))
            if after < second <= last:
                return second
        if "if_none" in bounds:
            second = clock_seconds(bounds["if_none"])
            return second if second > after else second + SECONDS_PER_DAY
        complaints.add(
            "D101",
            view.at(key),
            f"there is no {name} on {self.date}",
            f'say what counts on such dates: `{{at: {text}, if_none: "09:00"}}`',
        )
        raise Poisoned

    def refuse_crossing(
        self, view: View, key: str, start: int, end: int, complaints: Complaints
    ) -> None:
        """Complain of an event at the end of a day that is only that of the next one.

        The one of this date lies before the start, and the sun rises again in between.
        """
        rises = any(start < second < end for second in self.sky.events("sunrise", self.date))
        if end < SECONDS_PER_DAY or not rises:
            return
        text = view.get(key)["at"] if isinstance(view.get(key), dict) else view.text(key)
        complaints.add(
            "M303",
            view.at(key),
            f"'{text}' comes before the first light at {clock_text(start)}, so that the next one is a day"
            " later",
            "let the day begin earlier, or end later",
        )
        raise Poisoned

    def sunlight(self, model: str, *, of_year: bool) -> Floats:
        """Return light by the sun through the date, every `SAMPLE_S`, 1 at the peak."""
        return self.sky.sunlight(self.date, model, SAMPLE_S, of_year=of_year)

    def moonlight(self, second: int) -> float:
        """Return the brightness of the moon's phase beside the full moon's."""
        return self.sky.moonlight(self.date, second)

    def moon_up(self, start: int, end: int) -> list[tuple[int, int]]:
        """Return from when to when the moon is up between two seconds."""
        return self.sky.moon_up(self.date, start, end)
