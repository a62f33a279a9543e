"""Day curves of channels that are dark, moved, dimmed or shortened on some dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

from photoperiod.curves.altered import (
    Shortened,
    dimmed,
    lit_length_s,
    moved,
    plateau_light,
    within_day,
)
from photoperiod.curves.curve import Profile, Signal
from photoperiod.days.day_curves import DayCurves
from photoperiod.days.signals import signals_by_clock, signals_on
from photoperiod.schedule.model import Channel, Schedule


@dataclass(frozen=True, slots=True)
class Scale:
    """How a channel's day is made smaller; 1 leaves it as it is.

    From 1 down peaks get dimmer, until the lowest plateau stands at the floor of the ballast. From there
    on the day gets shorter about its middle, in proportion to what is left.
    """

    part: float = 1.0

    def of(self, signal: Signal, floor_light: float) -> Signal:
        """Return a day made smaller; ``floor_light`` is the least of its ballast. [fraction of full]"""
        if self.part >= 1.0:
            return signal
        plateau = plateau_light(signal)
        least = min(floor_light / plateau, 1.0) if plateau > 0 else 1.0
        whole = dimmed(signal, max(self.part, least)) if least < 1.0 else signal
        if self.part >= least:
            return whole
        cut_s = round((1.0 - self.part / least) * lit_length_s(signal) / 2)
        return Shortened(whole, cut_s) if cut_s else whole


@dataclass(frozen=True, slots=True)
class Alteration:
    """What becomes of a channel's light: in this order moved [s], darkened, made smaller."""

    moved_s: int = 0
    is_dark: bool = False
    is_dark_at_night: bool = False
    scale: Scale = Scale()


class AlteredDays(DayCurves):
    """The curves of a schedule some of whose channels do other things, date by date.

    Parameters
    ----------
    schedule : Schedule
        The schedule; its own changes play no part.
    alterations : mapping of channel to Alteration
        What becomes of the light of these channels.
    """

    def __init__(self, schedule: Schedule, alterations: Mapping[str, Alteration]) -> None:
        super().__init__(schedule)
        self.alterations = alterations

    def signals_by_clock(self, channel: Channel) -> tuple[Signal, ...]:
        """Return the light of a channel that does the same on every date, from midnight on."""
        alteration = self.alterations.get(channel.id)
        if alteration is None:
            return super().signals_by_clock(channel)
        day, moonlight = (signals_by_clock(part) for part in _parts(channel))
        return tuple(
            _shifted(signal, alteration.moved_s)
            for signal in self._altered(channel, alteration, day, moonlight)
        )

    def signals_on(self, channel: Channel, date: dt.date) -> tuple[Signal, ...]:
        """Return the light of a channel that belongs to a plan date, from its midnight on."""
        alteration = self.alterations.get(channel.id)
        if alteration is None:
            return super().signals_on(channel, date)
        sky = self.sky_on(date)
        day, moonlight = (signals_on(part, sky, date) for part in _parts(channel))
        return tuple(
            _later(signal, alteration.moved_s)
            for signal in self._altered(channel, alteration, day, moonlight)
        )

    def _altered(
        self,
        channel: Channel,
        alteration: Alteration,
        day: tuple[Signal, ...],
        moonlight: tuple[Signal, ...],
    ) -> tuple[Signal, ...]:
        """Return what is left of the day and the moonlight of a channel."""
        floor = channel.ballast.curve.floor_light
        return (
            *(() if alteration.is_dark else (alteration.scale.of(each, floor) for each in day)),
            *(() if alteration.is_dark_at_night else moonlight),
        )


def _parts(channel: Channel) -> tuple[Channel, Channel]:
    """Return a channel with its day alone, and with its moonlight alone."""
    return replace(channel, moonlight=None), replace(channel, day=None)


def _later(signal: Signal, seconds: int) -> Signal:
    if not seconds:
        return signal
    if isinstance(signal, Shortened):
        return replace(signal, signal=moved(signal.signal, seconds))
    return moved(signal, seconds)


def _shifted(signal: Signal, seconds: int) -> Signal:
    """Return a signal that repeats every day, moved by some seconds."""
    found = _later(signal, seconds)
    if isinstance(found, Profile):
        return within_day(found)
    if isinstance(found, Shortened) and isinstance(found.signal, Profile):
        return replace(found, signal=within_day(found.signal))
    return found
