"""A day type: a day by the plan that holds on some dates, its tables, and the days made from it."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from photoperiod.curves.curve import Curve
from photoperiod.days.passing_day import PassingDay
from photoperiod.drive.kept import kept_while_used
from photoperiod.program.channel_day import Brightness, CompiledDay, Role, compile_day
from photoperiod.program.day_fit import FittedChannel, fit_channels, fit_day
from photoperiod.program.mains_power import BallastsOn
from photoperiod.schedule.model import Schedule
from photoperiod.setpoints.fit import Fit, Target

if TYPE_CHECKING:
    from photoperiod.program.season_days import Error
    from photoperiod.tubes.burn_in_plan import DayPlan, Window
    from photoperiod.tubes.burn_in_windows import Moments
    from photoperiod.tubes.hours import Pattern

#: With more channels than this the targets of one day type are kept, and not of four.
WIDE_CHANNELS = 16

#: So many patterns of tables are kept: day types in a row share tables.
MOST_PATTERNS = 256

#: A plan that is later or earlier, or a window at full that would be longer, by no more than this is not
#: worth a load [s]. Our choice, no source.
LEAST_WORTH_A_LOAD_S = 60


#: No channel is held.
NOT_HELD: Mapping[str, float] = MappingProxyType({})


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


@dataclass(frozen=True, slots=True)
class SeasonCount:
    """How many tables some channels share by the errors that they may have, by their plans.

    ``fewest`` is a number that no choice of tables with these errors goes below.
    """

    channels: tuple[str, ...]
    tables: int
    fewest: int


class DayType:
    """A day by the plan: what is wanted, the tables, and the days at full made from it.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    curves_on : callable
        Gives the day curves of one of its dates.
    targets : callable
        Makes the targets of its tables: they are too big to be kept for every day of a year.
    fits : mapping of channel to Fit
        The tables.
    season : SeasonError or None
        None where all its dates want the same.
    held : mapping of channel to float
        By how much the light of channels is raised to hold it while tubes fade. [ratio]
    """

    def __init__(
        self,
        schedule: Schedule,
        curves_on: Callable[[dt.date | None], Mapping[str, Curve]],
        targets: Callable[[], Mapping[str, Target]],
        fits: Mapping[str, Fit],
        season: SeasonError | None = None,
        held: Mapping[str, float] = NOT_HELD,
    ) -> None:
        self.schedule, self.season, self.held = schedule, season, held
        self.fits = dict(fits)
        self.curves_on, self.make_targets = curves_on, targets
        self._fitted: dict[tuple[object, ...], dict[str, FittedChannel]] = {}
        self._at_full: dict[tuple[str, Window], FittedChannel] = {}

    @property
    def targets(self) -> Mapping[str, Target]:
        """What the tables were fitted to."""
        is_wide = len(self.fits) > WIDE_CHANNELS
        return _targets_of_last(self) if is_wide else _targets_of(self)

    @functools.cached_property
    def light(self) -> dict[str, Moments]:
        """The light of the tables by the minute."""
        from photoperiod.tubes.burn_in_windows import Moments

        return {id: Moments.of(found.replay.light) for id, found in self.fits.items()}

    @functools.cached_property
    def patterns(self) -> dict[str, Pattern]:
        """When the channels are lit and when undimmed."""
        return {id: pattern_of(found) for id, found in self.fits.items()}

    def patterns_of(self, plan: DayPlan) -> dict[str, Pattern]:
        """Return when the channels are lit and when undimmed on a day of a plan."""
        if plan.is_by_plan:
            return self.patterns
        return {
            id: self.patterns[id]
            if each.fit is self.fits[id]
            else _pattern(each.fit, is_planned_full=id in plan.windows)
            for id, each in self.fitted(plan).items()
        }

    @property
    def by_plan(self) -> dict[str, FittedChannel]:
        """The tables of a day by the plan, with their targets."""
        return {id: FittedChannel(target, self.fits[id]) for id, target in self.targets.items()}

    def at_full(self, id: str, window: Window) -> FittedChannel:
        """Return the table of a channel that is full in a window and dark outside it."""
        if (id, window) not in self._at_full:
            from photoperiod.program.burn_in_targets import target_at_full  # most owe no burn-in

            target = target_at_full(self.targets[id], window)
            found = fit_channels(self.schedule, {id: target})[id]
            self._at_full[id, window] = FittedChannel(target, found)
        return self._at_full[id, window]

    def fitted(self, plan: DayPlan) -> dict[str, FittedChannel]:
        """Return the tables of a day of a plan."""
        if plan.is_by_plan:
            return self.by_plan
        if plan.key not in self._fitted:
            from photoperiod.program.burn_in_targets import target_giving_way, target_in_the_dark

            known = self.by_plan
            known |= {id: self.at_full(id, window) for id, window in plan.windows.items()}
            targets = {id: each.target for id, each in known.items()}
            targets |= {id: target_in_the_dark(self.targets[id]) for id in plan.dark}
            times = self.schedule.controller.times
            targets |= {
                id: target_giving_way(self.targets[id], scale, times)
                for id, scale in plan.scale.items()
            }
            brightness = {id: 1 / factor for id, factor in self.held.items()}
            self._fitted[plan.key] = fit_day(self.schedule, targets, known, brightness)
        return self._fitted[plan.key]

    def compiled(
        self,
        plan: DayPlan,
        brightness: Mapping[str, Brightness],
        date: dt.date | None,
        passing: PassingDay | None = None,
        ballasts: Mapping[str, BallastsOn] | None = None,
    ) -> CompiledDay:
        """Return what the tables of a plan give from a date on.

        Parameters
        ----------
        plan : DayPlan
            Which channels burn in, wait or give way.
        brightness : mapping of channel to Brightness
            Light at full on the first and the last date. [ratio]
        date : date or None
            The first date.
        passing : PassingDay or None
            What really passes of it, where the controller's clock changes on it.
        ballasts : mapping of channel to BallastsOn, or None
            The ballasts that are at work where parts are out; all where a channel has none.
        """
        roles = dict.fromkeys(plan.windows, Role.FULL) | dict.fromkeys(plan.dark, Role.DARK)
        roles |= dict.fromkeys(plan.scale, Role.GIVES_WAY)
        again = functools.partial(self._curve_and_target, date) if plan.is_by_plan else None
        return compile_day(
            self.schedule,
            self.curves_on(date),
            self.fitted(plan),
            roles,
            brightness,
            again,
            passing,
            self.held,
            ballasts,
        )

    def _curve_and_target(self, date: dt.date | None, id: str) -> tuple[Curve, Target]:
        return self.curves_on(date)[id], self.targets[id]


def _pattern(found: Fit, *, is_planned_full: bool = False) -> Pattern:
    from photoperiod.tubes.hours import Pattern  # a day without a date has no hours

    replay, step_s = found.replay, found.times.step_s
    return Pattern.of(replay.lit, replay.full, step_s, is_planned_full=is_planned_full)


@kept_while_used(MOST_PATTERNS)
def pattern_of(found: Fit) -> Pattern:
    """Return when a table of a day by the plan is lit and when undimmed."""
    return _pattern(found)


@functools.lru_cache(maxsize=4)  # most of a megabyte for each channel
def _targets_of(day_type: DayType) -> Mapping[str, Target]:
    return day_type.make_targets()


@functools.lru_cache(maxsize=1)
def _targets_of_last(day_type: DayType) -> Mapping[str, Target]:
    return day_type.make_targets()
