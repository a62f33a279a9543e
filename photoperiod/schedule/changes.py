"""Changes over dates, as values: acclimation, dark days, moved hours, another day plan, a part that fails.

Each belongs to dates of the controller's clock, midnight to midnight, and says what it does on each of them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.schedule.day_plan import Day, Moonlight
from photoperiod.units import SECONDS_PER_MINUTE

#: Steps of an acclimation where a person types tables in [days]: four weeks are four loads. Common
#: practice, no source.
EVERY_DAYS_BY_HAND = 7

_DAY = dt.timedelta(days=1)


class ChangeKind(StrEnum):
    """What a change does."""

    ACCLIMATION = "acclimation"
    DARK_DAYS = "dark-days"
    MOVED_HOURS = "moved-hours"
    OTHER_DAY = "other-day"
    PART_OUT = "part-out"


class Course(StrEnum):
    """How the dose rises from step to step."""

    LINEAR = "linear"  # by the same amount
    GEOMETRIC = "geometric"  # by the same ratio


class BallastThen(StrEnum):
    """What a ballast does when one of its tubes is out."""

    STOPS = "stops"
    GOES_ON = "goes-on"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedDay:
    """What a channel does by a day plan: it takes the place of its own day and moonlight."""

    day: Day | None = None
    moonlight: Moonlight | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Acclimation:
    """The doses of some channels rise in steps, from a share of the plan's to the plan's.

    Parameters
    ----------
    first : date
        The date of the first step.
    days : int
        Until the plan holds again. [days]
    from_share : float
        Dose of the first step beside that of the plan. [share]
    every_days : int
        The length of a step. [days]
    channels : tuple of str
        The channels whose dose is scaled, by id.
    zones : tuple of str
        The zones for which it was asked; empty if channels were named, or all are meant.
    """

    first: dt.date
    days: int
    from_share: float
    every_days: int
    course: Course = Course.LINEAR
    channels: tuple[str, ...]
    zones: tuple[str, ...] = ()

    @property
    def kind(self) -> ChangeKind:
        """Its kind."""
        return ChangeKind.ACCLIMATION

    @property
    def last(self) -> dt.date:
        """The last date before the plan holds."""
        return later(self.first, self.days - 1)

    @property
    def steps(self) -> int:
        """How many steps there are."""
        return -(-self.days // self.every_days)

    def share_of(self, step: int) -> float:
        """Return the dose of a step beside that of the plan, from ``from_share`` to 1. [share]

        The first step is 0; the share is 1 from step `steps` on.
        """
        part = min(step / self.steps, 1.0)
        if self.course is Course.GEOMETRIC:
            return round(float(self.from_share ** (1.0 - part)), 9)
        return round(self.from_share + (1.0 - self.from_share) * part, 9)

    def share_on(self, date: dt.date) -> float:
        """Return the dose of a date beside that of the plan; 1 outside its dates. [share]"""
        if not self.first <= date <= self.last:
            return 1.0
        return self.share_of((date - self.first).days // self.every_days)

    def begins(self) -> Iterator[dt.date]:
        """Yield the dates on which its steps begin."""
        for step in range(self.steps):
            yield later(self.first, step * self.every_days)


@dataclass(frozen=True, slots=True, kw_only=True)
class DarkDays:
    """Some channels stay dark on some dates."""

    first: dt.date
    days: int
    channels: tuple[str, ...]
    keeps_moonlight: bool = False

    @property
    def kind(self) -> ChangeKind:
        """Its kind."""
        return ChangeKind.DARK_DAYS

    @property
    def last(self) -> dt.date:
        """The last of its dates."""
        return later(self.first, self.days - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedHours:
    """The day of some channels moves, by so much a day, up to a total; later changes may move it back.

    ``per_day_s`` is above zero, ``total_s`` below zero if the day moves to earlier hours. [s]
    """

    first: dt.date
    per_day_s: int
    total_s: int
    every_days: int
    channels: tuple[str, ...]

    @property
    def kind(self) -> ChangeKind:
        """Its kind."""
        return ChangeKind.MOVED_HOURS

    @property
    def steps(self) -> int:
        """How many steps there are."""
        return -(-abs(self.total_s) // (self.per_day_s * self.every_days))

    @property
    def last(self) -> dt.date:
        """The first date on which all is moved: it stays so."""
        return later(self.first, (self.steps - 1) * self.every_days)

    def moved_s(self, date: dt.date) -> int:
        """Return by how much the day is moved on a date; 0 before its first. [s]"""
        if date < self.first:
            return 0
        step = (date - self.first).days // self.every_days + 1
        most = min(step * self.per_day_s * self.every_days, abs(self.total_s))
        return most if self.total_s > 0 else -most

    def begins(self) -> Iterator[dt.date]:
        """Yield the dates on which it moves."""
        for step in range(self.steps):
            yield later(self.first, step * self.every_days)


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherDay:
    """From a date on, a day plan takes the place of the days of the channels that it names.

    Without ``days`` it holds until another day plan takes its place.
    """

    first: dt.date
    day_plan: str
    channels: tuple[str, ...]
    days: int | None = None

    @property
    def kind(self) -> ChangeKind:
        """Its kind."""
        return ChangeKind.OTHER_DAY

    @property
    def last(self) -> dt.date | None:
        """The last of its dates; None if it stays."""
        return None if self.days is None else later(self.first, self.days - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOut:
    """A tube, or ballasts of a channel, give no light from a date on.

    Parameters
    ----------
    channel : str
        The channel that loses light, by id.
    tube : str
        The tube that is out, by id; empty if ballasts are.
    ballasts : int
        How many ballasts are out; 0 if a tube is.
    ballast : BallastThen
        What the ballast of the tube does.
    last : date or None
        The last date without it; None if it stays so: until another tube is fitted in its place, for a tube.
    """

    first: dt.date
    channel: str
    tube: str = ""
    ballasts: int = 0
    ballast: BallastThen = BallastThen.STOPS
    days: int | None = None

    @property
    def kind(self) -> ChangeKind:
        """Its kind."""
        return ChangeKind.PART_OUT

    @property
    def channels(self) -> tuple[str, ...]:
        """The channel that loses light."""
        return (self.channel,)

    @property
    def last(self) -> dt.date | None:
        """The last of its dates; None if it stays."""
        return None if self.days is None else later(self.first, self.days - 1)


Change = Acclimation | DarkDays | MovedHours | OtherDay | PartOut


def later(date: dt.date, days: int) -> dt.date:
    """Return a date some days later, or the last date that there is."""
    return date + min(days, (dt.date.max - date).days) * _DAY


def minutes_of(seconds: int) -> float:
    """Return a time as the language writes it. [min]"""
    return seconds / SECONDS_PER_MINUTE
