"""Which day by the plan holds on which date: one for all, one for each clock, or seasons."""

from __future__ import annotations

import bisect
import datetime as dt
import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Singles
from photoperiod.days.day_curves import DayCurves
from photoperiod.program.channel_day import (
    fit_day,
    fit_some,
    keeps_limits,
    light_path,
    plan_targets,
)
from photoperiod.program.day_types import ChannelSeason, DayType, SeasonError
from photoperiod.program.model import DateSpan
from photoperiod.schedule.model import DayFault, Schedule
from photoperiod.setpoints.fit import Fit
from photoperiod.setpoints.problem import Target
from photoperiod.setpoints.seasons import (
    SAMPLE_S,
    Season,
    changes_fast,
    runs_of_number,
    seasons,
)
from photoperiod.setpoints.seasons import SeasonDays as Compared
from photoperiod.units import SECONDS_PER_DAY

#: Told how many days of how many are done.
Progress = Callable[[int, int], None]

#: Dates outside the span stand for their month by this day of it, in one year for all.
MIDDLE_OF_MONTH = 15
TYPICAL_YEAR = 2027

_DAY = dt.timedelta(days=1)


class DaySequence:
    """The days by the plan of a schedule.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    span : DateSpan or None
        The dates for which tables are wanted. On others, which tubes may have seen, a day that
        follows the sky is that of the middle of its month.
    progress : callable or None
        Told of long work.
    """

    def __init__(
        self, schedule: Schedule, span: DateSpan | None, progress: Progress | None = None
    ) -> None:
        self.schedule, self.span, self.progress = schedule, span, progress
        self.days = DayCurves(schedule)
        self._known: dict[object, DayType] = {}
        self._seasons: list[DayType] = []
        self._firsts: list[dt.date] = []
        if span is not None and self.days.follows_sky:
            self._find_seasons(span)

    def first(self) -> DayType:
        """Return the day of the first date."""
        return self.on(None if self.span is None else self.span.first)

    def on(self, date: dt.date | None) -> DayType:
        """Return the day by the plan of a date."""
        if date is not None and self.days.follows_sky:
            index = self._season_of(date)
            return self.typical(date) if index is None else self._seasons[index]
        curves = tuple(self.days.curves(date).items())
        if curves not in self._known:
            self._known[curves] = self._fitted(date)
        return self._known[curves]

    def typical(self, date: dt.date) -> DayType:
        """Return a day by the plan for a date whatever the span is, so that cuts change nothing."""
        if not self.days.follows_sky:
            return self.on(date if self.span is not None else None)
        date = date.replace(TYPICAL_YEAR, day=MIDDLE_OF_MONTH)
        if date not in self._known:
            try:
                self._known[date] = self._fitted(date)
            except DayFault as fault:
                raise DayFault([
                    replace(d, message=f"{d.message}, which stands for its month: the hours that tubes"
                            " burned before the dates asked for are reckoned by it")
                    for d in fault.diagnostics
                ]) from fault  # fmt: skip
        return self._known[date]

    def until(self, date: dt.date, last: dt.date) -> dt.date:
        """Return the last date, no later than another, that surely is like a date."""
        if self.days.follows_sky:
            index = self._season_of(date)
            if index is not None:
                return min([last, *(first - _DAY for first in self._firsts[index + 1 : index + 2])])
            next_month = (date.replace(day=1) + dt.timedelta(days=32)).replace(day=1)
            return min(last, next_month - _DAY)
        if self.days.has_one_clock:
            return last
        for change_date in self._change_dates(date, last):
            return date if change_date == date else change_date - _DAY
        return last

    def _season_of(self, date: dt.date) -> int | None:
        """Return which of the seasons a date lies in, None outside the span."""
        if self.span is None or not self._firsts or not self.span.first <= date <= self.span.last:
            return None
        return bisect.bisect_right(self._firsts, date) - 1

    def _change_dates(self, first: dt.date, last: dt.date) -> list[dt.date]:
        """Return the dates of the controller's clock on which either clock changes."""
        if self.days.has_one_clock:
            return []
        clock = self.days.controller_clock
        changes = self.days.clock_changes(first, last)
        return sorted({clock.wall_of(change.at_unix_s)[0] for _, change in changes})

    def _fitted(self, date: dt.date | None) -> DayType:
        curves = self.days.curves(date)
        targets, fits = fit_day(self.schedule, plan_targets(self.schedule, curves), {})
        return DayType(self.schedule, lambda _: curves, lambda: targets, fits)

    def _find_seasons(self, span: DateSpan) -> None:
        """Choose the tables of a span whose days follow the sky.

        Channels that change from night to night, such as a moon, are fitted apart from the others,
        so that a sun is not fitted again each night.
        """
        breaks = self._breaks(span)
        samples = self._samples(span)
        wanted = self.schedule.seasons
        tolerance_s = max(self.schedule.controller.times.step_s, wanted.time_error_s)
        fast = {
            id
            for id, of_days in samples.items()
            if changes_fast(of_days, wanted.light_error, wanted.dose_error, tolerance_s)
        }
        slow = set(samples) - fast
        apart = [slow, fast] if not self.schedule.controller.shared_times else [set(samples)]
        groups = [
            self._compared(
                {id: samples[id] for id in samples if id in ids}, span, tolerance_s, breaks
            )
            for ids in apart
            if ids
        ]
        if wanted.tables is None:
            found = [
                seasons(
                    group, light_error=wanted.light_error, dose_error=wanted.dose_error,
                    progress=self.progress,
                )
                for group in groups
            ]  # fmt: skip
        else:
            # what changes nightly whatever is done has no say in which dates share a table
            leading = {id: samples[id] for id in samples if id in (slow or fast)}
            chosen = runs_of_number(
                self._compared(leading, span, tolerance_s, breaks),
                max(wanted.tables, len(breaks) + 1),
            )
            found = [self._on_runs(group, chosen, span.days) for group in groups]
        self._join(span, groups, found)

    def _on_runs(self, group: Compared, runs: list[tuple[int, int]], days: int) -> list[Season]:
        """Return a table for each run."""
        found = []
        for first, last in runs:
            found.append(group.season(first, last))
            if self.progress is not None:
                self.progress(last + 1, days)
        return found

    def _compared(self, samples: Mapping[str, Singles], span: DateSpan, tolerance_s: int,
                  breaks: frozenset[int]) -> Compared:  # fmt: skip
        targets = _TargetsOfDays(self.schedule, self.days, span.first, frozenset(samples))
        moons = frozenset(id for id in samples if self.schedule.channels[id].moonlight is not None)
        return Compared(samples, targets, self._fit_some, tolerance_s, breaks, moons)

    def _join(self, span: DateSpan, groups: list[Compared], found: list[list[Season]]) -> None:
        """Make days by the plan of what was chosen for groups of channels."""
        firsts = sorted({season.first for group in found for season in group})
        for first, after in itertools.pairwise([*firsts, span.days]):
            now = [next(s for s in group if s.first <= first <= s.last) for group in found]
            parts = list(zip(groups, now, strict=True))
            targets = self._targets_of(parts)
            fits = self._within_limits(targets, {id: f for s in now for id, f in s.fits.items()})
            errors = {}
            for group, season in parts:
                mine = {id: fits[id] for id in season.fits}
                for id, error in group.errors(mine, first, after - 1)[0].items():
                    errors[id] = ChannelSeason(
                        error=error,
                        first=span.first + season.first * _DAY,
                        days=season.last - season.first + 1,
                    )
            self._firsts.append(span.first + first * _DAY)
            order = list(self.schedule.channels)
            self._seasons.append(
                DayType(
                    self.schedule,
                    self.days.curves,
                    targets,
                    {id: fits[id] for id in order},
                    SeasonError({id: errors[id] for id in order}),
                )
            )

    def _within_limits(
        self, targets: Callable[[], Mapping[str, Target]], fits: dict[str, Fit]
    ) -> dict[str, Fit]:
        """Return tables of groups fitted apart, again where together they lift a zone over its limit."""
        if keeps_limits(self.schedule, fits):
            return fits
        wanted = targets()
        known = {id: (wanted[id], fits[id]) for id in wanted}
        return fit_day(self.schedule, wanted, {}, known)[1]

    def _targets_of(
        self, parts: list[tuple[Compared, Season]]
    ) -> Callable[[], Mapping[str, Target]]:
        return lambda: {
            id: target
            for group, season in parts
            for id, target in group.middle(season.fitted_first, season.fitted_last).items()
        }

    def _breaks(self, span: DateSpan) -> frozenset[int]:
        """Return the days of a span with which a table must begin, because a clock changes.

        The lesser part of the day on which it changes counts as an error: before noon it is the hours
        before the change, mostly dark; later, those after it.
        """
        if self.days.has_one_clock:
            return frozenset()
        clock = self.days.controller_clock
        found = set()
        for _, change in self.days.clock_changes(span.first, span.last):
            date, second = clock.wall_of(change.at_unix_s)
            found.add((date - span.first).days + (second > SECONDS_PER_DAY // 2))
        return frozenset(found & set(range(1, span.days)))

    def _samples(self, span: DateSpan) -> dict[str, Singles]:
        """Return the light wanted of each channel at whole minutes of each date."""
        minutes = np.arange(0, SECONDS_PER_DAY, SAMPLE_S, dtype=np.float64)
        channels = self.schedule.channels
        found = {id: np.zeros((span.days, minutes.size), dtype=np.float32) for id in channels}
        paths = {id: light_path(self.schedule, channel) for id, channel in channels.items()}
        for day, date in enumerate(span):
            for id, curve in self.days.curves(date).items():
                ballast = channels[id].ballast.curve
                found[id][day] = ballast.reachable(curve.light(minutes), paths[id].most_light)
        return found

    def _fit_some(self, targets: Mapping[str, Target]) -> Mapping[str, Fit]:
        """Fit some channels; with all of them, no zone is lifted over its limit by the fit."""
        if len(targets) == len(self.schedule.channels):
            return fit_day(self.schedule, targets, {})[1]
        return fit_some(self.schedule, targets)


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
