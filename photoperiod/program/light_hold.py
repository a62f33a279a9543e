"""Light that is held while tubes fade: by how much the levels of a channel are raised on which dates.

A channel that is held gives its plan times a factor. The factor stays while the dose is within a
tolerance of the plan, so that there are few loads. Then it is set so that the dose is the plan's again,
never above it; so is that of other channels that have used half of their tolerance. It can't rise over
what brings the peak of the plan to the top of the output: from then on the light falls.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from photoperiod.curves.curve import day_seconds
from photoperiod.program.day_fit import FittedChannel, fit_day
from photoperiod.program.day_types import DayType
from photoperiod.program.followed_tubes import FollowedTubes
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.setpoints.fit import Target

#: Doses that differ by this share are the same.
SLACK = 1e-9

#: A factor that could rise by no more than this share, because the top is near, is not worth a load. Our
#: choice, no source.
LEAST_RAISE = 0.005

#: Where one channel needs another table, those that have used this share of their tolerance get theirs,
#: too: one load for all. Our choice, no source.
NEAR_SHARE = 0.5


class LightHold:
    """The factors of the channels that are held, from date to date.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    tubes : FollowedTubes
        Its tubes; the ledger that they come from holds the factors of the day before.
    """

    def __init__(self, schedule: Schedule, tubes: FollowedTubes) -> None:
        self.schedule, self.tubes = schedule, tubes
        self.channels = {
            id: channel
            for id, channel in schedule.channels.items()
            if channel.held_within is not None
        }
        known = tubes.ledger.held
        self.factors = {id: known[id] for id in self.channels if id in known}
        self._made: dict[tuple[DayType, tuple[float, ...]], DayType] = {}

    def on(self, date: dt.date, base: DayType) -> DayType:
        """Return the day type of a date with the light held; dates are asked for in order.

        Parameters
        ----------
        date : date
            The date, which begins with the tubes as they are.
        base : DayType
            The day as it would be without holding the light.
        """
        if not self.channels:
            return base
        best = {id: self._best(date, base, channel) for id, channel in self.channels.items()}
        must = [id for id in best if self._is_due(date, base, id, best[id])]
        if must:
            near = (id for id in best if self._is_due(date, base, id, best[id], NEAR_SHARE))
            self.factors |= {id: best[id] for id in {*must, *near}}
        return self._held(date, base)

    def until(self, date: dt.date, stop: dt.date, day_type: DayType) -> dt.date:
        """Return the last date, up to ``stop``, before a dose leaves its tolerance."""
        for id, channel in self.channels.items():
            pattern = day_type.patterns[id]

            def keeps(days: int, channel: Channel = channel, lit_s: int = pattern.lit_s) -> bool:
                after = self.tubes.brightness_after(channel, date, days, lit_s)
                return self._is_kept(channel, after)

            if keeps(1):
                stop = date + dt.timedelta(days=_last(keeps, (stop - date).days + 1) - 1)
        return stop

    def short(self, date: dt.date) -> frozenset[str]:
        """Return the channels whose dose is below its tolerance as the tubes are now, by id.

        What parts that are out take of the light is another matter: levels do not make up for it.
        """
        return frozenset(
            id
            for id, channel in self.channels.items()
            if not self._is_kept(channel, self.tubes.brightness_after(channel, date, 0, 0))
        )

    def _is_kept(self, channel: Channel, brightness: float, share: float = 1.0) -> bool:
        least = 1 - (channel.held_within or 0.0) * share
        return self.factors[channel.id] * brightness >= least - SLACK

    def _best(self, date: dt.date, base: DayType, channel: Channel) -> float:
        """Return the factor that brings the dose of a channel to its plan's, as far as it can rise."""
        return min(1 / self.tubes.brightest(channel, date), _most(date, base, channel))

    def _is_due(
        self, date: dt.date, base: DayType, id: str, best: float, share: float = 1.0
    ) -> bool:
        """Return whether a channel needs its best factor, at some share of its tolerance."""
        channel, known = self.channels[id], self.factors.get(id)
        if known is None or known > best * (1 + SLACK):
            return True
        # Tables of a factor differ in when they are lit by minutes at most: the plan's will do here.
        lit_s = base.patterns[id].lit_s
        after = self.tubes.brightness_after(channel, date, 1, lit_s)
        return best >= known * (1 + LEAST_RAISE) and not self._is_kept(channel, after, share)

    def _held(self, date: dt.date, base: DayType) -> DayType:
        key = base, tuple(self.factors[id] for id in self.channels)
        if key not in self._made:
            self._made[key] = _held_type(date, base, dict(self.factors), self._like(base))
        return self._made[key]

    def _like(self, base: DayType) -> DayType:
        """Return the last day type that was made of a day: most of its tables can be used again."""
        found = [made for (of, _), made in self._made.items() if of is base]
        return found[-1] if found else base


def _most(date: dt.date, base: DayType, channel: Channel) -> float:
    """Return the factor that brings the peak of a channel to the top of its output, at least 1.

    On a dark day any factor will do: it stays what the tubes ask for.
    """
    peak = base.curves_on(date)[channel.id].most_light
    return max(base.targets[channel.id].path.most_light / peak, 1.0) if peak > 0 else math.inf


def _last(keeps: Callable[[int], bool], days: int) -> int:
    """Return the largest number of days, from 1 up, for which something stays true that begins true."""
    low, high = 1, days
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if keeps(middle) else (low, middle - 1)
    return low


def _held_type(
    date: dt.date, base: DayType, factors: Mapping[str, float], like: DayType
) -> DayType:
    """Return a day type with the light of some channels times a factor.

    Tables of channels that have their factor in ``like`` already are taken from there, but for those kept
    below their plans for a zone: whether that zone needs it hangs on all factors, and is asked anew.
    """
    schedule = base.schedule
    targets = {
        id: _target(date, base, schedule.channels[id], factors[id]) if id in factors else target
        for id, target in base.targets.items()
    }
    targets = {
        id: target if target.may_exceed else replace(target, may_exceed=True)
        for id, target in targets.items()
    }
    known = {
        id: FittedChannel(targets[id], like.fits[id])
        for id in targets
        if factors.get(id, 1.0) == like.held.get(id, 1.0) and not like.fits[id].kept_for
    }
    fitted = fit_day(schedule, targets, known, {id: 1 / each for id, each in factors.items()})
    made = {id: each.target for id, each in fitted.items()}
    fits = {id: each.fit for id, each in fitted.items()}
    return DayType(schedule, base.curves_on, lambda: made, fits, base.season, held=factors)


def _target(date: dt.date, base: DayType, channel: Channel, factor: float) -> Target:
    """Return the target of a channel whose wanted light is multiplied by a factor."""
    target = base.targets[channel.id]
    wanted = base.curves_on(date)[channel.id].light(day_seconds()) * factor
    reachable = channel.ballast.curve.reachable(wanted, target.path.most_light)
    return replace(target, reachable=reachable)
