"""The tubes of a schedule, followed from date to date: what they have burned, owe and give."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence

from photoperiod.drive.depreciation import mean_light
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.model import TubeUse
from photoperiod.program.part_losses import PartLosses
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.schedule.tube import Tube
from photoperiod.schedule.tube_places import Measured, left_at, measured, stood_on, worn_light
from photoperiod.tubes.hours import LedgerState, Pattern, TubeHours
from photoperiod.units import SECONDS_PER_HOUR

_DAY = dt.timedelta(days=1)


class FollowedTubes:
    """The hours of all tubes, run over dates in order.

    Parameters
    ----------
    sequence : DaySequence
        Which day type holds when.
    span : DateSpan
        The dates for which tables are wanted.
    ledger : LedgerState
        What is known as the first date begins; tubes that it does not hold are followed from their
        fitting on.
    """

    def __init__(self, sequence: DaySequence, span: DateSpan, ledger: LedgerState) -> None:
        self.sequence, self.span, self.ledger = sequence, span, ledger
        self.schedule: Schedule = sequence.schedule
        #: When tubes leave their place; those that stay are not in it.
        self.left = left_at(self.schedule)
        self.losses = PartLosses(self.schedule)
        self.hours: dict[str, TubeHours] = {}
        self._when_measured: dict[str, float] = {}
        for tube in self.schedule.tubes.values():
            known = ledger.tubes.get(tube.id)
            if known:
                self.hours[tube.id] = TubeHours(known.lit_hours, known.owed_hours)
            else:
                self.hours[tube.id] = TubeHours(tube.lit_hours, tube.burn_in_full_hours)

    @property
    def begin(self) -> dt.date:
        """The date from which tubes are followed: the first fitting before the span, or its start.

        One that leaves as the span begins is followed, too: its light counts on that date.
        """
        fitted = [
            tube.fitted.date()
            for channel in self.schedule.channels.values()
            for line in channel.places
            for tube in stood_on(line, self.span.first)
            if tube.fitted and tube.id not in self.ledger.tubes
        ]
        return min([*fitted, self.span.first])

    def forget_dates(self) -> None:
        """Begin to count anew with what is burned and owed by now: reports are on the span alone."""
        for id, hours in self.hours.items():
            self.hours[id] = TubeHours(hours.lit_hours, hours.owed_hours)

    def run(self, first: dt.date, last: dt.date, patterns: Mapping[str, Pattern]) -> None:
        """Add days on which each channel does the same; ``patterns`` are by channel."""
        dates = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
        passing = self.sequence.days.passing_spans(first, last)
        for id, channel in self.schedule.channels.items():
            for tube in channel.tubes:
                if tube.fitted is None and not self._is_in(tube, first):
                    continue
                if self.losses.is_out(channel, tube.id, first):
                    continue
                self.hours[tube.id].run(
                    dates, patterns[id], tube.fitted, self.left.get(tube.id), passing
                )

    def uses(self) -> dict[str, TubeUse]:
        """Return what became of each tube that stands in a channel on some date, or will."""
        return {
            tube.id: TubeUse(
                tube=tube,
                channel=channel.id,
                hours=self.hours[tube.id],
                is_fitted=tube.fitted is None or tube.fitted.date() <= self.span.last,
            )
            for channel in self.schedule.channels.values()
            for tube in channel.tubes
            if not self._is_gone(tube, self.span.first)
        }

    # What they owe --------------------------------------------------------------------------------

    def owed_hours(self, date: dt.date) -> dict[str, float]:
        """Return how much the tubes of each channel owe at most, of channels that owe. [h]"""
        owed = {id: self._owed(channel, date) for id, channel in self.schedule.channels.items()}
        return {id: hours for id, hours in owed.items() if hours > 0}

    def _owed(self, channel: Channel, date: dt.date) -> float:
        return max(
            (
                self.hours[tube.id].owed_hours
                for tube in channel.tubes
                if self._burns_on(channel, tube, date)
            ),
            default=0.0,
        )

    def is_new(self, channels: Iterable[str], date: dt.date) -> bool:
        """Return whether a date is the first on which some tube that owes burns."""
        tubes = [
            (self.schedule.channels[id], tube)
            for id in channels
            for tube in self.schedule.channels[id].tubes
            if self.hours[tube.id].owed_hours > 0
        ]
        return any(
            self._burns_on(channel, tube, date)
            and (date == dt.date.min or not self._burns_on(channel, tube, date - _DAY))
            for channel, tube in tubes
        )

    def _burns_on(self, channel: Channel, tube: Tube, date: dt.date) -> bool:
        """Return whether a tube has any light to give on a date: one fitted at night has none."""
        if tube.fitted is None or tube.fitted.date() != date:
            return self._is_in(tube, date)
        since = tube.fitted.hour * 3600 + tube.fitted.minute * 60 + tube.fitted.second
        return bool(self.sequence.on(date).fits[channel.id].replay.lit[since:].any())

    def _is_in(self, tube: Tube, date: dt.date) -> bool:
        """Return whether a tube stands in its channel at some time of a date."""
        if self._is_gone(tube, date):
            return False
        if tube.fitted is None:
            return tube.id in self.ledger.tubes or date >= self.span.first
        return tube.fitted.date() <= date

    def _is_gone(self, tube: Tube, date: dt.date) -> bool:
        """Return whether a tube has left its place before a date begins."""
        left = self.left.get(tube.id)
        return left is not None and left <= dt.datetime.combine(date, dt.time())

    # What they give -------------------------------------------------------------------------------

    def brightness(self, date: dt.date) -> dict[str, float]:
        """Return light at full as a date begins, beside that when PPFD was measured. [ratio]"""
        return {
            channel.id: self._light_of(channel, date)
            * self.losses.left_of(channel, date)
            / self._light_when_measured(channel)
            for channel in self.schedule.channels.values()
        }

    def brightest(self, channel: Channel, date: dt.date) -> float:
        """Return the most light at full that a channel gives from a date on, until a tube is replaced.

        Beside that when PPFD was measured. [ratio]
        """

        def hours(tube: Tube) -> float:
            at_h = 0.0 if tube.depreciation is None else tube.depreciation.brightest_at_h
            return max(self.hours[tube.id].lit_hours, at_h)

        return self._light_of(channel, date, hours) / self._light_when_measured(channel)

    def brightness_after(
        self, channel: Channel, date: dt.date, days: int, lit_s_per_day: int
    ) -> float:
        """Return light at full of a channel after some days from a date on, all alike.

        Its tubes stay. Beside that when PPFD was measured. [ratio]
        """
        more = days * lit_s_per_day / SECONDS_PER_HOUR
        light = self._light_of(channel, date, lambda tube: self.hours[tube.id].lit_hours + more)
        return light / self._light_when_measured(channel)

    def rises(self, date: dt.date) -> bool:
        """Return whether some tube may still grow brighter on a date."""
        return any(
            tube.depreciation is not None
            and self._is_in(tube, date)
            and self.hours[tube.id].lit_hours < tube.depreciation.brightest_at_h
            for tube in self.schedule.tubes.values()
        )

    def until_next_fitting(self, date: dt.date, last: dt.date) -> dt.date:
        """Return the last date, up to ``last``, before another tube comes or goes; ``date`` at least.

        A tube that is fitted on ``date`` itself may burn from the next date on: it is a date alone.
        """
        fitted = [tube.fitted for tube in self.schedule.tubes.values() if tube.fitted]
        for moment in (*fitted, *self.left.values()):
            if moment.date() >= date:
                last = min(last, max(moment.date() - _DAY, date))
        turns = [turn - _DAY for turn in self.losses.turns() if turn > date]
        return min([last, *turns])

    def _light_of(
        self, channel: Channel, date: dt.date, lit_hours: Callable[[Tube], float] | None = None
    ) -> float:
        """Return the light of the tubes that stand in a channel on a date, beside the declared.

        On the date of a change the brighter of the two counts. Their hours are those of now, or what
        ``lit_hours`` tells. [ratio]
        """
        hours_of = lit_hours or (lambda tube: self.hours[tube.id].lit_hours)
        lights = []
        for line in channel.places:
            there = stood_on(line, date)
            hours = [(tube, hours_of(tube)) for tube in there]
            if not there:  # what stood before the first is not told
                light = worn_light(line)
            elif self._is_in_one(there, date):
                light = max(_light(line, tube, each) for tube, each in hours)
            else:
                light = None
            lights.append(light)
        if all(light is None for light in lights):
            lights = [_light(line, line[0], hours_of(line[0])) for line in channel.places]
        return _mean(channel, lights)

    def _is_in_one(self, tubes: Iterable[Tube], date: dt.date) -> bool:
        """Return whether some of the tubes is followed on a date, or stands there worn out."""
        return any(tube.fitted is not None or self._is_in(tube, date) for tube in tubes)

    def _light_when_measured(self, channel: Channel) -> float:
        """Return the same for the date on which PPFD was measured.

        A tube that is not told is taken as worn out. Where no loss is declared the others stand for
        it; if there are none, PPFD counts as measured with tubes as declared (a limit of such a zone is
        not shown to be kept). On the date of a change the darker of the two counts. [ratio]
        """
        if channel.id not in self._when_measured:
            self._when_measured[channel.id] = self._find_light_when_measured(channel)
        return self._when_measured[channel.id]

    def _find_light_when_measured(self, channel: Channel) -> float:
        date = channel.measured_on
        lights: list[float | None] = []
        for line in channel.places:
            there = () if date is None else stood_on(line, date)
            if there and date:
                lights.append(min(_light(line, t, self._hours_on(channel, t, date)) for t in there))
            else:
                is_assumed = measured(channel, line) is Measured.ASSUMED
                lights.append(worn_light(line) if is_assumed else None)
        return _mean(channel, lights)

    def _hours_on(self, channel: Channel, tube: Tube, date: dt.date) -> float:
        """Return the lit hours of a tube on the date of a measurement. [h]"""
        if tube.fitted is None:
            return tube.lit_hours
        days = (date - tube.fitted.date()).days
        daily_h = self._daily_hours(channel, date) if tube.depreciation and days else 0.0
        return tube.lit_hours + daily_h * days

    def _daily_hours(self, channel: Channel, date: dt.date) -> float:
        """Return for how long a channel is lit on a date, whatever the span is. [h]"""
        pattern = self.sequence.typical(date).patterns[channel.id]
        return pattern.lit_s / SECONDS_PER_HOUR


def _light(line: Sequence[Tube], tube: Tube, lit_hours: float) -> float:
    """Return the light of a tube, beside the declared light of the last tube of its place. [ratio]"""
    light = 1.0 if tube.depreciation is None else tube.depreciation.light_at(lit_hours)
    return light * (tube.light_share / line[-1].light_share)


def _mean(channel: Channel, lights: Sequence[float | None]) -> float:
    """Return the light of the places of a channel together; 1 if none is known. [ratio]"""
    known = [
        (light, line[-1].light_share)
        for light, line in zip(lights, channel.places, strict=True)
        if light is not None
    ]
    return mean_light(*zip(*known, strict=True)) if known else 1.0
