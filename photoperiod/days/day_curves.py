"""The light wanted of every channel on a date of the controller's clock.

The plan has a clock and a sky; the controller has a clock. Its day, midnight to midnight, is pieced
together from what the plan wants at the same instants.
"""

from __future__ import annotations

import datetime as dt
import functools
import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.curves.curve import Curve, Profile, Signal, Slice
from photoperiod.days.passing_day import PassingDay
from photoperiod.days.signals import DayFault, signals_by_clock, signals_on
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.sky.clock import REFERENCE_UNIX_S, Clock, ClockChange, ClockKind
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

if TYPE_CHECKING:
    from photoperiod.sky.almanac import Almanac


#: So many dates of a channel are kept: a year is gone through more than once. Of a longer time the dates
#: are gone, whatever is kept, when it is gone through again.
KEPT_DATES, KEPT_OF_MORE = 400, 128

#: Later dates have no changes of clocks: the calendar of Python ends too near.
LAST_DATE_OF_CLOCKS = dt.date(dt.MAXYEAR - 1, 12, 1)

_DAY = dt.timedelta(days=1)

#: Days ago to which light of a date can belong: a day may begin late in the evening, or before midnight.
NEIGHBOURS = (2, 1, 0, -1)


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a controller's day that is one stretch of a plan date.

    ``start_s`` to ``stop_s`` are what the plan's clock shows, ``shift_s`` is added to get seconds of
    the controller's day [s]; ``unix_s`` is the instant of its start.
    """

    date: dt.date
    start_s: int
    stop_s: int
    shift_s: int
    unix_s: int

    @property
    def begin_s(self) -> int:
        """Where it begins. [s of the controller's day]"""
        return self.start_s + self.shift_s

    @property
    def end_s(self) -> int:
        """Where it ends. [s of the controller's day]"""
        return self.stop_s + self.shift_s


def clock_of(schedule: Schedule, kind: ClockKind) -> Clock:
    """Return a clock of the place; UTC where there is no place."""
    if kind == ClockKind.UTC or schedule.place is None:
        return Clock.utc()
    zone = schedule.place.time_zone
    return Clock.civil(zone) if kind == ClockKind.CIVIL else Clock.standard(zone)


class DayCurves:
    """The curves of a schedule, date by date."""

    def __init__(self, schedule: Schedule) -> None:
        self.schedule = schedule
        self.follows_sky = schedule.follows_sky
        self.has_one_clock = schedule.has_one_clock
        self._by_sky = {id for id, c in schedule.channels.items() if c.follows_sky}
        self._skies: dict[int, Almanac] = {}
        self._signals_by_clock: dict[str, tuple[Signal, ...]] = {}
        self._signals: dict[tuple[str, dt.date], tuple[Signal, ...] | DayFault] = {}
        self._curves: dict[dt.date, dict[str, Curve]] = {}
        self._kept_dates = KEPT_DATES

    @functools.cached_property
    def by_clock(self) -> dict[str, Curve]:
        """The curves of the channels that do the same on every date of the plan's clock."""
        return {
            id: Curve(_repeating(self._by_clock_of(channel)))
            for id, channel in self.schedule.channels.items()
            if id not in self._by_sky
        }

    def _by_clock_of(self, channel: Channel) -> tuple[Signal, ...]:
        if channel.id not in self._signals_by_clock:
            self._signals_by_clock[channel.id] = self.signals_by_clock(channel)
        return self._signals_by_clock[channel.id]

    def signals_by_clock(self, channel: Channel) -> tuple[Signal, ...]:
        """Return the light of a channel that does the same on every date, from midnight on.

        Raises
        ------
        DayFault
            If its day breaks a rule.
        """
        return signals_by_clock(channel)

    def signals_on(self, channel: Channel, date: dt.date) -> tuple[Signal, ...]:
        """Return the light of a channel that belongs to a plan date, from its midnight on.

        Raises
        ------
        DayFault
            If its day can't be built on that date.
        """
        return signals_on(channel, self.sky_on(date), date)

    def keep_for(self, dates: int) -> None:
        """Keep as many dates as help where so many are gone through, more than once."""
        self._kept_dates = KEPT_DATES if dates <= KEPT_DATES else KEPT_OF_MORE

    def share_skies(self, other: DayCurves) -> None:
        """Use the skies of other days of the same place: they are worked out once."""
        self._skies = other._skies

    @functools.cached_property
    def plan_clock(self) -> Clock:
        """What the times of the plan mean."""
        place, spread = self.schedule.place, self.schedule.spread_minutes
        if spread is not None and place is not None:
            return Clock.spread(place.time_zone, spread)
        return clock_of(self.schedule, self.schedule.plan_clock)

    @functools.cached_property
    def controller_clock(self) -> Clock:
        """The clock of the controller."""
        return clock_of(self.schedule, self.schedule.controller.clock)

    def sky_on(self, date: dt.date) -> Almanac:
        """Return the sky that the plan follows on one of its dates: that of the place, or the borrowed one.

        Its libraries are imported here, because most schedules never ask for it.
        """
        from photoperiod.sky.almanac import Almanac
        from photoperiod.sky.moon import Moon
        from photoperiod.sky.sun import Sun

        place = self.schedule.place
        assert place is not None
        borrowed = self.schedule.sky
        if borrowed is None:
            latitude, longitude, share = place.latitude_deg, place.longitude_deg, 1.0
        else:
            latitude, longitude = borrowed.latitude_deg, borrowed.longitude_deg
            share = borrowed.season_share
        shift_s = self._shift_s(longitude, date)
        if shift_s not in self._skies:
            self._skies[shift_s] = Almanac(
                sun=Sun(latitude, longitude, share),
                moon=Moon(latitude, longitude),
                clock=self.plan_clock,
                shift_s=shift_s,
            )
        return self._skies[shift_s]

    def shift_s(self, date: dt.date) -> int:
        """Return how far the plan's clock is ahead of the controller's at the noon of a date. [s]"""
        noon_unix_s = self.controller_clock.unix_of(date, SECONDS_PER_DAY // 2)
        return self.plan_clock.offset_s(noon_unix_s) - self.controller_clock.offset_s(noon_unix_s)

    def _shift_s(self, longitude_deg: float, date: dt.date) -> int:
        """Return how much later than there everything happens here on a plan date. [s]

        It brings the mean noon of a longitude to the time that was asked for, by at most half a day; where
        the place changes its base, noon moves with it.
        """
        borrowed = self.schedule.sky
        if borrowed is None or borrowed.noon_s is None:
            return 0
        is_utc = self.schedule.plan_clock == ClockKind.UTC
        clock = clock_of(self.schedule, ClockKind.UTC if is_utc else ClockKind.STANDARD)
        usual_s = clock.offset_s(REFERENCE_UNIX_S)
        noon_utc_s = borrowed.noon_s - usual_s
        from photoperiod.sky.sun import SECONDS_PER_DEGREE

        mean_noon_utc_s = 12 * SECONDS_PER_HOUR - round(longitude_deg * SECONDS_PER_DEGREE)
        half = SECONDS_PER_DAY // 2
        shift_s = (noon_utc_s - mean_noon_utc_s + half) % SECONDS_PER_DAY - half
        return shift_s - (clock.offset_s(self.plan_clock.unix_of(date, half)) - usual_s)

    def days_on(self, date: dt.date | None) -> DayCurves:
        """Return the days to which a date belongs: all of them changed as this one is."""
        return self

    def alike_until(self, date: dt.date) -> dt.date:
        """Return the last date before something is changed that was not on this date."""
        return dt.date.max

    def acclimated(self, date: dt.date) -> frozenset[str]:
        """Return the channels that are acclimated on a date, by id."""
        return frozenset()

    def curves(self, date: dt.date | None) -> dict[str, Curve]:
        """Return what every channel is wanted to give through a date of the controller's clock.

        Raises
        ------
        DayFault
            If a day can't be built on that date.
        """
        if date is None or (not self.follows_sky and self.has_one_clock):
            return dict(self.by_clock)
        if date not in self._curves:
            if len(self._curves) >= self._kept_dates:
                self._curves.clear()
            self._curves[date] = self._curves_on(date)
        return dict(self._curves[date])

    def _curves_on(self, date: dt.date) -> dict[str, Curve]:
        """Return the curves of a date, where not all dates are alike."""
        self._refuse_unknown(date)
        channels = self.schedule.channels
        pieces = self.pieces(date)
        found: dict[str, Curve] = {}
        faults: list[Diagnostic] = []
        for id, channel in channels.items():
            try:
                found[id] = Curve(tuple(self._slices(channel, pieces)))
            except DayFault as fault:
                faults += [each for each in fault.diagnostics if each not in faults]
        if faults:
            raise DayFault(faults)
        return found

    def _slices(self, channel: Channel, pieces: list[Piece]) -> list[Slice]:
        return [
            Slice(signal, start, start + piece.stop_s - piece.start_s, shift)
            for piece in pieces
            for signal, start, shift in self._signals_in(channel, piece)
            if signal.raw_integral(start, start + piece.stop_s - piece.start_s) > 0
        ]

    def _signals_in(self, channel: Channel, piece: Piece) -> Iterator[tuple[Signal, int, int]]:
        """Return what may shine in a piece, where the piece begins in its seconds, and their shift.

        A plan by the clock counts in what the clock shows, so that a time that comes twice gives the
        same light twice; one that follows the sky in seconds that pass.
        """
        if channel.id not in self._by_sky:
            for back_s in (0, SECONDS_PER_DAY):
                for signal in self._by_clock_of(channel):
                    yield signal, piece.start_s + back_s, piece.shift_s - back_s
            return
        for days_ago in NEIGHBOURS:
            date = piece.date - days_ago * _DAY
            start = piece.unix_s - self.sky_on(date).midnight(date)
            for signal in self._signals_of(channel, date, is_own=days_ago == 0):
                yield signal, start, piece.start_s + piece.shift_s - start

    def _refuse_unknown(self, date: dt.date) -> None:
        """Raise DayFault for a date whose sky is not known."""
        if not self.follows_sky:
            return

        from photoperiod.sky.moon import FIRST_YEAR, LAST_YEAR

        if not FIRST_YEAR < date.year < LAST_YEAR:
            raise DayFault([
                Diagnostic(
                    code="PHO802", path=("place",), on_key=True,
                    message=f"the sky of {date} is not known",
                    help=f"choose dates from {FIRST_YEAR + 1} to {LAST_YEAR - 1}",
                )
            ])  # fmt: skip

    def _signals_of(self, channel: Channel, date: dt.date, *, is_own: bool) -> tuple[Signal, ...]:
        """Return what belongs to a plan date and follows the sky.

        A date that only reaches into the one that is asked for counts as dark if it can't be built: it
        has an error of its own once it is asked for.
        """
        key = channel.id, date
        if key not in self._signals:
            if len(self._signals) > self._kept_dates * len(self.schedule.channels):
                self._signals.clear()
            try:
                self._signals[key] = self.signals_on(channel, date)
            except DayFault as fault:
                self._signals[key] = fault
        found = self._signals[key]
        if not isinstance(found, DayFault):
            return found
        if is_own:
            raise found
        return ()

    def pieces(self, date: dt.date) -> list[Piece]:
        """Return a date of the controller's clock as stretches of plan dates, from 0 to 86,400 s.

        Where the controller's clock is set back, what comes second counts; where it is set forward the
        plan goes on through the times that never come: onward from what was before them, and backward
        from the first light of the date where midnight itself never comes.
        """
        found: list[Piece] = []
        for piece in self.passing_pieces(date):
            second = piece.begin_s
            if found and second < found[-1].end_s:
                found = _cut(found, second)
            elif found and second > found[-1].end_s:
                last = found[-1]
                found[-1] = replace(last, stop_s=last.stop_s + second - last.end_s)
            elif not found and second > 0:
                found = _before(piece)
                piece = found.pop()
            found.append(piece)
        return [piece for piece in found if piece.stop_s > piece.start_s]

    def passing_pieces(self, date: dt.date) -> list[Piece]:
        """Return what really passes on a date of the controller's clock, as stretches of plan dates.

        In the order in which they pass: where the clock is set back they overlap, where it is set forward
        there is a gap.
        """
        plan, controller = self.plan_clock, self.controller_clock
        begin, end = controller.day_bounds(date)
        cuts = {begin, end}
        for clock in (plan, controller):
            cuts |= {change.at_unix_s for change in clock.changes(begin, end)}
        day = plan.wall_of(begin)[0]
        while plan.day_bounds(day)[0] < end:
            cuts.add(max(plan.day_bounds(day)[0], begin))
            day += _DAY
        found = []
        for start, stop in itertools.pairwise(sorted(cuts)):
            second = controller.wall_of(start)[1]
            plan_date, plan_second = plan.wall_of(start)
            stop_s = plan_second + stop - start
            found.append(Piece(plan_date, plan_second, stop_s, second - plan_second, start))
        return found

    def changes_controller_clock(self, date: dt.date) -> bool:
        """Return whether the controller's clock changes on a date."""
        if date > LAST_DATE_OF_CLOCKS:
            return False
        return bool(self.controller_clock.changes(*self.controller_clock.day_bounds(date)))

    def passing_spans(
        self, first: dt.date, last: dt.date
    ) -> dict[dt.date, tuple[tuple[int, int], ...]]:
        """Return what passes of the dates on which the controller's clock changes, as stretches. [s]"""
        clock = self.controller_clock
        changes = [
            each.at_unix_s for name, each in self.clock_changes(first, last) if name == "controller"
        ]
        # A change at midnight belongs to the date that it begins.
        dates = {clock.wall_of(at_unix_s - before)[0] for at_unix_s in changes for before in (0, 1)}
        return {
            date: tuple(clock.passing_spans(date))
            for date in sorted(dates)
            if first <= date <= last and self.changes_controller_clock(date)
        }

    def passing(self, date: dt.date | None) -> PassingDay | None:
        """Return what really passes on a date on which the controller's clock changes; None on others.

        Raises
        ------
        DayFault
            If a day can't be built on that date.
        """
        if date is None or not self.changes_controller_clock(date):
            return None
        pieces = self.passing_pieces(date)
        return PassingDay(
            spans=tuple((piece.begin_s, piece.end_s) for piece in pieces),
            curves={
                id: tuple(Curve(tuple(self._slices(channel, [piece]))) for piece in pieces)
                for id, channel in self.schedule.channels.items()
            },
        )

    def moons(self) -> list[str]:
        """Return the channels with a moon by phase."""
        return [id for id, channel in self.schedule.channels.items() if channel.follows_moon]

    def set_back(self, first: dt.date, last: dt.date) -> list[tuple[dt.date, str, float]]:
        """Return how far light is off where the controller's clock is set back.

        Of each such time and each channel: the date, the channel, and the largest difference of the
        light wanted the first time from that of the second, which the table gives both times.
        """
        found = []
        for name, change in self.clock_changes(first, last):
            back_s = change.before_s - change.after_s
            if name != "controller" or back_s <= 0:
                continue
            date = self.controller_clock.wall_of(change.at_unix_s)[0]
            first_time = np.arange(change.at_unix_s - back_s, change.at_unix_s, 60)
            for id, channel in self.schedule.channels.items():
                light = self._light_at(channel, first_time)
                again = self._light_at(channel, first_time + back_s)
                found.append((date, id, float(np.abs(light - again).max())))
        return found

    def _light_at(self, channel: Channel, unix_s: Ints) -> Floats:
        """Return the light wanted of a channel at some instants."""
        light = np.zeros(unix_s.size)
        for index, unix in enumerate(unix_s.tolist()):
            date, second = self.plan_clock.wall_of(unix)
            here = Piece(date, second, second + 1, 0, unix)
            for signal, start, _ in self._signals_in(channel, here):
                light[index] = max(light[index], float(signal.raw(np.array([float(start)]))[0]))
        return light

    def clock_changes(self, first: dt.date, last: dt.date) -> list[tuple[str, ClockChange]]:
        """Return when the plan's and the controller's clock change within some dates."""
        last = min(last, LAST_DATE_OF_CLOCKS)
        if last < first:
            return []
        begin = self.controller_clock.day_bounds(first)[0]
        end = self.controller_clock.day_bounds(last)[1]
        found = [("controller", c) for c in self.controller_clock.changes(begin, end)]
        found += [("plan", c) for c in self.plan_clock.changes(begin, end)]
        return sorted(found, key=lambda each: (each[1].at_unix_s, each[0]))


def _repeating(signals: tuple[Signal, ...]) -> tuple[Profile | Slice, ...]:
    """Return signals that repeat every day as parts of a curve."""
    parts: list[Profile | Slice] = []
    for signal in signals:
        if isinstance(signal, Profile):
            parts.append(signal)
            continue
        for begin in (0, SECONDS_PER_DAY):
            if signal.raw_integral(begin, begin + SECONDS_PER_DAY) > 0:
                parts.append(Slice(signal, begin, begin + SECONDS_PER_DAY, -begin))
    return tuple(parts)


def _cut(pieces: list[Piece], second: int) -> list[Piece]:
    """Return pieces of which nothing is left at or after a second of the controller's day."""
    return [
        replace(piece, stop_s=piece.stop_s - max(piece.end_s - second, 0))
        for piece in pieces
        if piece.begin_s < second
    ]


def _before(first: Piece) -> list[Piece]:
    """Return the first piece of a date whose midnight never comes, prolonged backward to 0 s.

    What of it lies before the midnight of the plan is a piece of the plan date before.
    """
    own_s = min(first.begin_s, first.start_s)
    longer = replace(first, start_s=first.start_s - own_s, unix_s=first.unix_s - own_s)
    rest_s = longer.begin_s
    if not rest_s:
        return [longer]
    earlier = Piece(
        first.date - _DAY,
        SECONDS_PER_DAY - rest_s,
        SECONDS_PER_DAY,
        first.shift_s - SECONDS_PER_DAY,
        longer.unix_s - rest_s,
    )
    return [earlier, longer]
