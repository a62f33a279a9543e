"""Day types of dates whose days follow the sky: few tables, each for some days in a row."""

from __future__ import annotations

import datetime as dt
import functools
import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Floats, give_back_freed_memory
from photoperiod.days.day_curves import KEPT_DATES, DayCurves
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_fit import FittedChannel, fit_day, keeps_limits, light_path
from photoperiod.program.day_samples import DaySamples
from photoperiod.program.day_types import ChannelSeason, DayType, SeasonCount, SeasonError
from photoperiod.program.model import Progress
from photoperiod.program.season_days import SAMPLE_S, ComparedDays, Season, SeasonDays
from photoperiod.program.season_groups import SeasonGroup
from photoperiod.program.season_runs import (
    Ahead,
    changes_fast,
    fewest_possible,
    runs_of_number,
    seasons,
)
from photoperiod.program.seasons_ahead import SeasonHelpers, seasons_ahead
from photoperiod.schedule.model import DatedTables, Schedule
from photoperiod.setpoints.fit import Fit
from photoperiod.setpoints.problem import Target
from photoperiod.units import SECONDS_PER_DAY

_DAY = dt.timedelta(days=1)


def season_day_types(
    schedule: Schedule,
    days: DayCurves,
    span: DateSpan,
    progress: Progress | None = None,
    helpers: SeasonHelpers | None = None,
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
    helpers : SeasonHelpers or None
        Other processes that choose tables ahead; what is chosen is the same without them.
    """
    finder = _Finder(schedule, days, span, progress, helpers)
    found = finder.day_types(), tuple(finder.counts)
    del finder
    # Its samples of many years leave much room, and the rest has no use for it.
    if span.days > KEPT_DATES:
        give_back_freed_memory()
    return found


class _Finder:
    """Chooses which days of a span share a table."""

    def __init__(
        self,
        schedule: Schedule,
        days: DayCurves,
        span: DateSpan,
        progress: Progress | None,
        helpers: SeasonHelpers | None,
    ) -> None:
        self.schedule, self.days, self.span = schedule, days, span
        self.progress, self.helpers = progress, helpers
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
        parts = [part for wanted, ids in asked.items() for part in self._parts(ids, wanted)]
        compared = [group.compared(self.days) for group, _ in parts]
        by_errors = {
            n: (group, days)
            for n, (days, (group, runs)) in enumerate(zip(compared, parts, strict=True))
            if runs is None
        }
        ahead: Mapping[int, Ahead] = {}
        if self.helpers is not None:
            ahead = seasons_ahead(by_errors, self.helpers, self.progress)
        found = []
        for number, (days, (group, runs)) in enumerate(zip(compared, parts, strict=True)):
            if runs is None:
                found.append(self._by_errors(group, days, ahead.get(number)))
            else:
                found.append(self._on_runs(days, runs))
        joined = self._join(compared, found)
        self.samples = {}
        for each in compared:
            each.let_go(self._light_on)
        return joined

    def _parts(
        self, ids: set[str], wanted: DatedTables
    ) -> list[tuple[SeasonGroup, list[tuple[int, int]] | None]]:
        """Return channels of which the same is asked, slow and fast ones apart.

        Beside them the runs of days that share a table, where their number is asked for.
        """
        tolerance_s = max(self.schedule.controller.times.step_s, wanted.time_error_s)
        fast = {
            id
            for id in ids
            if changes_fast(self.samples[id], wanted.light_error, wanted.dose_error, tolerance_s)
        }
        slow = ids - fast
        apart = [slow, fast] if not self.schedule.controller.shared_times else [ids]
        groups = [
            SeasonGroup(
                schedule=self.schedule,
                first=self.span.first,
                samples={id: samples for id, samples in self.samples.items() if id in each},
                tolerance_s=tolerance_s,
                breaks=self.breaks,
                light_error=wanted.light_error,
                dose_error=wanted.dose_error,
                is_fast=bool(each & fast),
            )
            for each in apart
            if each
        ]
        if wanted.tables is None:
            return [(each, None) for each in groups]
        # What changes nightly whatever is done has no say in which dates share a table.
        deciding_samples = {id: each for id, each in self.samples.items() if id in (slow or fast)}
        deciding = ComparedDays(deciding_samples, tolerance_s, self.breaks)
        runs = runs_of_number(deciding, max(wanted.tables, len(self.breaks) + 1))
        return [(each, runs) for each in groups]

    def _by_errors(self, group: SeasonGroup, days: SeasonDays, ahead: Ahead | None) -> list[Season]:
        """Return seasons that keep the errors of a group, and count them."""
        light, dose = group.light_error, group.dose_error
        progress = self.progress if ahead is None else None  # or it was told meanwhile
        found = seasons(days, light_error=light, dose_error=dose, ahead=ahead, progress=progress)
        fewest = fewest_possible(days, light, dose)
        self.counts.append(SeasonCount(tuple(days.samples), len(found), fewest))
        return found

    def _on_runs(self, group: SeasonDays, runs: list[tuple[int, int]]) -> list[Season]:
        """Return a table for each run."""
        found = []
        for first, last in runs:
            found.append(group.season(first, last))
            if self.progress is not None:
                self.progress(last + 1, self.span.days)
        return found

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
        self.days.keep_for(self.span.days)
        found = {id: DaySamples() for id in self.schedule.channels}
        for day in range(self.span.days):
            for id, samples in found.items():
                samples.append(self._light_on(id, day))
        return found

    def _light_on(self, id: str, day: int) -> Floats:
        """Return the light wanted at whole minutes of a day, shape (1440,). [fraction of full]"""
        channel = self.schedule.channels[id]
        light = self.days.curves(self.span.first + day * _DAY)[id].light(_minutes())
        return channel.ballast.curve.reachable(light, light_path(self.schedule, channel).most_light)


@functools.cache
def _minutes() -> Floats:
    """Return the beginning of every minute of a day, shape (1440,). [s]"""
    return np.arange(0, SECONDS_PER_DAY, SAMPLE_S, dtype=np.float64)


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
