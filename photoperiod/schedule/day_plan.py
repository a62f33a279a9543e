"""What a channel does on a day, as values: times by the clock or by the sky, ramps, points, the moon.

These values need no date. `photoperiod.days.signals` evaluates them on one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.curves.shapes import Shape
from photoperiod.sky.kinds import SunEvent, SunModel
from photoperiod.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE

_EVENT = re.compile(r"([a-z ]+?)(?: ([+-]) (\d+) min)?")


class DayKind(StrEnum):
    """How a day is written."""

    RAMPS = "ramps"
    POINTS = "points"
    SUN = "sun"


class MoonlightKind(StrEnum):
    """What moonlight follows."""

    STEADY = "steady"  # the same light every night
    PHASE = "phase"  # the phase of the moon
    PHASE_AND_RISE = "phase-and-rise"  # the same, while the moon is up


class PeakOf(StrEnum):
    """Which peak of the sun gives the peak of the light."""

    YEAR = "year"  # that of the year's highest sun: winter days are dimmer
    DAY = "day"  # that of each day


@dataclass(frozen=True, slots=True)
class ClockTime:
    """A time by the plan's clock, in seconds from midnight; 86,400 is the midnight that ends the day."""

    second: int

    @classmethod
    def of(cls, text: str) -> ClockTime:
        """Return the time written as ``HH:MM`` or ``HH:MM:SS``."""
        hours, minutes, *rest = (int(part) for part in text.split(":"))
        second = hours * SECONDS_PER_HOUR + minutes * SECONDS_PER_MINUTE
        return cls(second + (rest[0] if rest else 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A time by the sun.

    Parameters
    ----------
    name : SunEvent
        What happens in the sky.
    offset_s : int
        How much later the time is; negative for earlier. [s]
    not_before, not_after : ClockTime or None
        The time is moved to these bounds. They belong to the same day of the sun as the event: of a
        sunset, 00:30 is after midnight.
    if_none : ClockTime or None
        The time on dates without the event; None makes such a date a fault.
    if_sun_stays_up, if_sun_stays_down : ClockTime or None
        The same where the sun stays above, or below, the event's height all day; None: as `if_none`.
    """

    name: SunEvent
    offset_s: int = 0
    not_before: ClockTime | None = None
    not_after: ClockTime | None = None
    if_none: ClockTime | None = None
    if_sun_stays_up: ClockTime | None = None
    if_sun_stays_down: ClockTime | None = None

    @property
    def text(self) -> str:
        """The event and its offset as a schedule writes them, ``sunrise + 30 min``."""
        if not self.offset_s:
            return self.name.value
        sign = "-" if self.offset_s < 0 else "+"
        return f"{self.name} {sign} {abs(self.offset_s) // SECONDS_PER_MINUTE} min"


TimeOfDay = ClockTime | Event


def time_of_day(text: str) -> TimeOfDay:
    """Return a time as a schedule writes it, ``09:00`` or ``sunrise + 30 min``.

    Raises
    ------
    ValueError
        If it is neither.
    """
    if text[:1].isdigit():
        return ClockTime.of(text)
    found = _EVENT.fullmatch(text)
    if found is None:
        raise ValueError(f"{text!r} is neither a time of day nor an event of the sun")
    name, sign, minutes = found.groups()
    offset_s = int(minutes or 0) * SECONDS_PER_MINUTE
    return Event(name=SunEvent(name), offset_s=-offset_s if sign == "-" else offset_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dawn:
    """The first ramp of a day, from dark to the first peak.

    It has a length [s] or an end, never both.
    """

    start: TimeOfDay
    length_s: int | None = None
    end: TimeOfDay | None = None
    shape: Shape = Shape.LINEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class Dusk:
    """The last ramp of a day, from the last peak to dark.

    It has a length [s] or a start, never both.
    """

    end: TimeOfDay
    length_s: int | None = None
    start: TimeOfDay | None = None
    shape: Shape = Shape.LINEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """Light that is held until the next ramp begins. [fraction of full]

    The first peak begins where dawn ends and has nothing but its light. Each later one says when the
    ramp to it begins and how long that takes [s]; a shape left out is linear.
    """

    light: float
    ramp_start: TimeOfDay | None = None
    ramp_s: int | None = None
    shape: Shape | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramps:
    """A day from a dawn over peaks to a dusk.

    Only if ``ends_next_day`` may the clock time of its end be before that of its start.
    """

    dawn: Dawn
    peaks: tuple[Peak, ...]
    dusk: Dusk
    ends_next_day: bool = False


@dataclass(frozen=True, slots=True)
class Point:
    """Light at a time. [fraction of full]"""

    time: TimeOfDay
    light: float


@dataclass(frozen=True, slots=True)
class Points:
    """A day in straight lines between points; it may cross midnight once."""

    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SunDay:
    """A day that is as bright as the height of the sun makes it.

    ``peak_light`` is the light at the peak. [fraction of full]
    """

    peak_light: float
    peak_of: PeakOf = PeakOf.YEAR
    model: SunModel = SunModel.SINE


Day = Ramps | Points | SunDay


@dataclass(frozen=True, slots=True, kw_only=True)
class Moonlight:
    """Light from one time of a night to another.

    ``light`` is that of every night if it is steady, else that under a full moon. [fraction of full]
    """

    kind: MoonlightKind
    light: float
    start: TimeOfDay
    end: TimeOfDay

    @property
    def follows_moon(self) -> bool:
        """True if the moon makes it brighter or darker."""
        return self.kind is not MoonlightKind.STEADY


def light_key(kind: MoonlightKind) -> str:
    """Return under which key the file has the light of moonlight."""
    return "light_percent" if kind is MoonlightKind.STEADY else "full_light_percent"


def times_of(plan: Day | Moonlight) -> Iterator[tuple[tuple[str | int, ...], TimeOfDay]]:
    """Yield every time of a day or of moonlight, with its place inside it."""
    match plan:
        case Ramps():
            yield ("dawn", "start"), plan.dawn.start
            if plan.dawn.end is not None:
                yield ("dawn", "end"), plan.dawn.end
            for index, peak in enumerate(plan.peaks):
                if peak.ramp_start is not None:
                    yield ("peaks", index, "from"), peak.ramp_start
            yield ("dusk", "end"), plan.dusk.end
            if plan.dusk.start is not None:
                yield ("dusk", "start"), plan.dusk.start
        case Points():
            for index, point in enumerate(plan.points):
                yield ("points", index, "time"), point.time
        case Moonlight():
            yield ("start",), plan.start
            yield ("end",), plan.end


def follows_sky(plan: Day | Moonlight) -> bool:
    """Return whether a day or moonlight is another one on each date."""
    if isinstance(plan, SunDay) or (isinstance(plan, Moonlight) and plan.follows_moon):
        return True
    return any(isinstance(time, Event) for _, time in times_of(plan))
