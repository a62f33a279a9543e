"""One compiled day: what its tables give to channels and zones."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.curves.curve import Curve, day_middles
from photoperiod.days.passing_day import PassingDay
from photoperiod.drive.grid import Rounding
from photoperiod.drive.kept import kept_while_used
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.replay import Replay, play
from photoperiod.drive.zone_light import full_ppfd_now, zone_ppfd
from photoperiod.program.day_fit import FittedChannel
from photoperiod.program.dose import (
    daily_light_integral,
    full_light_hours,
    longest_run_s,
    saturation_hours,
    starts,
    steepest_rise_per_minute,
)
from photoperiod.program.mains_power import BallastsOn, energy_kwh, mains_watts
from photoperiod.program.useful_light import UsefulLight, useful_light
from photoperiod.schedule.model import Channel, Schedule, Zone
from photoperiod.setpoints.fit import Fit, Target
from photoperiod.units import (
    NIGHT_PPFD_UMOL_M2_S,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    UMOL_PER_MOL,
)


class Role(StrEnum):
    """What a channel does on its dates."""

    PLAN = "plan"
    FULL = "full"
    DARK = "dark"
    GIVES_WAY = "gives-way"


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """One quantity as wished, as reachable by the ballast, and as the finished table gives it."""

    plan: float
    reachable: float
    replay: float


#: Makes the day curve of a channel, and the target of its table, again: they are too big to be kept
#: for each day of a year.
CurveAndTarget = Callable[[], tuple[Curve, Target]]


class Brightness(NamedTuple):
    """Light at full on the first and the last of some dates, beside that when PPFD was measured."""

    begin: float = 1.0
    end: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelDay:
    """One channel's day: what was wanted, the table, and what the table gives.

    Parameters
    ----------
    channel : Channel
        The channel, as the schedule has it.
    curve_and_target : callable
        Makes again: the day curve on the first of the dates, and the target of the table.
    path : LightPath
        The way from level to light.
    fit : Fit
        The rows, with their certificate.
    role : Role
        ``plan``; or, while tubes burn in, ``full``, ``dark`` (it waits) or ``gives-way``.
    held : float
        By how much its light is raised to hold it while tubes fade. [ratio]
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
    ballasts : BallastsOn or None
        The ballasts that are at work, where a part is out; None where all are.
    """

    channel: Channel
    curve_and_target: CurveAndTarget
    path: LightPath
    fit: Fit
    role: Role
    held: float
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
    ballasts: BallastsOn | None = None

    @property
    def curve(self) -> Curve:
        """Light wanted by the plan on the first of the dates."""
        return self.curve_and_target()[0]

    @property
    def reachable(self) -> Floats:
        """Light wanted within reach of the ballast at each second, shape (86400,). [fraction]"""
        return self.curve_and_target()[1].reachable

    @property
    def fade(self) -> float:
        """Light at full on the last of the dates beside that on the first; 1 if it gives none. [ratio]"""
        return self.brightness_at_end / self.brightness if self.brightness else 1.0

    @property
    def replay(self) -> Replay:
        """The table, played."""
        return self.fit.replay

    @property
    def mains_watts(self) -> Floats | None:
        """What its ballasts take in each second of the table's day, shape (86400,). [W]

        None where their watts are not given.
        """
        return mains_watts(self.channel, self.path, self.replay, self.ballasts)

    @property
    def safe_count(self) -> int:
        """The count of our own player's safe state: level 0 where it is to be dark."""
        light = self.channel.safe_light
        return 0 if light == 0 else int(self.path.nearest_counts(np.array([light]))[0])

    @property
    def nominal_watts(self) -> float:
        """Nominal power of the channel's tubes. [W]"""
        return self.channel.tube_watts


@dataclass(frozen=True, slots=True, kw_only=True, weakref_slot=True)
class ZoneDay:
    """What one zone gets on a day, from the replay of all channels.

    ``sources`` are the channels that light it, with their PPFD at full for doses [µmol m⁻² s⁻¹], and
    ``limit_sources`` the same for limits: peaks, rises and nights are of those. ``night_s``
    is the longest run below 0.15 µmol m⁻² s⁻¹, and ``photoperiod_s`` all time at or above it [s].
    ``wanted_peak_ppfd`` is the peak of what the tables were fitted to, None without `ppfd_max`. All
    is for the first of the dates but ``dli_at_end`` [mol m⁻² d⁻¹] and ``peak_ppfd_at_end``
    [µmol m⁻² s⁻¹], which are for the last: tubes fade. ``dli_least`` and ``dli_least_at_end`` are held
    against the lower end of the band; they are other than ``dli`` where readings of the zone differ.
    ``saturation_hours`` [h] and ``useful_light`` are None where the zone gives no Ek.
    """

    zone: Zone
    sources: tuple[tuple[ChannelDay, float], ...]
    limit_sources: tuple[tuple[ChannelDay, float], ...]
    dli: Amounts
    peak_ppfd: float
    peak_second: int
    wanted_peak_ppfd: float | None
    photoperiod_s: int
    night_s: int
    dli_at_end: float
    dli_least: float
    dli_least_at_end: float
    peak_ppfd_at_end: float
    saturation_hours: float | None
    useful_light: UsefulLight | None
    steepest_rise_per_minute: float
    steepest_second: int

    @property
    def ppfd(self) -> Floats:
        """What all channels give together, for limits, shape (86400,). [µmol m⁻² s⁻¹]"""
        return _ppfd_of(self.limit_sources)

    def shares_at(self, second: int) -> dict[str, float]:
        """Return the PPFD that each channel that lights the zone gives at a second of the day.

        By channel, for limits and the first of the dates. [µmol m⁻² s⁻¹]
        """
        return {
            c.channel.id: full_ppfd * float(c.replay.light[second])
            for c, full_ppfd in self.limit_sources
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class CompiledDay:
    """The tables of all channels for one day, and what they give.

    ``length_s`` is how long the day is [s]: not 86,400 where the controller's clock changes. Doses, energy
    and lit times are those of the time that really passes; runs, starts and peaks those of the table.
    """

    channels: Mapping[str, ChannelDay]
    zones: Mapping[str, ZoneDay]
    length_s: int = SECONDS_PER_DAY


def compile_day(
    schedule: Schedule,
    curves: Mapping[str, Curve],
    fitted: Mapping[str, FittedChannel],
    roles: Mapping[str, Role],
    brightness: Mapping[str, Brightness],
    again: Callable[[str], tuple[Curve, Target]] | None = None,
    passing: PassingDay | None = None,
    held: Mapping[str, float] | None = None,
    ballasts: Mapping[str, BallastsOn] | None = None,
) -> CompiledDay:
    """Return what fitted tables give.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    curves : mapping of channel to Curve
        Light wanted by the plan on the first date.
    fitted : mapping of channel to FittedChannel
        The tables, and what they were fitted to.
    roles : mapping of channel to Role
        ``plan`` where a channel has none.
    brightness : mapping of channel to Brightness
        1 where a channel has none. [ratio]
    again : callable or None
        Makes the curve and the target of a channel again, where they should not be kept.
    passing : PassingDay or None
        What really passes of the date, where the controller's clock changes on it.
    held : mapping of channel to float or None
        By how much the light of channels is raised; 1 where a channel has none. [ratio]
    ballasts : mapping of channel to BallastsOn, or None
        The ballasts that are at work where parts are out; all where a channel has none.
    """
    channels = {}
    for id, channel in schedule.channels.items():
        kept = functools.partial(_kept, curves[id], fitted[id].target)
        channels[id] = _channel(
            channel,
            curves[id],
            fitted[id],
            roles.get(id, Role.PLAN),
            brightness.get(id, Brightness()),
            kept if again is None else functools.partial(again, id),
            passing,
            (held or {}).get(id, 1.0),
            (ballasts or {}).get(id),
        )
    wanted = {id: each.target.reachable for id, each in fitted.items()}
    seconds = slice(None) if passing is None else passing.seconds
    zones = {id: _zone(zone, channels, wanted, seconds) for id, zone in schedule.zones.items()}
    length_s = SECONDS_PER_DAY if passing is None else passing.length_s
    return CompiledDay(channels=channels, zones=zones, length_s=length_s)


def _kept(curve: Curve, target: Target) -> tuple[Curve, Target]:
    return curve, target


@dataclass(frozen=True, slots=True)
class _ReplayFigures:
    """What follows from a table alone; the names are those of `ChannelDay`."""

    full_light_hours: float
    longest_dark_s: int
    starts: int
    undefined_seconds: int
    most_volts: float
    rounding_errors: Mapping[str, float]


@kept_while_used(64)  # the same table often serves several dates in a row
def _replay_figures(found: Fit) -> _ReplayFigures:
    path, replay, levels = found.path, found.replay, found.path.levels
    lit = replay.lit
    counts, lengths = replay.step_counts, replay.step_lengths
    others = {
        str(rounding): replay.light_steps.farthest(
            play(found.rows, found.times, levels, path, rounding).light_steps
        )
        for rounding in Rounding
        if rounding != levels.rounding
    }
    return _ReplayFigures(
        full_light_hours=replay.light_s / SECONDS_PER_HOUR,
        longest_dark_s=longest_run_s(~lit),
        starts=starts(lit),
        undefined_seconds=int(lengths[path.is_undefined[counts] & replay.step_lit].sum()),
        most_volts=float(path.volts[counts[lengths > 0]].max()),
        rounding_errors=others,
    )


def _channel(
    channel: Channel,
    curve: Curve,
    fitted: FittedChannel,
    role: Role,
    brightness: Brightness,
    curve_and_target: CurveAndTarget,
    passing: PassingDay | None,
    held: float,
    ballasts: BallastsOn | None,
) -> ChannelDay:
    target, found = fitted.target, fitted.fit
    path, played = target.path, _replay_figures(found)
    seconds = slice(None) if passing is None else passing.seconds
    light, lit = found.replay.light[seconds], found.replay.lit[seconds]
    reachable = target.reachable[seconds]
    if role is Role.PLAN:  # the middle of each second stands for it
        wanted = curve.light(day_middles()) if passing is None else passing.wanted(channel.id)
        raised = wanted if held == 1.0 else wanted * held
        reachable = channel.ballast.curve.reachable(raised, path.most_light)
    plan_s = curve.integral() if passing is None else passing.plan_s(channel.id)
    hours = Amounts(
        plan=plan_s / SECONDS_PER_HOUR,
        reachable=full_light_hours(reachable),
        replay=played.full_light_hours if passing is None else full_light_hours(light),
    )
    dli = {
        zone: Amounts(
            plan=hours.plan * ppfd * SECONDS_PER_HOUR / UMOL_PER_MOL,
            reachable=hours.reachable * ppfd * brightness.begin * SECONDS_PER_HOUR / UMOL_PER_MOL,
            replay=daily_light_integral(full_ppfd_now(ppfd, brightness.begin) * light),
        )
        for zone, ppfd in channel.full_ppfd.items()
    }
    return ChannelDay(
        channel=channel,
        curve_and_target=curve_and_target,
        path=path,
        fit=found,
        role=role,
        held=held,
        brightness=brightness.begin,
        brightness_at_end=brightness.end,
        full_light_hours=hours,
        dli=dli,
        wanted_peak=curve.most_light,
        reachable_peak=float(target.reachable.max()),
        reachable_lit_seconds=int(np.count_nonzero(target.reachable[seconds] > 0)),
        lit_seconds=int(np.count_nonzero(lit)),
        longest_dark_s=played.longest_dark_s,
        starts=played.starts,
        undefined_seconds=played.undefined_seconds,
        most_volts=played.most_volts,
        rounding_errors=played.rounding_errors,
        energy_kwh=energy_kwh(channel, path, found.replay, ballasts, seconds),
        ballasts=ballasts,
    )


def _zone(
    zone: Zone,
    channels: Mapping[str, ChannelDay],
    wanted: Mapping[str, Floats],
    seconds: Ints | slice,
) -> ZoneDay:
    lighting = [c for c in channels.values() if zone.id in c.dli]
    sources = _sources(zone.id, lighting, {c.channel.id: c.channel.full_ppfd for c in lighting})
    limit_sources = _sources(
        zone.id, lighting, {c.channel.id: c.channel.limit_ppfd for c in lighting}
    )
    has_spread = any(zone.id in c.channel.ppfd_spread for c in lighting)
    ppfd = _ppfd_of(limit_sources)
    mean_ppfd = _ppfd_of(sources) if has_spread else ppfd
    peak_at_end = float(ppfd.max())
    if any(c.brightness_at_end != c.brightness for c in lighting):
        at_end = (
            (full_ppfd_now(c.channel.limit_ppfd[zone.id], c.brightness_at_end), c.replay.light)
            for c in lighting
        )
        peak_at_end = float(zone_ppfd(at_end, np.zeros(SECONDS_PER_DAY)).max())
    shares = [c.dli[zone.id] for c in lighting]
    dli = daily_light_integral(mean_ppfd[seconds])
    dli_at_end = sum(share.replay * c.fade for share, c in zip(shares, lighting, strict=True))
    dli_least, dli_least_at_end = dli, dli_at_end
    if has_spread:
        least = {c.channel.id: _least_dli(c, zone.id) for c in lighting}
        dli_least = sum(least.values())
        dli_least_at_end = sum(least[c.channel.id] * c.fade for c in lighting)
    is_night = ppfd < NIGHT_PPFD_UMOL_M2_S
    rise, second = steepest_rise_per_minute(ppfd)
    peak = int(ppfd.argmax())
    return ZoneDay(
        zone=zone,
        sources=sources,
        limit_sources=limit_sources,
        dli=Amounts(
            plan=sum(share.plan for share in shares),
            reachable=sum(share.reachable for share in shares),
            replay=dli,
        ),
        peak_ppfd=float(ppfd[peak]),
        peak_second=peak,
        wanted_peak_ppfd=None if zone.ppfd_max is None else _wanted_peak(limit_sources, wanted),
        photoperiod_s=int((~is_night[seconds]).sum()),
        night_s=longest_run_s(is_night),
        dli_at_end=dli_at_end,
        dli_least=dli_least,
        dli_least_at_end=dli_least_at_end,
        peak_ppfd_at_end=peak_at_end,
        saturation_hours=None
        if zone.ek_ppfd is None
        else saturation_hours(mean_ppfd[seconds], zone.ek_ppfd),
        useful_light=None
        if zone.ek_ppfd is None
        else useful_light(mean_ppfd, mean_ppfd[seconds], zone.ek_ppfd),
        steepest_rise_per_minute=rise,
        steepest_second=second,
    )


def _sources(
    zone: str, lighting: list[ChannelDay], measured: Mapping[str, Mapping[str, float]]
) -> tuple[tuple[ChannelDay, float], ...]:
    """Return the channels that light a zone with their PPFD at full on the first of the dates."""
    return tuple((c, full_ppfd_now(measured[c.channel.id][zone], c.brightness)) for c in lighting)


def _ppfd_of(sources: tuple[tuple[ChannelDay, float], ...]) -> Floats:
    """Return what channels give together, shape (86400,). [µmol m⁻² s⁻¹]"""
    return zone_ppfd(
        ((full_ppfd, c.replay.light) for c, full_ppfd in sources), np.zeros(SECONDS_PER_DAY)
    )


def _least_dli(c: ChannelDay, zone: str) -> float:
    """Return what a channel adds to the dose of the darkest place of a zone. [mol m⁻² d⁻¹]"""
    mean = c.channel.full_ppfd[zone]
    return c.dli[zone].replay * c.channel.least_ppfd[zone] / mean if mean > 0 else 0.0


def _wanted_peak(
    sources: tuple[tuple[ChannelDay, float], ...], wanted: Mapping[str, Floats]
) -> float:
    """Return the most that a zone would get by the day that the tables were fitted to. [µmol m⁻² s⁻¹]"""
    ppfd = zone_ppfd(
        ((full_ppfd, wanted[c.channel.id]) for c, full_ppfd in sources), np.zeros(SECONDS_PER_DAY)
    )
    return float(ppfd.max())
