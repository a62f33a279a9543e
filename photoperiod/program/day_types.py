"""A day by the plan, and the days at full that are made from it while tubes burn in."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.curves.curve import Curve, day_middles
from photoperiod.drive.zone_light import full_ppfd_now, zone_ppfd
from photoperiod.program.channel_day import (
    PPFD_SLACK,
    CompiledDay,
    compile_day,
    fit_day,
    holds,
    ppfd_in,
)
from photoperiod.program.dose import longest_run_s
from photoperiod.recent import Recent
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.setpoints.fit import Fit, Target, fit
from photoperiod.setpoints.seasons import Error
from photoperiod.text import hours_text, number_text
from photoperiod.tubes.burn_in import (
    DOSE_SHARE,
    MOMENT_S,
    TOO_LONG,
    DayPlan,
    Lamp,
    Limits,
    Moments,
    dose_fault,
    plan_day,
    window_around,
    window_mask,
)
from photoperiod.tubes.hours import Pattern
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S, SECONDS_PER_DAY, SECONDS_PER_HOUR, UMOL_PER_MOL

#: Weight of a channel at full among those that share its times: it has no error to give.
FULL_WEIGHT = 1e6

#: How often the length of a window is put right by what its table gives.
TRIES = 12

#: A channel whose plan never gives more than this is not run at full: a moonlight would turn night
#: to day for some minutes [fraction of full]. Our choice, no source.
LEAST_PEAK = 0.1

#: Scales whose slopes differ by less than this have no corner.
SLACK = 1e-9


#: What was wanted on the days that were asked for last.
_TARGETS: Recent[Mapping[str, Target]] = Recent(4)


@dataclass(frozen=True, slots=True)
class ChannelSeason:
    """How far a channel's table is from what its dates want, and how long its rows go on.

    ``error`` is that on the dates of the table; ``first`` and ``days`` are those of the channel's own
    rows, which may be the same in other tables before and after.
    """

    error: Error
    first: dt.date
    days: int


@dataclass(frozen=True, slots=True)
class SeasonError:
    """How far the tables of some channels are from the dates that they stand for."""

    channels: Mapping[str, ChannelSeason]

    @property
    def light_of(self) -> str:
        """The channel whose light is off most."""
        return max(self.channels, key=lambda id: self.channels[id].error.light)

    @property
    def dose_of(self) -> str:
        """The channel whose dose is off most."""
        return max(self.channels, key=lambda id: self.channels[id].error.dose)

    @property
    def light(self) -> float:
        """The largest error of light. [share of the channel's brightest]"""
        return self.channels[self.light_of].error.light

    @property
    def dose(self) -> float:
        """The largest error of a day's dose. [share]"""
        return self.channels[self.dose_of].error.dose

    def without(self, ids: Container[str]) -> SeasonError | None:
        """Return the same without channels that do not go by these tables; None if none is left."""
        left = {id: each for id, each in self.channels.items() if id not in ids}
        return SeasonError(left) if left else None


class DayType:
    """A day by the plan: what is wanted, the tables, and the days at full made from it.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    curves_on : callable
        Gives the light wanted on one of its dates.
    targets : callable
        Gives what the tables were fitted to: it is too big to be kept for every day of a year.
    fits : mapping of channel to Fit
        The tables.
    season : SeasonError or None
        None where all its dates want the same.
    """

    def __init__(
        self,
        schedule: Schedule,
        curves_on: Callable[[dt.date | None], Mapping[str, Curve]],
        targets: Callable[[], Mapping[str, Target]],
        fits: Mapping[str, Fit],
        season: SeasonError | None = None,
    ) -> None:
        self.schedule, self.season = schedule, season
        self.fits = dict(fits)
        self.step_s = schedule.controller.times.step_s
        self.curves_on = curves_on
        self._make = targets
        self._days: dict[tuple[object, ...], tuple[dict[str, Target], dict[str, Fit]]] = {}
        self._boxes: dict[tuple[str, tuple[int, int]], tuple[Target, Fit]] = {}

    @property
    def targets(self) -> Mapping[str, Target]:
        """What the tables were fitted to."""
        return _TARGETS.of(self, self._make)

    @functools.cached_property
    def light(self) -> dict[str, Moments]:
        """The light of the tables by the minute."""
        return {id: Moments.of(found.replay.light) for id, found in self.fits.items()}

    @functools.cached_property
    def patterns(self) -> dict[str, Pattern]:
        """When the channels are lit and when undimmed."""
        return {id: self._pattern(found) for id, found in self.fits.items()}

    def compiled(
        self, plan: DayPlan, brightness: Mapping[str, tuple[float, float]], date: dt.date | None
    ) -> CompiledDay:
        """Return what the tables of a plan give from a date on, as `day.compile_day` has it."""
        targets, fits = self.fits_of(plan)
        roles = dict.fromkeys(plan.windows, "full") | dict.fromkeys(plan.dark, "dark")
        roles |= dict.fromkeys(plan.scale, "gives-way")
        again = functools.partial(self._wanted_of, date) if plan.is_usual else None
        curves = self.curves_on(date)
        return compile_day(self.schedule, curves, targets, fits, roles, brightness, again)

    def _wanted_of(self, date: dt.date | None, id: str) -> tuple[Curve, Target]:
        return self.curves_on(date)[id], self.targets[id]

    def patterns_of(self, plan: DayPlan) -> dict[str, Pattern]:
        """Return what the channels do on a day of a plan."""
        fits = self.fits_of(plan)[1]
        return {
            id: self.patterns[id] if found is self.fits[id] else self._pattern(found)
            for id, found in fits.items()
        }

    def plan(
        self,
        curves: Mapping[str, Curve],
        owing: Mapping[str, float],
        kept_full: frozenset[str],
        brightness: Mapping[str, float],
        before: Mapping[str, tuple[int, int]],
    ) -> DayPlan:
        """Return what the channels do on a date on which some owe burn-in.

        Parameters
        ----------
        curves : mapping of channel to Curve
            Light wanted on that date.
        owing : mapping of channel to float
            Hours at full owed by channels that need days at full. [h]
        kept_full : frozenset of str
            Channels that owe and are dark or full by plan.
        brightness : mapping of channel to float
            Light at full as the date begins, beside that when PPFD was measured. [ratio]
        before : mapping of channel to (int, int)
            The windows at full of the day before. [s]
        """
        lamps = [
            self._lamp(
                channel,
                curves[id],
                owing.get(id, 0.0),
                id in kept_full,
                brightness[id],
                before.get(id),
            )
            for id, channel in self.schedule.channels.items()
        ]
        limits = {id: self._limits(id, lamps) for id in self.schedule.zones}
        return plan_day(
            lamps, limits, NIGHT_PPFD_UMOL_M2_S, self.step_s, frozenset(before),
            lambda plan: self._refusal(plan, brightness, limits),
        )  # fmt: skip

    def _pattern(self, found: Fit) -> Pattern:
        return Pattern.of(found.replay.lit, found.replay.full, self.step_s)

    def _lamp(self, channel: Channel, curve: Curve, owed_hours: float, is_kept_full: bool, brightness: float,
              before: tuple[int, int] | None) -> Lamp:  # fmt: skip
        """Return a channel as it is weighed."""
        id = channel.id
        lamp = Lamp(
            id=id,
            ppfd={
                zone: full_ppfd_now(ppfd, brightness) for zone, ppfd in channel.full_ppfd.items()
            },
            light=self.light[id],
            least=0.0 if self.targets[id].path.can_be_dark else channel.ballast.curve.floor_light,
            must_not_dim=is_kept_full,
        )
        if owed_hours == 0:
            return lamp
        why = self._too_bright(lamp)
        if why:
            return replace(lamp, owed_days=1.0, why=why)
        window, why = self._window(channel, curve, brightness, before)
        if window is None:
            return replace(lamp, owed_days=1.0, why=why)
        replay = self._box(id, window)[1].replay
        owed_days = owed_hours * SECONDS_PER_HOUR / float(replay.full.sum())
        return replace(lamp, owed_days=owed_days, window=window, full=replay.light)

    def _too_bright(self, lamp: Lamp) -> str:
        """Return why a channel can never be at full, whatever the others do; empty if it can."""
        top_light = self.targets[lamp.id].path.top_light
        for id, zone in self.schedule.zones.items():
            ppfd = lamp.ppfd.get(id, 0.0) * top_light
            if zone.ppfd_max is not None and ppfd > zone.ppfd_max + PPFD_SLACK:
                return (
                    f"zone '{id}' would get {number_text(ppfd, 1)} µmol m⁻² s⁻¹ from it alone, over its"
                    f" ppfd_max of {zone.ppfd_max:g}"
                )
        return ""

    def _limits(self, zone_id: str, lamps: list[Lamp]) -> Limits:
        """Return what a zone may get: its band, or about the plan's dose."""
        zone = self.schedule.zones[zone_id]
        mol = MOMENT_S / UMOL_PER_MOL
        planned = mol * zone_ppfd(
            (
                (c.full_ppfd.get(zone_id, 0.0), float(self.light[id].mean.sum()))
                for id, c in self.schedule.channels.items()
            ),
            0.0,
        )
        usual = mol * zone_ppfd(
            ((lamp.ppfd.get(zone_id, 0.0), float(lamp.light.mean.sum())) for lamp in lamps), 0.0
        )
        low, high = planned * (1 - DOSE_SHARE), planned * (1 + DOSE_SHARE)
        low_of = high_of = f"{number_text(DOSE_SHARE * 100)} % from the plan's"
        if zone.dli_band is not None:
            low, high = zone.dli_band
            low_of = high_of = "its band"
        # What a day by the plan does is not for the burn-in to mend.
        if usual < low:
            low = (1 - DOSE_SHARE) * usual
            low_of = f"{number_text(DOSE_SHARE * 100)} % from what a day by the plan gives now"
        if usual > high:
            high, high_of = usual, "what a day by the plan gives now"
        return Limits(ppfd_max=zone.ppfd_max, dose_min=low, dose_max=high, dose_min_of=low_of,
                      dose_max_of=high_of)  # fmt: skip

    def _refusal(
        self, plan: DayPlan, brightness: Mapping[str, float], limits: Mapping[str, Limits]
    ) -> str:
        """Return why the tables of a day can't be used, in words; empty if they can."""
        targets, fits = self.fits_of(plan)
        held = self.schedule.controller.setpoints_per_channel
        for id, found in fits.items():
            usual = holds(self.fits[id], self.targets[id], held)
            if usual and not holds(found, targets[id], held):
                return f"{held} rows do not hold the day of '{id}' that this takes"
        for id, limit in limits.items():
            ppfd = self._ppfd(id, fits, brightness)
            why = dose_fault(id, float(ppfd.sum()) / UMOL_PER_MOL, limit)
            if why:
                return why
            usual_ppfd = self._ppfd(id, self.fits, brightness)
            needed_s = self.schedule.zones[id].dark_hours_min * SECONDS_PER_HOUR
            night_s, usual_night_s = (
                longest_run_s(each < NIGHT_PPFD_UMOL_M2_S) for each in (ppfd, usual_ppfd)
            )
            if night_s < needed_s <= usual_night_s:
                return (
                    f"the night of zone '{id}' would last {hours_text(night_s)}, less than its"
                    f" {number_text(needed_s / SECONDS_PER_HOUR)} h"
                )
            if limit.ppfd_max is None:
                continue
            most, usual_most = float(ppfd.max()), float(usual_ppfd.max())
            if most > max(limit.ppfd_max, usual_most) + PPFD_SLACK:
                return (
                    f"zone '{id}' would get {number_text(most, 1)} µmol m⁻² s⁻¹ from the table, over"
                    f" its ppfd_max of {limit.ppfd_max:g}"
                )
        return ""

    def _ppfd(self, zone: str, fits: Mapping[str, Fit], brightness: Mapping[str, float]) -> Floats:
        """Return what a zone gets from some tables, shape (86400,). [µmol m⁻² s⁻¹]"""
        light = {id: found.replay.light for id, found in fits.items()}
        return ppfd_in(self.schedule, zone, light, brightness)

    def _window(
        self, channel: Channel, curve: Curve, brightness: float, before: tuple[int, int] | None
    ) -> tuple[tuple[int, int] | None, str]:
        """Return the window at full that holds a channel's dose, or None and why there is none.

        Its dose is at most the plan's, and less than one time step at full below it. Yesterday's
        window is kept while that holds.
        """
        most = float(curve.light(day_middles()).max())
        if most < LEAST_PEAK:
            return None, (
                f"its plan gives {number_text(most * 100)} % at most, and minutes at full would be a shock"
            )
        if not self.targets[channel.id].path.can_be_full:
            return None, "its output can't bring it to full"
        wanted_s = curve.integral() / brightness
        if before is not None and 0 <= self._short_s(channel.id, before, wanted_s) < self.step_s:
            return before, ""
        centre_s = max(curve.parts, key=lambda part: part.integral()).centre_s()
        worth_s = self.targets[channel.id].path.top_light * self.step_s
        steps, short_s = int(wanted_s // worth_s), {}
        for _ in range(TRIES):
            steps = min(max(steps, 1), SECONDS_PER_DAY // self.step_s - 1)
            window = window_around(centre_s, steps * self.step_s, self.step_s)
            if window in short_s:
                break
            short_s[window] = self._short_s(channel.id, window, wanted_s)
            if 0 <= short_s[window] < self.step_s:
                break
            steps += int(short_s[window] // worth_s)
        fitting = [window for window, short in short_s.items() if short >= 0]
        if not fitting:
            return None, "its day holds less light than a time step at full"
        if min(short_s[window] for window in fitting) >= self.step_s:
            return None, TOO_LONG
        return min(fitting, key=lambda window: short_s[window]), ""

    def _short_s(self, id: str, window: tuple[int, int], wanted_s: float) -> float:
        """Return by how much the light of a window's table falls short of a dose. [s at full]

        Below zero if it is too much, or if the table is never at full.
        """
        replay = self._box(id, window)[1].replay
        short_s = wanted_s - float(replay.light.sum())
        if not replay.full.any():
            return -float(SECONDS_PER_DAY)
        return 0.0 if abs(short_s) < 1e-6 else short_s

    def _box(self, id: str, window: tuple[int, int]) -> tuple[Target, Fit]:
        """Return the table of a channel that is full in a window and dark outside it."""
        if (id, window) not in self._boxes:
            controller, target = self.schedule.controller, self._full_target(id, window)
            (found,) = fit([target], controller.times, controller.setpoints_per_channel)
            self._boxes[id, window] = target, found
        return self._boxes[id, window]

    def _full_target(self, id: str, window: tuple[int, int]) -> Target:
        target = self.targets[id]
        mask = window_mask(*window)
        corners = tuple(sorted({second % SECONDS_PER_DAY for second in window}))
        return replace(target, reachable=np.where(mask, target.path.top_light, 0.0), corners=corners,
                       may_exceed=True, weight=FULL_WEIGHT)  # fmt: skip

    def fits_of(self, plan: DayPlan) -> tuple[dict[str, Target], dict[str, Fit]]:
        """Return targets and tables of a day."""
        if plan.is_usual:
            return dict(self.targets), self.fits
        if plan.key not in self._days:
            known = {id: (self.targets[id], self.fits[id]) for id in self.targets}
            known |= {id: self._box(id, window) for id, window in plan.windows.items()}
            targets = {id: target for id, (target, _) in known.items()}
            for id in plan.dark:
                targets[id] = replace(
                    self.targets[id], reachable=np.zeros(SECONDS_PER_DAY), corners=()
                )
            for id, scale in plan.scale.items():
                targets[id] = self._scaled(id, self._followed(scale))
            self._days[plan.key] = fit_day(self.schedule, targets, {}, known)
        return self._days[plan.key]

    def _followed(self, scale: Floats) -> Floats:
        """Return what rows on the grid of times can follow of a scale by the minute, and no more.

        Shape (86400,). It changes from one time of the grid to the next, never above the scale.
        """
        step_s = self.step_s
        least = np.repeat(scale, MOMENT_S).reshape(-1, step_s).min(axis=1)
        if self.schedule.controller.times.between == "hold":
            return np.repeat(least, step_s)
        nodes = np.minimum(least, np.roll(least, 1))
        part = np.arange(SECONDS_PER_DAY) % step_s / step_s
        return np.repeat(nodes, step_s) * (1 - part) + np.repeat(np.roll(nodes, -1), step_s) * part

    def _scaled(self, id: str, scale: Floats) -> Target:
        """Return the target of a channel that gives way; below its floor it goes dark if it can."""
        target, ballast = self.targets[id], self.schedule.channels[id].ballast.curve
        wanted = target.reachable * scale
        reachable = ballast.reachable(wanted, target.path.most_light)
        if ballast.dark != "never":
            reachable[(scale < 1.0) & (wanted < ballast.floor_light)] = 0.0
        slope = np.diff(scale, append=scale[0])
        changes = np.flatnonzero(np.abs(slope - np.roll(slope, 1)) > SLACK)
        corners = tuple(sorted({*target.corners, *changes.tolist()}))
        return replace(target, reachable=reachable, corners=corners, may_exceed=False)
