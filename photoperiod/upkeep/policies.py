"""Ways to replace tubes: all at once, by halves, each by its hours, or by measured light.

A policy begins with the tubes that stand in their places on the first date. What the schedule fits later
is left aside: the policy says when. New tubes are like the last of their place, and owe the burn-in that
tubes of this place owed when they were fitted.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from photoperiod.program.model import Program
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.schedule.tube import Tube
from photoperiod.upkeep.due import LitHours, Reason, due_dates

#: Channels whose tubes are not replaced together are replaced so many days one after the other. Our choice.
DAYS_APART = 7

_DAY = dt.timedelta(days=1)


class Policy(StrEnum):
    """When tubes are replaced."""

    AS_WRITTEN = "as-written"  # on the dates of the schedule
    TOGETHER = "as-written-together"  # those that lie within four weeks on one date
    AT_ONCE = "all-at-once"  # all of them, when the first is due
    HALVES = "by-halves"  # every other place of each channel, half a life apart
    HALVES_APART = "by-halves-apart"  # the same, one channel a week
    HOURS = "by-hours"  # each by its replace_after_hours
    LIGHT = "by-light"  # each by its replace_below_percent, where its fade was measured


#: Fittings that lie no farther apart may as well be on one date: they then burn in together. Our choice.
DAYS_TOGETHER = 28

#: Why a policy can't be told, in words.
NO_LIFE = "no tube has `replace_after_hours`, or `fitted` and `replace_after_months`"
ALL_TOGETHER = "no fittings of the file lie within four weeks on different dates"
NO_HOURS = "no tube has `replace_after_hours`"
NO_LIGHT = (
    "no tube has `replace_below_percent` and a measured fade (`depreciation: {kind: series}`); by"
    " published lumens a tube would last for years, while keepers replace for colour and yield (common"
    " practice, no source)"
)


@dataclass(frozen=True, slots=True)
class PlaceOfTubes:
    """A place in a channel, with the tube that stands there on the first date, or comes first.

    ``like`` is the last tube of the place: new ones are like it. ``at_h`` are the hours of ``tube`` as
    ``since`` begins. [h]
    """

    channel: str
    index: int
    tube: Tube
    like: Tube
    burn_in_full_hours: float
    at_h: float
    since: dt.date

    def new_tube(self, date: dt.date, number: int) -> Tube:
        """Return the tube that is fitted there on a date."""
        return replace(
            self.like,
            id=f"{self.like.place}-new-{number}",
            label=f"{self.like.place}, new {number}",
            fitted=dt.datetime.combine(date, dt.time()),
            removed=None,
            lit_hours=0.0,
            burn_in_full_hours=self.burn_in_full_hours,
        )


def places_of(program: Program) -> list[PlaceOfTubes]:
    """Return the places of all channels of a program with dates, in the order of the file."""
    assert program.span is not None
    first = program.span.first
    found = []
    for channel in program.schedule.channels.values():
        for index, line in enumerate(channel.places):
            there = [t for t in line if t.fitted is None or t.fitted.date() <= first]
            tube = there[-1] if there else line[0]
            use = program.tubes.get(tube.id)
            since = first if tube.fitted is None else max(first, tube.fitted.date())
            at_h = tube.lit_hours if use is None else use.hours.lit_hours_before
            owed = max(each.burn_in_full_hours for each in line)
            tube = _with_limits_of(line[-1], tube)
            found.append(PlaceOfTubes(channel.id, index, tube, line[-1], owed, at_h, since))
    return found


def _with_limits_of(like: Tube, tube: Tube) -> Tube:
    """Return a tube that is due by what is told of it, or else by what is told of another one."""
    hours, months = tube.replace_after_hours, tube.replace_after_months
    return replace(
        tube,
        replace_after_hours=like.replace_after_hours if hours is None else hours,
        replace_after_months=like.replace_after_months if months is None else months,
        replace_below=like.replace_below if tube.replace_below is None else tube.replace_below,
    )


class Replacements:
    """The dates on which a policy fits tubes.

    Parameters
    ----------
    program : Program
        The schedule as it is written, compiled for the dates.
    """

    def __init__(self, program: Program) -> None:
        assert program.span is not None
        self.program, self.span = program, program.span
        self.hours = LitHours(program)
        self.places = places_of(program)

    def of(self, policy: Policy) -> dict[PlaceOfTubes, list[dt.date]] | str:
        """Return when each place gets a new tube; or why that can't be told, in words."""
        match policy:
            case Policy.AT_ONCE:
                return self._at_once()
            case Policy.HALVES:
                return self._by_halves(0)
            case Policy.HALVES_APART:
                return self._by_halves(DAYS_APART)
            case Policy.HOURS:
                return self._each({Reason.HOURS}) or NO_HOURS
            case Policy.LIGHT:
                return self._each({Reason.LIGHT}) or NO_LIGHT
        raise ValueError(f"{policy} has no dates of its own")

    def _due(
        self, place: PlaceOfTubes, fitted: dt.date | None, reasons: Iterable[Reason]
    ) -> dt.date | None:
        """Return when the tube of a place is due, or a new one that is fitted there on a date."""
        if fitted is None:
            own = place.tube.fitted and place.tube.fitted.date()
            at_h, since = place.at_h, place.since
        else:
            own, at_h, since = fitted, 0.0, fitted
        tube = place.tube if fitted is None else place.like
        found = due_dates(tube, place.channel, own, at_h, since, self.hours)
        return min((date for reason, date in found.items() if reason in reasons), default=None)

    def _each(self, reasons: set[Reason]) -> dict[PlaceOfTubes, list[dt.date]]:
        """Return when each place gets a new tube if it gets it as soon as one is due."""
        found = {}
        for place in self.places:
            dates = list(self._dates(place, reasons))
            if dates or self._due(place, None, reasons) is not None:
                found[place] = dates
        return found

    def _dates(self, place: PlaceOfTubes, reasons: set[Reason]) -> Iterator[dt.date]:
        date = self._due(place, None, reasons)
        while date is not None and date <= self.span.last:
            date = max(date, self.span.first)
            yield date
            following = self._due(place, date, reasons)
            date = None if following is None else max(following, date + _DAY)

    def _life(self) -> tuple[dt.date, int] | None:
        """Return when the first tube is due, and how long the shortest life of a new tube is. [d]"""
        reasons = {Reason.HOURS, Reason.MONTHS}
        first = [d for place in self.places if (d := self._due(place, None, reasons)) is not None]
        lives = [
            (d - self.span.first).days
            for place in self.places
            if (d := self._due(place, self.span.first, reasons)) is not None
        ]
        if not lives:
            return None
        return max(min(first, default=self.span.first), self.span.first), max(min(lives), 1)

    def _at_once(self) -> dict[PlaceOfTubes, list[dt.date]] | str:
        """Return dates on which all places get new tubes: each time the first of them is due."""
        begin = self._life()
        if begin is None:
            return NO_LIFE
        reasons, dates, date = {Reason.HOURS, Reason.MONTHS}, [], begin[0]
        while date <= self.span.last:
            dates.append(date)
            due = (self._due(place, date, reasons) for place in self.places)
            date = max(min(each for each in due if each is not None), date + _DAY)
        return {place: list(dates) for place in self.places}

    def _by_halves(self, days_apart: int) -> dict[PlaceOfTubes, list[dt.date]] | str:
        """Return dates on which every other place gets a new tube, half a life apart.

        The first half comes half a life before the first tube is due, so that none is overdue.
        """
        begin = self._life()
        if begin is None:
            return NO_LIFE
        due, life = begin
        half = max(life // 2, 1)
        start = max(due - dt.timedelta(days=half), self.span.first)
        order = {id: at for at, id in enumerate(dict.fromkeys(p.channel for p in self.places))}
        found = {}
        for place in self.places:
            late = half * (place.index % 2) + days_apart * order[place.channel]
            date, dates = start + dt.timedelta(days=late), []
            while date <= self.span.last:
                dates.append(date)
                date += dt.timedelta(days=2 * half)
            found[place] = dates
        return found


def with_replacements(
    schedule: Schedule, first: dt.date, dates: Mapping[PlaceOfTubes, list[dt.date]]
) -> Schedule:
    """Return a schedule in which a policy fits the tubes, from a first date on."""
    tubes = {
        id: tube
        for id, tube in schedule.tubes.items()
        if tube.fitted is None or tube.fitted.date() <= first or _is_first(schedule, tube)
    }
    tubes = {id: replace(tube, removed=_before(tube, first)) for id, tube in tubes.items()}
    new: dict[str, list[Tube]] = {}
    for place, when in dates.items():
        for number, date in enumerate(when, 1):
            tube = place.new_tube(date, number)
            tubes[tube.id] = tube
            new.setdefault(place.channel, []).append(tube)
    channels = {
        id: _with_tubes(channel, tubes, new.get(id, []))
        for id, channel in schedule.channels.items()
    }
    return replace(schedule, tubes=tubes, channels=channels, file_digest="")


def fitted_together(schedule: Schedule, first: dt.date, last: dt.date) -> Schedule | None:
    """Return a schedule whose fittings within some dates are on one date if they lie near each other.

    That date is the first of them. None if that changes nothing.
    """
    moved: dict[str, dt.datetime] = {}
    begin: dt.datetime | None = None
    later = [(t.fitted, t.id) for t in schedule.tubes.values() if t.fitted is not None]
    for fitted, id in sorted(later):
        if not first <= fitted.date() <= last:
            continue
        if begin is None or fitted - begin > dt.timedelta(days=DAYS_TOGETHER):
            begin = fitted
        elif fitted != begin and not _begins_in(schedule, id, begin):
            moved[id] = begin
    if not moved:
        return None
    tubes = {
        id: replace(tube, fitted=moved.get(id, tube.fitted)) for id, tube in schedule.tubes.items()
    }
    channels = {id: _with_tubes(channel, tubes, ()) for id, channel in schedule.channels.items()}
    return replace(schedule, tubes=tubes, channels=channels, file_digest="")


def _begins_in(schedule: Schedule, id: str, begin: dt.datetime) -> bool:
    """Return whether the tube that a tube follows in its place is fitted no earlier than a moment."""
    for channel in schedule.channels.values():
        for line in channel.places:
            for before, tube in pairwise(line):
                if tube.id == id:
                    gone = before.removed is not None and before.removed > begin
                    return gone or (before.fitted is not None and before.fitted >= begin)
    return False


def _is_first(schedule: Schedule, tube: Tube) -> bool:
    """Return whether a tube is the first that stands in its place."""
    return any(line[0].id == tube.id for c in schedule.channels.values() for line in c.places)


def _before(tube: Tube, first: dt.date) -> dt.datetime | None:
    """Return when a tube was removed, if that was before a date."""
    is_before = tube.removed is not None and tube.removed.date() <= first
    return tube.removed if is_before else None


def _with_tubes(channel: Channel, tubes: Mapping[str, Tube], new: Iterable[Tube]) -> Channel:
    kept = tuple(tubes[tube.id] for tube in channel.tubes if tube.id in tubes)
    return replace(channel, tubes=(*kept, *new))
