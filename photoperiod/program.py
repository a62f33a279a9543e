"""A schedule compiled for some dates: the one value that checks, exports and summaries read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photoperiod.light.curves import day_middles, day_seconds
from photoperiod.light.dose import (
    daily_light_integral,
    full_light_hours,
    longest_run_s,
    saturation_hours,
    starts,
    steepest_rise_per_minute,
)
from photoperiod.schedule import Channel, Schedule, Tube, Zone
from photoperiod.table.fit import Fit, Target, fit
from photoperiod.table.path import LightPath
from photoperiod.table.replay import ROUNDINGS, Replay, play
from photoperiod.tubes.ledger import Ledger
from photoperiod.units import (
    NIGHT_PPFD_UMOL_M2_S,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    UMOL_PER_MOL,
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: More than this from the first to the last date is a slip of the pen.
MAX_DAYS = 3_653

#: Two PPFD that differ by less than this are the same [µmol m⁻² s⁻¹].
PPFD_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class DateSpan:
    """The dates of a program, both ends included, on the plan's clock."""

    first: dt.date
    last: dt.date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"the span runs backwards, from {self.first} to {self.last}")
        if self.days > MAX_DAYS:
            raise ValueError(f"{self.days:,} days are more than ten years")

    @property
    def days(self) -> int:
        """How many dates there are."""
        return (self.last - self.first).days + 1

    def __iter__(self) -> Iterator[dt.date]:
        return (self.first + dt.timedelta(days=n) for n in range(self.days))


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """One quantity as wished, as reachable by the ballast, and as the finished table gives it."""

    plan: float
    reachable: float
    replay: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelProgram:
    """One channel's day: what was wanted, the table, and what the table gives.

    Parameters
    ----------
    reachable : ndarray, shape (86400,)
        Light wanted within reach of the ballast, at the start of each second. [fraction of full]
    full_light_hours : Amounts
        Of one day. [h]
    dli : mapping of zone id to Amounts
        What this channel adds to each zone. [mol m⁻² d⁻¹]
    lit_seconds, longest_dark_s, undefined_seconds : int
        Of one day, from the replay. [s]
    rounding_errors : mapping of rounding to float
        The largest change of light if the controller rounded otherwise. [fraction of full]
    energy_kwh : float or None
        Mains energy of one day; None where the ballast's watts are not given. [kWh]
    """

    channel: Channel
    path: LightPath
    reachable: Floats
    fit: Fit
    full_light_hours: Amounts
    dli: Mapping[str, Amounts]
    lit_seconds: int
    longest_dark_s: int
    starts: int
    undefined_seconds: int
    most_volts: float
    rounding_errors: Mapping[str, float]
    energy_kwh: float | None

    @property
    def reachable_lit_seconds(self) -> int:
        """How long the reachable plan is lit on one day. [s]"""
        return int((self.reachable > 0).sum())

    @property
    def replay(self) -> Replay:
        """The table, played."""
        return self.fit.replay

    @property
    def nominal_watts(self) -> float:
        """Nominal power of the channel's tubes. [W]"""
        return sum(tube.watts for tube in self.channel.tubes)


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneProgram:
    """What one zone gets on a day, from the replay of all channels.

    ``ppfd`` is of shape (86400,) [µmol m⁻² s⁻¹]; ``night_s`` is the longest run below
    0.15 µmol m⁻² s⁻¹ and ``photoperiod_s`` all the rest of the day [s].
    """

    zone: Zone
    ppfd: Floats
    dli: Amounts
    peak_ppfd: float
    peak_second: int
    photoperiod_s: int
    night_s: int
    saturation_hours: float | None
    steepest_rise_per_minute: float
    steepest_second: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeProgram:
    """One tube over the dates: its ledger, and whether it is fitted by the last of them."""

    tube: Tube
    channel: str
    ledger: Ledger
    is_fitted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """Everything that follows from a schedule and dates."""

    schedule: Schedule
    span: DateSpan | None
    channels: Mapping[str, ChannelProgram]
    zones: Mapping[str, ZoneProgram]
    tubes: Mapping[str, TubeProgram]


def compile_program(schedule: Schedule, span: DateSpan | None = None) -> Program:
    """Return the program of a schedule.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    span : DateSpan or None
        The dates. Without them there is one day of no date, and tubes are not followed.
    """
    targets = {id: _target(schedule, channel) for id, channel in schedule.channels.items()}
    fits = _fit(schedule, targets)
    over = _zones_over(schedule, targets, fits)
    if over:
        # The table must not lift a zone over its limit: fit the channels that light it again, never
        # above their plans.
        targets = {
            id: replace(target, may_exceed=False)
            if over & set(schedule.channels[id].full_ppfd)
            else target
            for id, target in targets.items()
        }
        fits = _fit(schedule, targets)
    channels = {
        id: _channel(schedule, channel, targets[id], fits[id])
        for id, channel in schedule.channels.items()
    }
    zones = {id: _zone(zone, channels) for id, zone in schedule.zones.items()}
    tubes = {} if span is None else _tubes(schedule, span, channels)
    return Program(schedule=schedule, span=span, channels=channels, zones=zones, tubes=tubes)


def light_path(schedule: Schedule, channel: Channel) -> LightPath:
    """Return the light path of a channel under the schedule's controller."""
    controller = schedule.controller
    return LightPath(
        levels=controller.levels,
        converter=controller.converter,
        ballast=channel.ballast.curve,
        relay=controller.relay,
    )


def _target(schedule: Schedule, channel: Channel) -> Target:
    path = light_path(schedule, channel)
    wanted = channel.curve.light(day_seconds())
    return Target(
        name=channel.id,
        reachable=channel.ballast.curve.reachable(wanted, path.most_light),
        corners=tuple(sorted(channel.curve.corners())),
        path=path,
        weight=channel.weight,
        dose_within=schedule.controller.dose_within,
    )


def _fit(schedule: Schedule, targets: Mapping[str, Target]) -> dict[str, Fit]:
    controller = schedule.controller
    groups = [list(targets)] if controller.shared_times else [[id] for id in targets]
    found: dict[str, Fit] = {}
    for group in groups:
        fits = fit(
            [targets[id] for id in group], controller.times, controller.setpoints_per_channel
        )
        found.update(zip(group, fits, strict=True))
    return found


def _zones_over(
    schedule: Schedule, targets: Mapping[str, Target], fits: Mapping[str, Fit]
) -> set[str]:
    """Return the zones whose limit the table breaks although the reachable plan keeps it."""
    over = set()
    for zone in schedule.zones.values():
        if zone.ppfd_max is None:
            continue
        lights = [(c.full_ppfd.get(zone.id, 0.0), id) for id, c in schedule.channels.items()]
        planned = sum(ppfd * targets[id].reachable for ppfd, id in lights)
        given = sum(ppfd * fits[id].replay.light for ppfd, id in lights)
        limit = zone.ppfd_max + PPFD_SLACK
        if float(np.max(given)) > limit >= float(np.max(planned)):
            over.add(zone.id)
    return over


def _channel(schedule: Schedule, channel: Channel, target: Target, found: Fit) -> ChannelProgram:
    path, replay = target.path, found.replay
    levels, times = schedule.controller.levels, schedule.controller.times
    wanted = channel.curve.light(day_middles())
    reachable = channel.ballast.curve.reachable(wanted, path.most_light)
    hours = Amounts(
        plan=channel.curve.integral() / SECONDS_PER_HOUR,
        reachable=full_light_hours(reachable),
        replay=full_light_hours(replay.light),
    )
    dli = {
        zone: Amounts(
            plan=hours.plan * ppfd * SECONDS_PER_HOUR / UMOL_PER_MOL,
            reachable=hours.reachable * ppfd * SECONDS_PER_HOUR / UMOL_PER_MOL,
            replay=daily_light_integral(replay.light * ppfd),
        )
        for zone, ppfd in channel.full_ppfd.items()
    }
    others = {
        rounding: float(
            np.abs(play(found.rows, times, levels, path, rounding).light - replay.light).max()
        )
        for rounding in ROUNDINGS
        if rounding != levels.rounding
    }
    return ChannelProgram(
        channel=channel,
        path=path,
        reachable=target.reachable,
        fit=found,
        full_light_hours=hours,
        dli=dli,
        lit_seconds=int(replay.lit.sum()),
        longest_dark_s=longest_run_s(~replay.lit),
        starts=starts(replay.lit),
        undefined_seconds=int((path.is_undefined[replay.counts] & replay.lit).sum()),
        most_volts=float(path.volts[replay.counts].max()),
        rounding_errors=others,
        energy_kwh=_energy_kwh(channel, replay),
    )


def _energy_kwh(channel: Channel, replay: Replay) -> float | None:
    """Return a day's mains energy by a straight line in light between floor and full. [kWh]"""
    watts = channel.ballast.watts
    if watts is None:
        return None
    floor = channel.ballast.curve.floor_light
    share = (replay.light - floor) / (1.0 - floor)
    power = np.where(replay.lit, watts.floor + (watts.full - watts.floor) * share, watts.dark)
    return float(power.sum()) * channel.ballast_count / SECONDS_PER_HOUR / 1000


def _zone(zone: Zone, channels: Mapping[str, ChannelProgram]) -> ZoneProgram:
    lighting = [c for c in channels.values() if zone.id in c.dli]
    ppfd = np.zeros(SECONDS_PER_DAY)
    for c in lighting:
        ppfd += c.replay.light * c.channel.full_ppfd[zone.id]
    shares = [c.dli[zone.id] for c in lighting]
    is_night = ppfd < NIGHT_PPFD_UMOL_M2_S
    rise, second = steepest_rise_per_minute(ppfd)
    peak = int(ppfd.argmax())
    return ZoneProgram(
        zone=zone,
        ppfd=ppfd,
        dli=Amounts(
            plan=sum(share.plan for share in shares),
            reachable=sum(share.reachable for share in shares),
            replay=daily_light_integral(ppfd),
        ),
        peak_ppfd=float(ppfd[peak]),
        peak_second=peak,
        photoperiod_s=int((~is_night).sum()),
        night_s=longest_run_s(is_night),
        saturation_hours=None if zone.ek_ppfd is None else saturation_hours(ppfd, zone.ek_ppfd),
        steepest_rise_per_minute=rise,
        steepest_second=second,
    )


def _tubes(
    schedule: Schedule, span: DateSpan, channels: Mapping[str, ChannelProgram]
) -> dict[str, TubeProgram]:
    found = {}
    for id, c in channels.items():
        for tube in c.channel.tubes:
            ledger = Ledger(tube.lit_hours, tube.burn_in_full_hours).run(
                span, c.replay.lit, c.replay.full, schedule.controller.times.step_s, tube.fitted
            )
            is_fitted = tube.fitted is None or tube.fitted.date() <= span.last
            found[tube.id] = TubeProgram(tube=tube, channel=id, ledger=ledger, is_fitted=is_fitted)
    return found
