"""What is left of a channel's light while a tube or a ballast is out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence

from photoperiod.program.mains_power import BallastsOn
from photoperiod.program.model import ChangedDose, Table
from photoperiod.schedule.changes import BallastThen, PartOut
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.schedule.tube_places import left_at
from photoperiod.units import UMOL_PER_MOL

_DAY = dt.timedelta(days=1)


class PartLosses:
    """The parts of a schedule that are out, by date.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    """

    def __init__(self, schedule: Schedule) -> None:
        self.schedule = schedule
        self.parts = tuple(each for each in schedule.changes if isinstance(each, PartOut))
        #: When tubes leave their place; those that stay are not in it.
        self.left: Mapping[str, dt.datetime] = left_at(schedule) if self.parts else {}

    def on(self, date: dt.date) -> Iterator[PartOut]:
        """Yield the parts that are out on a date, in the order of the file."""
        for part in self.parts:
            last = self.last(part)
            if part.first <= date and (last is None or date <= last):
                yield part

    def last(self, part: PartOut) -> dt.date | None:
        """Return the last date on which a part is out; None if it stays so.

        On the date on which another tube is fitted in its place the new one counts.
        """
        gone = self.left.get(part.tube)
        ends = [part.last] if part.last is not None else []
        if gone is not None and gone.date() > part.first:
            ends.append(gone.date() - _DAY)
        return min(ends, default=None)

    def left_of(self, channel: Channel, date: dt.date) -> float:
        """Return what is left of a channel's light on a date. [fraction]"""
        lost = sum(
            lost_share(channel, part) for part in self.on(date) if part.channel == channel.id
        )
        return max(1.0 - lost, 0.0)

    def ballasts_on(self, date: dt.date) -> dict[str, BallastsOn]:
        """Return the ballasts at work on a date, of the channels of which a part is out.

        A ballast that is out takes nothing; what is known of others stands at `BallastsOn`.
        """
        found = {}
        for id in {part.channel for part in self.on(date)}:
            channel = self.schedule.channels[id]
            out = [part for part in self.on(date) if part.channel == id]
            burning = self.left_of(channel, date) * channel.ballast_count
            stopped = sum(bool(part.tube) and part.ballast is BallastThen.STOPS for part in out)
            gone = sum(part.ballasts for part in out)
            idle = min(stopped, max(channel.ballast_count - burning - gone, 0.0))
            found[id] = BallastsOn(burning, idle)
        return found

    def is_out(self, channel: Channel, tube: str, date: dt.date) -> bool:
        """Return whether a tube surely does not burn on a date: it is out, or all its channel is."""
        return self.left_of(channel, date) == 0.0 or any(
            part.tube == tube for part in self.on(date)
        )

    def doses(self, part: PartOut, table: Table, tables: Sequence[Table]) -> dict[str, ChangedDose]:
        """Return the dose of each zone with a part and without it, on dates on which it is out.

        Other parts that are out on these dates stay out in both. ``tables`` are all of the program.
        """
        assert table.span is not None
        c = table.channels[part.channel]
        left = self.left_of(c.channel, table.span.first)
        back = min(left + lost_share(c.channel, part), 1.0)
        brightness = (
            c.brightness / left if left > 0 else self._brightness_before(c.channel, table, tables)
        )
        whole_s = float(c.replay.light.sum()) * brightness * back
        found = {}
        for id, zone in table.zones.items():
            alone = c.channel.full_ppfd.get(id, 0.0) * whole_s / UMOL_PER_MOL
            mine = c.dli[id].replay if id in c.dli else 0.0
            found[id] = ChangedDose(without=zone.dli.replay - mine + alone, given=zone.dli.replay)
        return found

    def _brightness_before(self, channel: Channel, table: Table, tables: Sequence[Table]) -> float:
        """Return the light at full of a channel of which nothing is left, before that. [ratio]

        It is that of the last date on which something was; 1, as measured, if there is none.
        """
        for each in reversed(tables):
            if each.span is None or table.span is None or each.span.last >= table.span.first:
                continue
            left = self.left_of(channel, each.span.last)
            if left > 0:
                return each.channels[channel.id].brightness_at_end / left
        return 1.0

    def turns(self) -> set[dt.date]:
        """Return the dates on which a part goes out, or is whole again."""
        found = {part.first for part in self.parts}
        lasts = [self.last(part) for part in self.parts]
        return found | {last + _DAY for last in lasts if last is not None and last < dt.date.max}


def lost_share(channel: Channel, part: PartOut) -> float:
    """Return which share of a channel's light is lost with a part. [fraction]

    A ballast that stops takes its share of the ballasts with it; one that goes on, the share of the tube.
    """
    if part.ballasts:
        return min(part.ballasts / channel.ballast_count, 1.0)
    if part.ballast is BallastThen.STOPS:
        return 1.0 / channel.ballast_count
    shares = {tube.id: tube.light_share for line in channel.places for tube in line[-1:]}
    mine = next(line[-1].id for line in channel.places if part.tube in {tube.id for tube in line})
    return shares[mine] / sum(shares.values())
