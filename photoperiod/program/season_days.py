"""Few tables for many days: runs of days that one table serves within stated errors.

Days are compared by their light at whole minutes; a table is then measured at every second of each of
its days. The error of a table on a day has two parts. Its light may leave the range that the day wants
within a tolerance in time; the distance counts as a share of the channel's brightest light. And its dose
may differ from the day's.

At each minute, every table of a run is off by at least half the distance between the brightest and
the dimmest day of the run. That bound rules most runs out without a single fit.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from photoperiod.arrays import Floats, Singles
from photoperiod.program.day_samples import DaySamples, NearSamples
from photoperiod.program.light_error import light_error
from photoperiod.setpoints.fit import Fit
from photoperiod.setpoints.problem import Target
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Days are compared this far apart [s].
SAMPLE_S = 60

#: Lower limit of a dose in relative errors, so that doses near zero do not dominate [full-light h].
LEAST_DOSE_H = 0.05

#: How often a run is made shorter because its table did not keep the errors.
TRIES = 6

#: How often the interval is halved that holds the least error of a number of tables.
HALVINGS = 16

#: So many tables are kept while a run is looked for.
KEPT_FITS = 8

#: So many targets of days are kept meanwhile; one takes 0.7 MB.
KEPT_TARGETS = 32

Fitter = Callable[[Mapping[str, Target]], Mapping[str, Fit]]


@dataclass(frozen=True, slots=True)
class Error:
    """The largest errors of a channel's table on some days.

    ``light`` is a share of the channel's brightest light, ``dose`` a share of the day's dose.
    """

    light: float = 0.0
    dose: float = 0.0

    def joined(self, other: Error) -> Error:
        """Return the larger errors of two."""
        return Error(max(self.light, other.light), max(self.dose, other.dose))

    def keeps(self, light_most: float, dose_most: float) -> bool:
        """Return whether both errors are within bounds."""
        return self.light <= light_most and self.dose <= dose_most


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """Days in a row that share a table.

    Parameters
    ----------
    first, last : int
        The days, both included.
    fitted_first, fitted_last : int
        The days to whose middle its table was fitted.
    fits : mapping by channel
        The table.
    errors : mapping by channel
        The largest errors on any of its days.
    """

    first: int
    last: int
    fitted_first: int
    fitted_last: int
    fits: Mapping[str, Fit]
    errors: Mapping[str, Error]

    @property
    def worst(self) -> Error:
        """The largest errors of all channels."""
        return functools.reduce(Error.joined, self.errors.values())


class DayTargets(Protocol):
    """What each channel should do on each day of a span, worked out when it is looked up."""

    def __getitem__(self, day: int, /) -> Mapping[str, Target]:
        """Return the targets of a day by channel."""
        ...


class ComparedDays:
    """The days of a span, as they are compared with each other.

    Parameters
    ----------
    samples : mapping of channel to DaySamples or other rows of shape (1440,), one a day
        Light wanted within reach of the ballast, at whole minutes. [fraction of full]
    tolerance_s : int
        Light may come so much earlier or later, but by a minute at least. [s]
    breaks : frozenset of int
        Days with which a table must begin.
    """

    def __init__(
        self,
        samples: Mapping[str, Iterable[Singles]],
        tolerance_s: int,
        breaks: frozenset[int] = frozenset(),
    ) -> None:
        self.samples, self.breaks = (
            {id: DaySamples.of(rows) for id, rows in samples.items()},
            breaks,
        )
        self.days = len(next(iter(self.samples.values())))
        self.peaks = {id: max(wanted.max(), 1e-9) for id, wanted in self.samples.items()}
        self.doses = {
            id: np.maximum(wanted.means() * 24, LEAST_DOSE_H) for id, wanted in self.samples.items()
        }
        self.tolerance_s = max(tolerance_s, SAMPLE_S)
        reach = self.tolerance_s // SAMPLE_S
        self._near = {id: NearSamples(wanted, reach) for id, wanted in self.samples.items()}

    def bounds(self, id: str, day: int) -> tuple[Floats, Floats]:
        """Return the least and the most light of a channel near each minute, shape (1440,)."""
        return self._near[id].bounds(day)

    def reachable_run(self, first: int, light_error: float, dose_error: float) -> int:
        """Return the last day of the longest run that no lower bound rules out."""
        low = {id: np.zeros(SECONDS_PER_DAY // SAMPLE_S) for id in self.samples}
        high = {id: np.full(SECONDS_PER_DAY // SAMPLE_S, np.inf) for id in self.samples}
        least = dict.fromkeys(self.samples, math.inf)
        most = dict.fromkeys(self.samples, 0.0)
        for day in range(first, self.days):
            if day > first and day in self.breaks:
                return day - 1
            for id in self.samples:
                near_low, near_high = self.bounds(id, day)
                np.maximum(low[id], near_low, out=low[id])
                np.minimum(high[id], near_high, out=high[id])
                least[id] = min(least[id], float(self.doses[id][day]))
                most[id] = max(most[id], float(self.doses[id][day]))
                gap = float((low[id] - high[id]).max()) / 2
                spread = (most[id] - least[id]) / (most[id] + least[id])
                if day > first and (gap > light_error * self.peaks[id] or spread > dose_error):
                    return day - 1
        return self.days - 1


class SeasonDays(ComparedDays):
    """The days of a span and the tables that serve them.

    Parameters
    ----------
    samples, tolerance_s, breaks
        As for `ComparedDays`.
    targets : DayTargets
        What the table of a single day would be fitted to.
    fitter : callable
        Fits the tables of all channels.
    keep_dark : frozenset of str
        Channels that are never lit where some day wants them dark, such as a moon before it rises.
    """

    def __init__(
        self,
        samples: Mapping[str, Iterable[Singles]],
        targets: DayTargets,
        fitter: Fitter,
        tolerance_s: int,
        breaks: frozenset[int] = frozenset(),
        keep_dark: frozenset[str] = frozenset(),
    ) -> None:
        super().__init__(samples, tolerance_s, breaks)
        self.targets, self.fitter, self.keep_dark = targets, fitter, keep_dark
        # A day is looked at for several tables in a row.
        kept_days = max(KEPT_TARGETS // len(samples), 2)
        self._targets = functools.lru_cache(maxsize=kept_days)(targets.__getitem__)
        # A run of days may be tried again within a few tries.
        self._kept_fit = functools.lru_cache(maxsize=KEPT_FITS)(self._fit)
        # One run may hold on while another group of channels has many.
        self.middle = functools.lru_cache(maxsize=1)(self._middle)
        # A table is looked at again where it is cut, and where other channels change.
        self._known_errors: dict[tuple[str, Fit, int, bool], Error] = {}

    def _middle(self, first: int, last: int) -> Mapping[str, Target]:
        """Return what the table of a run is fitted to.

        That is its middle day, lit and dark when that day is: moved at each minute by as little as
        it takes to be right on all days, or to halfway between them where that can't be.
        """
        day = (first + last) // 2
        targets = self._targets(day)
        if first == last:
            return targets
        found = {}
        for id, target in targets.items():
            near = [self.bounds(id, each) for each in range(first, last + 1)]
            low = np.max([bounds[0] for bounds in near], axis=0)
            high = np.min([bounds[1] for bounds in near], axis=0)
            wanted = self.samples[id][day].astype(np.float64)
            right = np.where(low <= high, np.clip(wanted, low, high), (low + high) / 2)
            change = right - wanted
            minutes = np.arange(len(change) + 1) * float(SAMPLE_S)
            seconds = np.arange(SECONDS_PER_DAY, dtype=np.float64)
            moved = target.reachable + np.interp(seconds, minutes, np.append(change, change[0]))
            ballast = target.path.ballast
            moved = ballast.reachable(
                np.maximum(moved, ballast.floor_light), target.path.most_light
            )
            lit = target.reachable > 0
            if id in self.keep_dark:
                lit &= np.repeat(high > 0, SAMPLE_S)
            found[id] = replace(target, reachable=np.where(lit, moved, 0.0))
        return found

    def errors(
        self, fits: Mapping[str, Fit], first: int, last: int, light_most: float = math.inf,
        dose_most: float = math.inf,
    ) -> tuple[dict[str, Error], int]:  # fmt: skip
        """Return the errors of a table by channel, and the last day up to which they keep bounds."""
        found = dict.fromkeys(fits, Error())
        given = {id: each.replay.light[::SAMPLE_S] for id, each in fits.items()}
        doses = {id: float(each.replay.light.sum()) / 3600 for id, each in fits.items()}
        for day in range(first, last + 1):
            now = {}
            for id, shown in given.items():
                low, high = self.bounds(id, day)
                light = float(np.maximum(low - shown, shown - high).max()) / self.peaks[id]
                if id in self.keep_dark and first < last and ((shown > 0) & (high <= 0)).any():
                    light = max(light, 1.0)
                wanted = float(self.doses[id][day])
                dose = abs(max(doses[id], LEAST_DOSE_H) - wanted) / wanted
                now[id] = found[id].joined(Error(light, dose))
            if all(error.keeps(light_most, dose_most) for error in now.values()):
                for id, error in self._at_every_second(fits, day, is_alone=first == last).items():
                    now[id] = now[id].joined(error)
            if not all(error.keeps(light_most, dose_most) for error in now.values()):
                return found, day - 1
            found = now
        return found, last

    def _at_every_second(
        self, fits: Mapping[str, Fit], day: int, *, is_alone: bool
    ) -> dict[str, Error]:
        """Return the errors of a table on a day by channel, looked at in every second."""
        found = {}
        for id, each in fits.items():
            key = id, each, day, is_alone or id not in self.keep_dark
            if key not in self._known_errors:
                wanted = self._targets(day)[id].reachable
                self._known_errors[key] = self._error_of(id, each, wanted, may_light=key[-1])
            found[id] = self._known_errors[key]
        return found

    def _error_of(self, id: str, found: Fit, wanted: Floats, *, may_light: bool) -> Error:
        """Return the error of a table of a channel beside what is wanted in each second of a day.

        ``may_light`` is False if light where none is wanted is as wrong as can be.
        """
        given = found.replay.light
        off_light = light_error(given, wanted, self.tolerance_s)
        light = off_light.most / self.peaks[id]
        if off_light.lights_dark and not may_light:
            light = max(light, 1.0)
        dose = max(float(wanted.sum()) / SECONDS_PER_HOUR, LEAST_DOSE_H)
        off = abs(max(float(given.sum()) / SECONDS_PER_HOUR, LEAST_DOSE_H) - dose)
        return Error(light, off / dose)

    def fit(self, first: int, last: int) -> Mapping[str, Fit]:
        """Return the table of a run."""
        return self._kept_fit(first, last)

    def _fit(self, first: int, last: int) -> Mapping[str, Fit]:
        return self.fitter(self.middle(first, last))

    def season(self, first: int, last: int) -> Season:
        """Return days with a table of their own, and its errors on each of them."""
        fits = self.fit(first, last)
        errors, _ = self.errors(fits, first, last)
        return Season(
            first=first, last=last, fitted_first=first, fitted_last=last, fits=fits, errors=errors
        )


def seasons(
    span: SeasonDays,
    *,
    light_error: float,
    dose_error: float,
    progress: Callable[[int, int], None] | None = None,
) -> list[Season]:
    """Return runs that keep both errors, each as long as can be found; few fits are made.

    A day whose own table misses the errors stands alone, with the errors that it has.

    Parameters
    ----------
    span : SeasonDays
        The days.
    light_error, dose_error : float
        The most that any table may be off on any of its days. [share]
    progress : callable or None
        Told how many days of how many are done.
    """
    found: list[Season] = []
    first, slack = 0, 0.0
    while first < span.days:
        season, slack = _season(span, first, light_error, dose_error, slack)
        found.append(season)
        first = season.last + 1
        if progress is not None:
            progress(first, span.days)
    return found


def _season(
    span: SeasonDays, first: int, light_error: float, dose_error: float, slack: float
) -> tuple[Season, float]:
    """Return the run that begins with a day, and what its fit took of the error of light.

    ``slack`` is what the fit before took: so much is left free at the first try.
    """
    longest = span.reachable_run(first, light_error, dose_error)
    last = min(longest, span.reachable_run(first, max(light_error - slack, 0.0), dose_error))
    best: Season | None = None
    for _ in range(TRIES):
        fits = span.fit(first, last)
        errors, kept = span.errors(fits, first, longest, light_error, dose_error)
        middle = (first + last) // 2
        own, _ = span.errors(fits, middle, middle)
        slack = max(error.light for error in own.values())
        if kept >= first and (best is None or kept > best.last):
            best = Season(
                first=first, last=kept, fitted_first=first, fitted_last=last, fits=fits,
                errors=errors,
            )  # fmt: skip
        if kept >= last or last == first:
            break
        # A quarter of the run is given up, or as much as it missed by.
        last = max(first, min(last - max((last - first) // 4, 1), max(kept, first)))
        if best is not None and last <= best.last:
            break
    if best is None:  # its own table misses the errors
        best = span.season(first, first)
    return best, slack


def runs_of_number(span: ComparedDays, number: int) -> list[tuple[int, int]]:
    """Return at most so many runs, or one for each break, with the least bound on errors.

    The bound is the error, of light and of dose alike, that every table of a run has. It is as small
    as that number of runs allows. No table is fitted: an error that comes from too few rows would be
    the same for any number of runs.
    """
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if fewest_possible(span, middle, middle) > number:
            low = middle
        else:
            high = middle
    runs, first = [], 0
    while first < span.days:
        runs.append((first, span.reachable_run(first, high, high)))
        first = runs[-1][1] + 1
    return runs


def fewest_possible(span: ComparedDays, light_error: float, dose_error: float) -> int:
    """Return a number of tables that no choice of runs that keeps the errors can go below."""
    count, first = 0, 0
    while first < span.days:
        first = span.reachable_run(first, light_error, dose_error) + 1
        count += 1
    return count


def changes_fast(
    samples: DaySamples, light_error: float, dose_error: float, tolerance_s: int
) -> bool:
    """Return whether a channel needs many tables, whatever they are: one for three days or more.

    Parameters
    ----------
    samples : DaySamples or other rows of shape (1440,), one a day
        Light wanted at whole minutes. [fraction of full]
    light_error, dose_error : float
        The errors that a table may have. [share]
    tolerance_s : int
        Light may come so much earlier or later. [s]
    """
    alone = ComparedDays({"": samples}, tolerance_s)
    return 3 * fewest_possible(alone, light_error, dose_error) > max(alone.days, 3)
