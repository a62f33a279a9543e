"""One compiled day: targets, tables, and what they give to channels and zones."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.curves.curve import Curve, day_middles, day_seconds
from photoperiod.drive.grid import Rounding
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import Replay, play
from photoperiod.drive.zone_light import full_ppfd_now, zone_ppfd
from photoperiod.program.dose import (
    daily_light_integral,
    full_light_hours,
    longest_run_s,
    saturation_hours,
    starts,
    steepest_rise_per_minute,
)
from photoperiod.recent import Recent
from photoperiod.schedule.model import Channel, Schedule, Zone
from photoperiod.setpoints.fit import Fit, Target, fit
from photoperiod.units import (
    NIGHT_PPFD_UMOL_M2_S,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    UMOL_PER_MOL,
)

#: Two PPFD that differ by less than this are the same [µmol m⁻² s⁻¹].
PPFD_SLACK = 1e-6

#: An error of no more than this beside the least that any number of rows has, is that. Our choice.
AT_FLOOR = 1.05

#: An error that makes the table one of another day [share of the channel's peak]. Our choice.
WORST_SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """One quantity as wished, as reachable by the ballast, and as the finished table gives it."""

    plan: float
    reachable: float
    replay: float


#: Gives the curve of a day and what its table was fitted to; both are too big to be kept for a year.
Wanted = Callable[[], tuple[Curve, Target]]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelDay:
    """One channel's day: what was wanted, the table, and what the table gives.

    Parameters
    ----------
    wanted : callable
        Gives the curve of the plan on the first of the dates, and what was asked for.
    role : str
        ``plan``; or, while tubes burn in, ``full``, ``dark`` (waiting), ``gives-way``.
    brightness, brightness_at_end : float
        Light at full on the first and the last of the dates, by the hours of the tubes, beside that
        when PPFD was measured. [ratio]
    full_light_hours : Amounts
        Of one day. [h]
    dli : mapping of zone id to Amounts
        What this channel adds to each zone. [mol m⁻² d⁻¹]
    wanted_peak, reachable_peak : float
        The most light of the plan, and of it within reach. [fraction of full]
    reachable_lit_seconds : int
        How long the reachable plan is lit on one day. [s]
    lit_seconds, longest_dark_s, undefined_seconds : int
        Of one day, from the replay. [s]
    rounding_errors : mapping of rounding to float
        The largest change of light if the controller rounded otherwise. [fraction of full]
    energy_kwh : float or None
        Mains energy of one day; None where the ballast's watts are not given. [kWh]
    """

    channel: Channel
    wanted: Wanted
    path: LightPath
    fit: Fit
    role: str
    brightness: float
    brightness_at_end: float
    full_light_hours: Amounts
    dli: Mapping[str, Amounts]
    wanted_peak: float
    reachable_peak: float
    reachable_lit_seconds: int
    lit_seconds: int
    longest_dark_s: int
    starts: int
    undefined_seconds: int
    most_volts: float
    rounding_errors: Mapping[str, float]
    energy_kwh: float | None

    @property
    def curve(self) -> Curve:
        """Light wanted by the plan on the first of the dates."""
        return self.wanted()[0]

    @property
    def reachable(self) -> Floats:
        """Light wanted within reach of the ballast at each second, shape (86400,). [fraction]"""
        return self.wanted()[1].reachable

    @property
    def replay(self) -> Replay:
        """The table, played."""
        return self.fit.replay

    @property
    def safe_count(self) -> int:
        """The count of our own player's safe state: level 0 where it is to be dark."""
        light = self.channel.safe_light
        return 0 if light == 0 else int(self.path.nearest_counts(np.array([light]))[0])

    @property
    def nominal_watts(self) -> float:
        """Nominal power of the channel's tubes. [W]"""
        return sum(tube.watts for tube in self.channel.tubes)


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneDay:
    """What one zone gets on a day, from the replay of all channels.

    ``sources`` are the channels that light it, with their PPFD at full [µmol m⁻² s⁻¹]; ``night_s``
    is the longest run below 0.15 µmol m⁻² s⁻¹ and ``photoperiod_s`` all the rest of the day [s]. All
    is for the first of the dates but ``dli_at_end`` [mol m⁻² d⁻¹], which is for the last: tubes fade.
    """

    zone: Zone
    sources: tuple[tuple[ChannelDay, float], ...]
    dli: Amounts
    peak_ppfd: float
    peak_second: int
    photoperiod_s: int
    night_s: int
    dli_at_end: float
    saturation_hours: float | None
    steepest_rise_per_minute: float
    steepest_second: int

    @property
    def ppfd(self) -> Floats:
        """What all channels give together, shape (86400,). [µmol m⁻² s⁻¹]"""
        sources = ((full_ppfd, c.replay.light) for c, full_ppfd in self.sources)
        return zone_ppfd(sources, np.zeros(SECONDS_PER_DAY))

    def shares_at(self, second: int) -> dict[str, float]:
        """Return the PPFD that each channel that lights the zone gives at a second of the day.

        By channel, for the first of the dates. [µmol m⁻² s⁻¹]
        """
        return {
            c.channel.id: full_ppfd * float(c.replay.light[second]) for c, full_ppfd in self.sources
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class CompiledDay:
    """The tables of all channels for one day, and what they give."""

    channels: Mapping[str, ChannelDay]
    zones: Mapping[str, ZoneDay]


def holds(found: Fit, target: Target, rows_held: int) -> bool:
    """Return whether a table fits the rows of a controller and is still one of its day.

    What no number of rows would mend, such as a level step that is coarse for a dim light, is not
    for the rows to hold.
    """
    return len(found.rows) <= rows_held and not strays_far(found, float(target.reachable.max()))


def strays_far(found: Fit, peak: float) -> bool:
    """Return whether a table is one of another day, and more rows would mend that."""
    proof = found.certificate
    is_at_floor = proof.floor > 0 and proof.error <= AT_FLOOR * proof.floor
    return found.worst_light_error > WORST_SHARE * peak > 0 and not is_at_floor


def light_path(schedule: Schedule, channel: Channel) -> LightPath:
    """Return the light path of a channel under the schedule's controller."""
    controller = schedule.controller
    return LightPath(
        levels=controller.levels,
        converter=controller.converter,
        ballast=channel.ballast.curve,
        relay=controller.relay,
    )


def plan_targets(schedule: Schedule, curves: Mapping[str, Curve]) -> dict[str, Target]:
    """Return what channels are wanted to do on a day by the plan, given their curves."""
    return {id: _target(schedule, schedule.channels[id], curve) for id, curve in curves.items()}


def _target(schedule: Schedule, channel: Channel, curve: Curve) -> Target:
    path = light_path(schedule, channel)
    wanted = curve.light(day_seconds())
    return Target(
        name=channel.id,
        reachable=channel.ballast.curve.reachable(wanted, path.most_light),
        corners=tuple(sorted(curve.corners())),
        path=path,
        weight=channel.weight,
        dose_within=schedule.controller.dose_within,
    )


def fit_day(
    schedule: Schedule,
    targets: Mapping[str, Target],
    brightness: Mapping[str, float],
    known: Mapping[str, tuple[Target, Fit]] | None = None,
) -> tuple[dict[str, Target], dict[str, Fit]]:
    """Return the tables of all channels for a day, and what they were asked for.

    If a table would lift a zone over a limit that the reachable plan keeps, the channels that light
    the zone are fitted again, never above their plans. Of channels with times of their own, what is
    ``known`` for the very same target is not fitted again.
    """
    fits = _fit(schedule, targets, known or {})
    wanted = {id: target.reachable for id, target in targets.items()}
    for _ in range(2):  # once more where what is left of the others' errors is still too much
        given = {id: found.replay.light for id, found in fits.items()}
        lifting = _lifting(schedule, wanted, given, brightness)
        if not lifting:
            break
        targets = {
            id: replace(target, may_exceed=False) if id in lifting else target
            for id, target in targets.items()
        }
        fits = _fit(schedule, targets, known or {})
    return dict(targets), fits


def _lifting(
    schedule: Schedule,
    wanted: Mapping[str, Floats],
    given: Mapping[str, Floats],
    brightness: Mapping[str, float],
) -> set[str]:
    """Return the channels that are above their plans while they lift a zone over its limit.

    None if the plan itself breaks the limit.
    """
    found = set()
    for zone in schedule.zones.values():
        light = ppfd_in(schedule, zone.id, given, brightness)
        limit = None if zone.ppfd_max is None else zone.ppfd_max + PPFD_SLACK
        if limit is None or np.max(ppfd_in(schedule, zone.id, wanted, brightness)) > limit:
            continue
        over = light > limit
        found |= {
            id
            for id, c in schedule.channels.items()
            if c.full_ppfd.get(zone.id) and (given[id] > wanted[id])[over].any()
        }
    return found


def ppfd_in(
    schedule: Schedule,
    zone_id: str,
    light: Mapping[str, Floats],
    brightness: Mapping[str, float],
) -> Floats:
    """Return what a zone gets from all channels, shape (86400,). [µmol m⁻² s⁻¹]

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    zone_id : str
        The zone.
    light : mapping of channel to ndarray, shape (86400,)
        Light of every channel. [fraction of full]
    brightness : mapping of channel to float
        Light at full beside that when PPFD was measured, 1 for a channel that it lacks. [ratio]
    """
    return zone_ppfd(
        (
            (full_ppfd_now(c.full_ppfd[zone_id], brightness.get(id, 1.0)), light[id])
            for id, c in schedule.channels.items()
            if zone_id in c.full_ppfd
        ),
        np.zeros(SECONDS_PER_DAY),
    )


def compile_day(
    schedule: Schedule,
    curves: Mapping[str, Curve],
    targets: Mapping[str, Target],
    fits: Mapping[str, Fit],
    roles: Mapping[str, str],
    brightness: Mapping[str, tuple[float, float]],
    again: Callable[[str], tuple[Curve, Target]] | None = None,
) -> CompiledDay:
    """Return what fitted tables give.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    curves : mapping by channel
        Light wanted by the plan on the first date.
    targets, fits : mappings by channel
        What was asked for, and the tables.
    roles : mapping by channel
        ``plan`` where a channel has none.
    brightness : mapping by channel
        Light at full on the first and last date, beside that when PPFD was measured. [ratio]
    again : callable or None
        Gives a channel's curve and target once more, where they should not be kept.
    """
    channels = {
        id: _channel(schedule, channel, curves[id], targets[id], fits[id], roles.get(id, "plan"),
                     brightness.get(id, (1.0, 1.0)), _wanted(id, curves, targets, again))
        for id, channel in schedule.channels.items()
    }  # fmt: skip
    zones = {id: _zone(zone, channels) for id, zone in schedule.zones.items()}
    return CompiledDay(channels=channels, zones=zones)


def _wanted(
    id: str,
    curves: Mapping[str, Curve],
    targets: Mapping[str, Target],
    again: Callable[[str], tuple[Curve, Target]] | None,
) -> Wanted:
    if again is not None:
        return lambda: again(id)
    curve, target = curves[id], targets[id]
    return lambda: (curve, target)


def fit_some(schedule: Schedule, targets: Mapping[str, Target]) -> dict[str, Fit]:
    """Return the tables of some channels, whatever the zones get from all of them."""
    return _fit(schedule, targets, {})


def _fit(
    schedule: Schedule,
    targets: Mapping[str, Target],
    known: Mapping[str, tuple[Target, Fit]],
) -> dict[str, Fit]:
    controller = schedule.controller
    groups = [list(targets)] if controller.shared_times else [[id] for id in targets]
    found: dict[str, Fit] = {}
    for group in groups:
        if len(group) == 1 and group[0] in known and known[group[0]][0] is targets[group[0]]:
            found[group[0]] = known[group[0]][1]
            continue
        fits = fit(
            [targets[id] for id in group], controller.times, controller.setpoints_per_channel
        )
        found.update(zip(group, fits, strict=True))
    return found


def keeps_limits(schedule: Schedule, fits: Mapping[str, Fit]) -> bool:
    """Return whether the tables of all channels keep every zone's limit, light as measured."""
    limited = [zone for zone in schedule.zones.values() if zone.ppfd_max is not None]
    light = {id: found.replay.light for id, found in fits.items()} if limited else {}
    return all(
        float(np.max(ppfd_in(schedule, zone.id, light, {}))) <= (zone.ppfd_max or 0.0) + PPFD_SLACK
        for zone in limited
    )


@dataclass(frozen=True, slots=True)
class _Played:
    """What follows from a table alone; the same words as in `ChannelDay`."""

    full_light_hours: float
    lit_seconds: int
    longest_dark_s: int
    starts: int
    undefined_seconds: int
    most_volts: float
    rounding_errors: Mapping[str, float]


_PLAYED: Recent[_Played] = Recent(64)


def _played(found: Fit) -> _Played:
    path, replay, levels = found.path, found.replay, found.path.levels
    others = {
        rounding.value: float(
            np.abs(play(found.rows, found.times, levels, path, rounding).light - replay.light).max()
        )
        for rounding in Rounding
        if rounding != levels.rounding
    }
    return _Played(
        full_light_hours=full_light_hours(replay.light),
        lit_seconds=int(replay.lit.sum()),
        longest_dark_s=longest_run_s(~replay.lit),
        starts=starts(replay.lit),
        undefined_seconds=int((path.is_undefined[replay.counts] & replay.lit).sum()),
        most_volts=float(path.volts[replay.counts].max()),
        rounding_errors=others,
    )


def _channel(schedule: Schedule, channel: Channel, curve: Curve, target: Target, found: Fit, role: str,
             brightness: tuple[float, float], wanted_again: Wanted) -> ChannelDay:  # fmt: skip
    path, played = target.path, _PLAYED.of(found, lambda: _played(found))
    reachable = target.reachable
    if role == "plan":  # the middle of each second stands for it
        wanted = curve.light(day_middles())
        reachable = channel.ballast.curve.reachable(wanted, path.most_light)
    hours = Amounts(
        plan=curve.integral() / SECONDS_PER_HOUR,
        reachable=full_light_hours(reachable),
        replay=played.full_light_hours,
    )
    dli = {
        zone: Amounts(
            plan=hours.plan * ppfd * SECONDS_PER_HOUR / UMOL_PER_MOL,
            reachable=hours.reachable * ppfd * brightness[0] * SECONDS_PER_HOUR / UMOL_PER_MOL,
            replay=daily_light_integral(full_ppfd_now(ppfd, brightness[0]) * found.replay.light),
        )
        for zone, ppfd in channel.full_ppfd.items()
    }
    return ChannelDay(
        channel=channel,
        wanted=wanted_again,
        path=path,
        fit=found,
        role=role,
        brightness=brightness[0],
        brightness_at_end=brightness[1],
        full_light_hours=hours,
        dli=dli,
        wanted_peak=curve.most_light,
        reachable_peak=float(target.reachable.max()),
        reachable_lit_seconds=int((target.reachable > 0).sum()),
        lit_seconds=played.lit_seconds,
        longest_dark_s=played.longest_dark_s,
        starts=played.starts,
        undefined_seconds=played.undefined_seconds,
        most_volts=played.most_volts,
        rounding_errors=played.rounding_errors,
        energy_kwh=_energy_kwh(channel, found.replay),
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


def _zone(zone: Zone, channels: Mapping[str, ChannelDay]) -> ZoneDay:
    lighting = [c for c in channels.values() if zone.id in c.dli]
    sources = tuple(
        (c, full_ppfd_now(c.channel.full_ppfd[zone.id], c.brightness)) for c in lighting
    )
    ppfd = zone_ppfd(
        ((full_ppfd, c.replay.light) for c, full_ppfd in sources), np.zeros(SECONDS_PER_DAY)
    )
    shares = [c.dli[zone.id] for c in lighting]
    is_night = ppfd < NIGHT_PPFD_UMOL_M2_S
    rise, second = steepest_rise_per_minute(ppfd)
    peak = int(ppfd.argmax())
    return ZoneDay(
        zone=zone,
        sources=sources,
        dli=Amounts(
            plan=sum(share.plan for share in shares),
            reachable=sum(share.reachable for share in shares),
            replay=daily_light_integral(ppfd),
        ),
        peak_ppfd=float(ppfd[peak]),
        peak_second=peak,
        photoperiod_s=int((~is_night).sum()),
        night_s=longest_run_s(is_night),
        dli_at_end=sum(
            share.replay * c.brightness_at_end / c.brightness
            for share, c in zip(shares, lighting, strict=True)
        ),
        saturation_hours=None if zone.ek_ppfd is None else saturation_hours(ppfd, zone.ek_ppfd),
        steepest_rise_per_minute=rise,
        steepest_second=second,
    )
