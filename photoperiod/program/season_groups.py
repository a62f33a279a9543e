"""Channels that share tables over the dates: all that is needed to choose these, in any process."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Mapping
from dataclasses import dataclass

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.day_fit import fit_channels, fit_day, plan_targets
from photoperiod.program.day_samples import DaySamples
from photoperiod.program.season_days import SeasonDays
from photoperiod.schedule.model import Schedule
from photoperiod.setpoints.fit import Fit
from photoperiod.setpoints.problem import Target

_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonGroup:
    """Channels of which the same is asked, and which share the dates of their tables.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    first : date
        The first date.
    samples : mapping of channel to DaySamples
        Light wanted within reach of the ballast, at whole minutes of each date. [fraction of full]
    tolerance_s : int
        Light may come so much earlier or later. [s]
    breaks : frozenset of int
        Days, counted from the first date, with which a table must begin.
    light_error, dose_error : float
        The errors that a table may have on any of its dates. [share]
    is_fast : bool
        Whether some of them change from night to night, such as a moon.
    """

    schedule: Schedule
    first: dt.date
    samples: Mapping[str, DaySamples]
    tolerance_s: int
    breaks: frozenset[int]
    light_error: float
    dose_error: float
    is_fast: bool

    def compared(self, curves: DayCurves) -> SeasonDays:
        """Return the dates as they are compared, by the day curves of the schedule."""
        targets = _TargetsOfDays(self.schedule, curves, self.first, frozenset(self.samples))
        moons = frozenset(
            id for id in self.samples if self.schedule.channels[id].moonlight is not None
        )
        fitter = functools.partial(_fitted, self.schedule)
        return SeasonDays(self.samples, targets, fitter, self.tolerance_s, self.breaks, moons)


def _fitted(schedule: Schedule, targets: Mapping[str, Target]) -> Mapping[str, Fit]:
    """Fit some channels; with all of them, no zone is lifted over its limit by the fit."""
    if len(targets) == len(schedule.channels):
        return {id: each.fit for id, each in fit_day(schedule, targets).items()}
    return fit_channels(schedule, targets)


@dataclass(frozen=True, slots=True)
class _TargetsOfDays:
    """The targets of some channels on the days from a date on, worked out when they are looked up."""

    schedule: Schedule
    days: DayCurves
    first: dt.date
    ids: frozenset[str]

    def __getitem__(self, day: int) -> Mapping[str, Target]:
        curves = self.days.curves(self.first + day * _DAY)
        return plan_targets(self.schedule, {id: c for id, c in curves.items() if id in self.ids})
