"""Clocks of places: from instants to wall times and back, by the zone data of the tzdata package.

The operating system's zone data is never read, so a plan comes out the same on every machine; which
data it was is `IANA_VERSION`. All is in whole seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from functools import cache, lru_cache
from importlib import resources
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

import tzdata

from photoperiod.arrays import Ints, np
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE

#: Version of the zone data, such as 2026f.
IANA_VERSION: str = tzdata.IANA_VERSION

#: What outputs say of the zone data.
ZONE_DATA = f"tzdata {IANA_VERSION}"

#: Where an offset is wanted of no date, it is that of 2026-01-01T00:00Z. [Unix seconds]
REFERENCE_UNIX_S = 1_767_225_600

#: Clocks are looked at this often for changes [s]. Since 1900 no zone of the data has changed its offset
#: twice within a week.
PROBE_S = 2 * SECONDS_PER_DAY

#: More than a clock can be off UTC, and more than it can change. [s]
REACH_S = 2 * SECONDS_PER_DAY

_EPOCH = date(1970, 1, 1).toordinal()
_EPOCH_MOMENT = datetime(1970, 1, 1, tzinfo=UTC)


class ClockKind(StrEnum):
    """What a clock shows."""

    STANDARD = "standard"  # a zone's standard time all year: no summer time
    CIVIL = "civil"  # a zone's time as people keep it
    UTC = "utc"
    SPREAD = "spread"  # civil time whose changes are spread over days; never written in a schedule


@dataclass(frozen=True, slots=True)
class ClockChange:
    """A change of a clock's offset from UTC: forward leaves a gap, back makes an hour come twice.

    Parameters
    ----------
    at_unix_s : int
        The first instant of the new offset. [Unix seconds]
    before_s, after_s : int
        Offsets, east positive. [s]
    """

    at_unix_s: int
    before_s: int
    after_s: int

    @property
    def at(self) -> datetime:
        """The first instant of the new offset, in UTC."""
        return datetime.fromtimestamp(self.at_unix_s, UTC)

    def data(self, clock: str) -> dict[str, str | int]:
        """Return what JSON outputs say of the change of a clock of some name."""
        return {
            "clock": clock,
            "at": self.at.isoformat(),
            "offset_before_s": self.before_s,
            "offset_after_s": self.after_s,
        }


class Rule(NamedTuple):
    """What the data of a zone say of an instant: the offset from UTC, and what of it is saving. [s]"""

    offset_s: int
    saving_s: int


@cache
def zone_names() -> frozenset[str]:
    """Return the names of all zones in the data."""
    text = (resources.files("tzdata") / "zones").read_text(encoding="utf-8")
    return frozenset(text.split())


@cache
def zone(name: str) -> ZoneInfo:
    """Return a zone of the tzdata package, or raise ValueError."""
    if name not in zone_names():
        raise ValueError(f"no time zone {name!r} in the zone data {IANA_VERSION}")
    path = resources.files("tzdata").joinpath("zoneinfo", *name.split("/"))
    with path.open("rb") as file:
        return ZoneInfo.from_file(file, key=name)


@dataclass(frozen=True, slots=True)
class Clock:
    """A clock: UTC, or the civil or the standard time of a zone.

    Standard time of a zone is what its data call so: its offset from UTC without what is added for
    daylight saving. In zones whose data call winter the exception, such as Europe/Dublin and
    Africa/Casablanca, it is winter time, too. It changes at the instant at which a place changes its
    base, such as 2026-11-01 in America/Vancouver, although clocks there show no change.

    Parameters
    ----------
    kind : ClockKind
        What it shows.
    zone_name : str
        Name in the zone data.
    step_s : int
        Of a ``spread`` clock: the most by which it follows the civil one each midnight. [s]
    """

    kind: ClockKind
    zone_name: str
    step_s: int = 0

    @classmethod
    def utc(cls) -> Clock:
        """Return the clock of UTC."""
        return cls(ClockKind.UTC, "UTC")

    @classmethod
    def standard(cls, zone_name: str) -> Clock:
        """Return the clock of a zone's standard time, without summer time."""
        return cls(ClockKind.STANDARD, zone_name)

    @classmethod
    def civil(cls, zone_name: str) -> Clock:
        """Return the clock that people in a zone go by."""
        return cls(ClockKind.CIVIL, zone_name)

    @classmethod
    def spread(cls, zone_name: str, minutes_per_day: float) -> Clock:
        """Return civil time whose changes are spread over days.

        From the midnight that begins the date of a change on, it follows the civil clock by at most
        so many minutes at each midnight of its own.
        """
        return cls(ClockKind.SPREAD, zone_name, max(round(minutes_per_day * SECONDS_PER_MINUTE), 1))

    def __post_init__(self) -> None:
        if self.kind not in tuple(ClockKind):
            raise ValueError(f"no clock of kind {self.kind!r}")
        zone(self.zone_name)

    def offset_s(self, unix_s: int) -> int:
        """Return the offset from UTC at an instant, east positive. [s]"""
        offset, changes = _year_of_clock(self.kind, self.zone_name, self.step_s, _year_of(unix_s))
        for change in changes:
            if change.at_unix_s <= unix_s:
                offset = change.after_s
        return offset

    def offsets_s(self, unix_s: Ints) -> Ints:
        """Return the offsets from UTC at instants in any order and shape. [s]"""
        if unix_s.size == 0:
            return np.zeros(unix_s.shape, dtype=np.int64)
        first, last = int(unix_s.min()), int(unix_s.max())
        changes = self.changes(first + 1, last + 1)
        offsets = [self.offset_s(first), *(change.after_s for change in changes)]
        moments = np.array([change.at_unix_s for change in changes], dtype=np.int64)
        return np.array(offsets, dtype=np.int64)[np.searchsorted(moments, unix_s, side="right")]

    def changes(self, start_unix_s: int, stop_unix_s: int) -> list[ClockChange]:
        """Return the changes of the offset within [start, stop), in order."""
        if stop_unix_s <= start_unix_s:
            return []
        return [
            change
            for year in range(_year_of(start_unix_s), _year_of(stop_unix_s - 1) + 1)
            for change in _year_of_clock(self.kind, self.zone_name, self.step_s, year)[1]
            if start_unix_s <= change.at_unix_s < stop_unix_s
        ]

    def wall_of(self, unix_s: int) -> tuple[date, int]:
        """Return the date and the second of the day [s] that the clock shows at an instant."""
        days, second_of_day = divmod(unix_s + self.offset_s(unix_s), SECONDS_PER_DAY)
        return date.fromordinal(_EPOCH + days), second_of_day

    def unix_of(self, day: date, second_of_day: int, fold: int = 0) -> int:
        """Return the instant at which the clock shows a date and a time. [Unix seconds]

        A time that comes twice is the first of the two, or the second if ``fold`` is 1. A time that
        is left out in a gap is read by the offset before the gap, so that 02:30 becomes 03:30 if the
        clock goes forward by an hour; by the offset after it if ``fold`` is 1.

        Parameters
        ----------
        day : date
            Of the clock.
        second_of_day : int
            0 to 86,400, as shown by the clock; 86,400 is the midnight that ends the date. [s]
        fold : int
            0 or 1, as in PEP 495.
        """
        if not 0 <= second_of_day <= SECONDS_PER_DAY:
            raise ValueError(f"second of day is {second_of_day}, not from 0 to 86400")
        shown = (day.toordinal() - _EPOCH) * SECONDS_PER_DAY + second_of_day
        instants, gap = self._instants(shown)
        if instants:
            return instants[-1 if fold else 0]
        return shown - (gap.after_s if fold else gap.before_s)

    def day_bounds(self, day: date) -> tuple[int, int]:
        """Return the first instant of a date and the first instant after it. [Unix seconds]

        Where midnight is left out by a change of the clock, the date begins with that change; where
        it comes twice, with the first. Every date ends where the next one begins. A date that is
        left out as a whole, such as 2011-12-30 in Pacific/Apia, has two equal bounds.
        """
        return _midnight(self, day), _midnight(self, day + timedelta(days=1))

    def passing_spans(self, day: date) -> list[tuple[int, int]]:
        """Return the seconds that the clock shows on a date, as stretches in the order in which they pass.

        On most dates that is 0 to 86,400; where the clock goes forward there is a gap, where it goes back
        two stretches overlap. [s]
        """
        begin, end = self.day_bounds(day)
        cuts = sorted({begin, end, *(change.at_unix_s for change in self.changes(begin, end))})
        spans = []
        for start, stop in pairwise(cuts):
            second = self.wall_of(start)[1]
            spans.append((second, second + stop - start))
        return spans

    def _instants(self, shown: int) -> tuple[list[int], ClockChange]:
        """Return when the clock shows a time [Unix seconds], and the change that leaves it out if none.

        ``shown`` is in seconds of a clock that would run from the epoch without changes.
        """
        begin, end = shown - REACH_S, shown + REACH_S
        changes = self.changes(begin, end)
        none = ClockChange(begin, 0, self.offset_s(begin))
        instants = []
        gap = none
        for change, following in zip([none, *changes], [*changes, None], strict=True):
            instant = shown - change.after_s
            stop = end if following is None else following.at_unix_s
            if change.at_unix_s <= instant < stop:
                instants.append(instant)
            if change.before_s <= shown - change.at_unix_s < change.after_s:
                gap = change
        return instants, gap


def _year_of(unix_s: int) -> int:
    """Return the calendar year of UTC in which an instant [Unix seconds] lies."""
    return date.fromordinal(_EPOCH + unix_s // SECONDS_PER_DAY).year


def _begin_of(year: int) -> int:
    """Return the first instant of a calendar year of UTC. [Unix seconds]"""
    return (date(year, 1, 1).toordinal() - _EPOCH) * SECONDS_PER_DAY


@lru_cache(maxsize=4096)
def _midnight(clock: Clock, day: date) -> int:
    """Return the instant at which a date begins. [Unix seconds]"""
    instants, gap = clock._instants((day.toordinal() - _EPOCH) * SECONDS_PER_DAY)
    return instants[0] if instants else gap.at_unix_s


@lru_cache(maxsize=4096)
def _year_of_clock(
    kind: ClockKind, zone_name: str, step_s: int, year: int
) -> tuple[int, tuple[ClockChange, ...]]:
    """Return a clock's offset [s] as a calendar year of UTC begins, and its changes within the year.

    A change at the year's first instant is one of its changes; the offset is then that before it.
    """
    if kind == ClockKind.UTC:
        return 0, ()
    if kind == ClockKind.CIVIL:
        return _civil_year(zone_name, year)
    if kind == ClockKind.SPREAD:
        return _spread_year(zone_name, step_s, year)
    return _standard_year(zone_name, year)


def _spread_year(zone_name: str, step_s: int, year: int) -> tuple[int, tuple[ClockChange, ...]]:
    """Return the same of a clock that follows the civil one by some seconds each midnight.

    It is followed from the beginning of the year before: no change takes longer than that.
    """
    begin, end = _begin_of(year), _begin_of(year + 1)
    day = date(year - 1, 1, 1).toordinal() - _EPOCH
    offset = before = _civil_offset(zone_name, _begin_of(year - 1))
    changes: list[ClockChange] = []
    while True:
        midnight = day * SECONDS_PER_DAY - offset
        if midnight >= end:
            return before, tuple(changes)
        wanted = _civil_offset(zone_name, midnight + SECONDS_PER_DAY // 2)
        moved = offset + min(max(wanted - offset, -step_s), step_s)
        if moved != offset and midnight >= begin:
            changes.append(ClockChange(midnight, offset, moved))
        offset = moved
        if midnight < begin:
            before = offset
        day += 1


def _standard_year(zone_name: str, year: int) -> tuple[int, tuple[ClockChange, ...]]:
    """Return the same of a zone's standard time."""
    offset = before = _standard_parts(zone_name, year - 1)[-1][1]
    changes = []
    for at, standard in _standard_parts(zone_name, year):
        if standard != offset:
            changes.append(ClockChange(at, offset, standard))
            offset = standard
    return before, tuple(changes)


@lru_cache(maxsize=4096)
def _standard_parts(zone_name: str, year: int) -> tuple[tuple[int, int], ...]:
    """Return the parts of a calendar year of UTC with one rule each: its begin, its standard time. [s]"""
    rules = [(_begin_of(year - 1), _year_of_rules(zone_name, year - 1)[0])]
    for near in (year - 1, year, year + 1):
        rules += _year_of_rules(zone_name, near)[1]
    begin, end = _begin_of(year), _begin_of(year + 1)
    parts = []
    for index, (at, rule) in enumerate(rules):
        until = rules[index + 1][0] if index + 1 < len(rules) else end
        if until > begin and at < end:
            beside = [rules[n][1] for n in (index - 1, index + 1) if 0 <= n < len(rules)]
            parts.append((max(at, begin), _standard_of(rule, beside)))
    return tuple(parts)


def _standard_of(rule: Rule, beside: Sequence[Rule]) -> int:
    """Return the standard time of a stretch with one rule, by the rules before and after it. [s]

    Of saving only the sign is used: how much it is, is not in the data, and `datetime.dst` guesses it once
    for all years. Where the data call winter the exception, such as in Europe/Dublin, what they call
    standard is summer time: it lies between two stretches of less, and one of these is the exception.
    """
    below = [each for each in beside if each.offset_s < rule.offset_s]
    if rule.saving_s > 0:
        standard = [each.offset_s for each in below if not each.saving_s]
        return standard[0] if standard else rule.offset_s - rule.saving_s
    if not rule.saving_s and len(below) == 2 and any(each.saving_s < 0 for each in below):
        return max(each.offset_s for each in below)
    return rule.offset_s


def _civil_year(zone_name: str, year: int) -> tuple[int, tuple[ClockChange, ...]]:
    """Return a zone's offset [s] just before a calendar year of UTC, and its changes within the year."""
    before, rules = _year_of_rules(zone_name, year)
    offset, changes = before.offset_s, []
    for at, rule in rules:
        if rule.offset_s != offset:
            changes.append(ClockChange(at, offset, rule.offset_s))
            offset = rule.offset_s
    return before.offset_s, tuple(changes)


@lru_cache(maxsize=4096)
def _year_of_rules(zone_name: str, year: int) -> tuple[Rule, tuple[tuple[int, Rule], ...]]:
    """Return a zone's rule just before a calendar year of UTC, and when [Unix seconds] which rules follow."""
    begin, end = _begin_of(year), _begin_of(year + 1)
    first = before = _rule_at(zone_name, begin - 1)
    rules = []
    at = begin - 1
    while at < end - 1:
        until = min(at + PROBE_S, end - 1)
        after = _rule_at(zone_name, until)
        if after != before:
            low, high = at, until
            while high - low > 1:
                middle = (low + high) // 2
                if _rule_at(zone_name, middle) == before:
                    low = middle
                else:
                    high = middle
            rules.append((high, after))
        at, before = until, after
    return first, tuple(rules)


def _rule_at(zone_name: str, unix_s: int) -> Rule:
    """Return the rule of a zone in force at an instant [Unix seconds]."""
    moment = (_EPOCH_MOMENT + timedelta(seconds=unix_s)).astimezone(zone(zone_name))
    offset, saving = moment.utcoffset() or timedelta(0), moment.dst() or timedelta(0)
    return Rule(_seconds_of(offset), _seconds_of(saving))


def _seconds_of(delta: timedelta) -> int:
    """Return the whole seconds of a difference in time, negative where it is. [s]"""
    return delta.days * SECONDS_PER_DAY + delta.seconds


def _civil_offset(zone_name: str, unix_s: int) -> int:
    """Return the civil offset of a zone at an instant. [s]"""
    moment = _EPOCH_MOMENT + timedelta(seconds=unix_s)
    return _seconds_of(moment.astimezone(zone(zone_name)).utcoffset() or timedelta(0))
