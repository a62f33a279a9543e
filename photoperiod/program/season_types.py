"""Day types of dates whose days follow the sky: few tables, each for some days in a row."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import keep_freed_memory
from photoperiod.days.day_curves import DayCurves
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_fit import (
    FittedChannel,
    fit_channels,
    fit_day,
    keeps_limits,
    light_path,
    plan_targets,
)
from photoperiod.program.day_samples import DaySamples
from photoperiod.program.day_types import ChannelSeason, DayType, SeasonCount, SeasonError
from photoperiod.program.model import Progress
from photoperiod.program.season_days import SAMPLE_S, ComparedDays, Season, SeasonDays
from photoperiod.program.season_runs import changes_fast, fewest_possible, runs_of_number, seasons
from photoperiod.schedule.model import DatedTables, Schedule
from photoperiod.setpoints.fit import Fit
from photoperiod.setpoints.problem import Target
from photoperiod.units import SECONDS_PER_DAY

_DAY = dt.timedelta(days=1)


def season_day_types(
    schedule: Schedule, days: DayCurves, span: DateSpan, progress: Progress | None = None
) -> tuple[list[tuple[dt.date, DayType]], tuple[SeasonCount, ...]]:
    """Return the day types of a span whose days follow the sky, each with its first date.

    Beside them how many tables channels share by their errors, and how few any choice leaves.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    days : DayCurves
        Its day curves.
    span : DateSpan
        The dates for which tables are wanted.
    progress : callable or None
        Told how many days of how many are done.
    """
    finder = _Finder(schedule, days, span, progress)
    return finder.day_types(), tuple(finder.counts)


class _Finder:
    """Chooses which days of a span share a table."""

    def __init__(
        self, schedule: Schedule, days: DayCurves, span: DateSpan, progress: Progress | None
    ) -> None:
        self.schedule, self.days, self.span, self.progress = schedule, days, span, progress
        keep_freed_memory()
        #: The light wanted of each channel at whole minutes of each date.
        self.samples = self._samples()
        self.breaks = self._breaks()
        self.counts: list[SeasonCount] = []

    def day_types(self) -> list[tuple[dt.date, DayType]]:
        """Return the day types, each with its first date.

        Channels for which other errors or another number are asked are fitted apart, and so are those
        that change from night to night, such as a moon: a sun is not fitted again each night.
        """
        asked: dict[DatedTables, set[str]] = {}
        for id, channel in self.schedule.channels.items():
            asked.setdefault(self.schedule.dated_tables.of(channel), set()).add(id)
        groups: list[SeasonDays] = []
        found: list[list[Season]] = []
        for wanted, ids in asked.items():
            for group, chosen in self._seasons(ids, wanted):
                groups.append(group)
                found.append(chosen)
        return self._join(groups, found)

    def _seasons(self, ids: set[str], wanted: DatedTables) -> list[tuple[SeasonDays, list[Season]]]:
        """Return the seasons of channels of which the same is asked, slow and fast ones apart."""
        tolerance_s = max(self.schedule.controller.times.step_s, wanted.time_error_s)
        fast = {
            id
            for id in ids
            if changes_fast(self.samples[id], wanted.light_error, wanted.dose_error, tolerance_s)
        }
        slow = ids - fast
        apart = [slow, fast] if not self.schedule.controller.shared_times else [ids]
        groups = [self._compared(each, tolerance_s) for each in apart if each]
        if wanted.tables is None:
            errors = {"light_error": wanted.light_error, "dose_error": wanted.dose_error}
            found = [(each, seasons(each, **errors, progress=self.progress)) for each in groups]
            for each, chosen in found:
                fewest = fewest_possible(each, **errors)
                self.counts.append(SeasonCount(tuple(each.samples), len(chosen), fewest))
            return found
        # What changes nightly whatever is done has no say in which dates share a table.
        samples = {id: each for id, each in self.samples.items() if id in (slow or fast)}
        deciding = ComparedDays(samples, tolerance_s, self.breaks)
        runs = runs_of_number(deciding, max(wanted.tables, len(self.breaks) + 1))
        return [(each, self._on_runs(each, runs)) for each in groups]

    def _on_runs(self, group: SeasonDays, runs: list[tuple[int, int]]) -> list[Season]:
        """Return a table for each run."""
        found = []
        for first, last in runs:
            found.append(group.season(first, last))
            if self.progress is not None:
                self.progress(last + 1, self.span.days)
        return found

    def _compared(self, ids: set[str], tolerance_s: int) -> SeasonDays:
        """Return the days of the span, as some channels are compared on them."""
        samples = {id: each for id, each in self.samples.items() if id in ids}
        targets = _TargetsOfDays(self.schedule, self.days, self.span.first, frozenset(samples))
        moons = frozenset(id for id in samples if self.schedule.channels[id].moonlight is not None)
        return SeasonDays(samples, targets, self._fit_some, tolerance_s, self.breaks, moons)

    def _join(
        self, groups: list[SeasonDays], found: list[list[Season]]
    ) -> list[tuple[dt.date, DayType]]:
        """Return day types made of what was chosen for groups of channels."""
        firsts = sorted({season.first for group in found for season in group})
        joined = []
        for first, after in itertools.pairwise([*firsts, self.span.days]):
            now = [next(s for s in group if s.first <= first <= s.last) for group in found]
            day_type = self._day_type(list(zip(groups, now, strict=True)), first, after - 1)
            joined.append((self.span.first + first * _DAY, day_type))
        return joined

    def _day_type(self, parts: list[tuple[SeasonDays, Season]], first: int, last: int) -> DayType:
        """Return the day type of some days on which each group of channels has one table."""
        targets = _TargetsOfSeasons(tuple(parts))
        fits = self._within_limits(
            targets, {id: found for _, season in parts for id, found in season.fits.items()}
        )
        errors = {}
        for group, season in parts:
            mine = {id: fits[id] for id in season.fits}
            known = season.errors
            if (first, last) != (season.first, season.last) or mine != season.fits:
                known = group.errors(mine, first, last)
            for id, error in known.items():
                errors[id] = ChannelSeason(
                    error=error,
                    first=self.span.first + season.first * _DAY,
                    days=season.last - season.first + 1,
                )
        order = list(self.schedule.channels)
        return DayType(
            self.schedule,
            self.days.curves,
            targets,
            {id: fits[id] for id in order},
            SeasonError({id: errors[id] for id in order}),
        )

    def _within_limits(
        self, targets: Callable[[], Mapping[str, Target]], fits: dict[str, Fit]
    ) -> dict[str, Fit]:
        """Return tables of groups fitted apart, again where together they lift a zone over its limit."""
        if keeps_limits(self.schedule, fits):
            return fits
        wanted = targets()
        known = {id: FittedChannel(wanted[id], fits[id]) for id in wanted}
        return {id: each.fit for id, each in fit_day(self.schedule, wanted, known).items()}

    def _breaks(self) -> frozenset[int]:
        """Return the days of a span with which a table must begin, because a clock changes.

        The lesser part of the day on which it changes counts as an error: before noon it is the hours
        before the change, mostly dark; later, those after it.
        """
        found = self._turns()
        if self.days.has_one_clock:
            return frozenset(found)
        clock = self.days.controller_clock
        for _, change in self.days.clock_changes(self.span.first, self.span.last):
            date, second = clock.wall_of(change.at_unix_s)
            found.add((date - self.span.first).days + (second > SECONDS_PER_DAY // 2))
        return frozenset(found & set(range(1, self.span.days)))

    def _turns(self) -> set[int]:
        """Return the days of a span on which a change turns."""
        found: set[int] = set()
        date = self.days.alike_until(self.span.first)
        while date < self.span.last:
            found.add((date - self.span.first).days + 1)
            date = self.days.alike_until(date + _DAY)
        return found

    def _samples(self) -> dict[str, DaySamples]:
        """Return the light wanted of each channel at whole minutes of each date."""
        minutes = np.arange(0, SECONDS_PER_DAY, SAMPLE_S, dtype=np.float64)
        channels = self.schedule.channels
        found = {id: DaySamples() for id in channels}
        paths = {id: light_path(self.schedule, channel) for id, channel in channels.items()}
        for date in self.span:
            for id, curve in self.days.curves(date).items():
                ballast = channels[id].ballast.curve
                found[id].append(ballast.reachable(curve.light(minutes), paths[id].most_light))
        return found

    def _fit_some(self, targets: Mapping[str, Target]) -> Mapping[str, Fit]:
        """Fit some channels; with all of them, no zone is lifted over its limit by the fit."""
        if len(targets) == len(self.schedule.channels):
            return {id: each.fit for id, each in fit_day(self.schedule, targets).items()}
        return fit_channels(self.schedule, targets)


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


@dataclass(frozen=True, slots=True)
class _TargetsOfSeasons:
    """The targets of seasons that hold together: they are too big to be kept for a year."""

    parts: tuple[tuple[SeasonDays, Season], ...]

    def __call__(self) -> Mapping[str, Target]:
        return {
            id: target
            for group, season in self.parts
            for id, target in group.middle(season.fitted_first, season.fitted_last).items()
        }
