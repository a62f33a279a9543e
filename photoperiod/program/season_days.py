"""Few tables for many days: runs of days that one table serves within stated errors.

Days are compared by their light at whole minutes; a table is then measured at every second of each of
its days. The error of a table on a day has two parts. Its light may leave the range that the day wants
within a tolerance in time; the distance counts as a share of the channel's brightest light. And its dose
may differ from the day's.

At each minute, every table of a run is off by at least half the distance between the brightest and
the dimmest day of the run, and by more where no level of the controller gives the light between them.
That bound rules most runs out without a single fit.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from photoperiod.arrays import Floats, Singles, stretch_of_true
from photoperiod.curves.curve import lines_between
from photoperiod.drive.light_path import LIGHT_SLACK
from photoperiod.program.day_samples import DaySamples, NearSamples, SamplesAgain
from photoperiod.program.light_error import light_error
from photoperiod.setpoints.fit import Fit
from photoperiod.setpoints.problem import Target
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Days are compared this far apart [s].
SAMPLE_S = 60

#: Lower limit of a dose in relative errors, so that doses near zero do not dominate [full-light h].
LEAST_DOSE_H = 0.05

#: So many tables are kept while a run is looked for.
KEPT_FITS = 8

#: So many targets of days are kept meanwhile; one takes 0.7 MB.
KEPT_TARGETS = 8

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
        known = {id: DaySamples.of(rows) for id, rows in samples.items()}
        self.samples: Mapping[str, DaySamples | SamplesAgain] = known
        self.breaks = breaks
        self.days = len(next(iter(known.values())))
        self.peaks = {id: max(wanted.max(), 1e-9) for id, wanted in known.items()}
        self.doses = {
            id: np.maximum(wanted.means() * 24, LEAST_DOSE_H) for id, wanted in known.items()
        }
        self.tolerance_s = max(tolerance_s, SAMPLE_S)
        self._near = self._all_near()

    def _all_near(self) -> dict[str, NearSamples]:
        reach = self.tolerance_s // SAMPLE_S
        return {id: NearSamples(wanted, reach) for id, wanted in self.samples.items()}

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
                spread = (most[id] - least[id]) / (most[id] + least[id])
                if day > first and (
                    spread > dose_error or self._is_ruled_out(id, low[id], high[id], light_error)
                ):
                    return day - 1
        return self.days - 1

    def _is_ruled_out(self, id: str, low: Floats, high: Floats, light_error: float) -> bool:
        """Return whether no table of a channel is near enough to all days of a run.

        Parameters
        ----------
        id : str
            The channel.
        low, high : ndarray, shape (1440,)
            At each minute what the brightest day wants at least, and the dimmest at most.
        light_error : float
            The most that the table may be off. [share]
        """
        return float((low - high).max()) / 2 > light_error * self.peaks[id]


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

    @functools.cached_property
    def _lights(self) -> Mapping[str, Floats]:
        """The light that each channel can give, rising. [fraction of full]"""
        paths = {id: target.path for id, target in self._targets(0).items()}
        return {id: np.unique(np.append(path.burning_light, 0.0)) for id, path in paths.items()}

    def _is_ruled_out(self, id: str, low: Floats, high: Floats, light_error: float) -> bool:
        """Return whether no table of a channel is near enough to all days of a run.

        Whatever its rows, it gives the light of some level, or none, at each minute.
        """
        if super()._is_ruled_out(id, low, high, light_error):
            return True
        lights, most_off = self._lights[id], light_error * self.peaks[id]
        least, most = low - most_off, high + most_off
        if id in self.keep_dark:
            most = np.where(high <= 0, 0.0, most)
        nearest = np.searchsorted(lights, least - LIGHT_SLACK)
        return bool((np.append(lights, np.inf)[nearest] > most + LIGHT_SLACK).any())

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
            found[id] = replace(
                target,
                reachable=self._moved(target, np.append(change, change[0])),
            )
            if id in self.keep_dark:
                found[id].reachable[np.repeat(high <= 0, SAMPLE_S)] = 0.0
        return found

    @staticmethod
    def _moved(target: Target, change: Floats) -> Floats:
        """Return the light of a target where it is lit, changed by so much at whole minutes.

        Shape (86400,); ``change`` has shape (1441,). [fraction of full]
        """
        light = np.zeros(SECONDS_PER_DAY)
        lit = stretch_of_true(target.reachable > 0)
        first, last = lit.start // SAMPLE_S, -(-lit.stop // SAMPLE_S)
        lines = lines_between(change[first : last + 1], SAMPLE_S)
        skipped = first * SAMPLE_S
        by_day = target.reachable[lit]
        ballast = target.path.ballast
        moved = by_day + lines[lit.start - skipped : lit.stop - skipped]
        moved = ballast.reachable(np.maximum(moved, ballast.floor_light), target.path.most_light)
        light[lit] = np.where(by_day > 0, moved, 0.0)
        return light

    def errors(self, fits: Mapping[str, Fit], first: int, last: int) -> dict[str, Error]:
        """Return the largest errors of a table on any of some days, by channel."""
        is_alone = first == last
        by_minute = self._by_minute(fits, first, last, is_alone=is_alone)
        by_second = [
            self._by_second(fits, day, is_alone=is_alone) for day in range(first, last + 1)
        ]
        return _joined([*by_minute, *by_second])

    def attempt(
        self, first: int, last: int, longest: int, light_most: float, dose_most: float
    ) -> Season | None:
        """Return the season of the table that is fitted to a run, None if it does not keep the errors.

        It goes on after the run as long as the table keeps them, up to the day ``longest``. All days are
        looked at in every minute, but of the run itself only its ends in every second: they are farthest
        from its middle. `errors` tells the rest.
        """
        fits, is_alone = self.fit(first, last), first == longest

        def keeps(errors: Mapping[str, Error]) -> bool:
            return all(each.keeps(light_most, dose_most) for each in errors.values())

        by_minute = self._by_minute(fits, first, longest, is_alone=is_alone)
        refused = (day for day, each in enumerate(by_minute, first) if not keeps(each))
        kept = next(refused, longest + 1) - 1
        for day in (last, first, *range(last + 1, kept + 1)):
            if kept < last or not keeps(self._by_second(fits, day, is_alone=is_alone)):
                if day <= last:
                    return None
                kept = day - 1
                break
        errors = _joined(by_minute[: kept - first + 1])
        return Season(
            first=first, last=kept, fitted_first=first, fitted_last=last, fits=fits, errors=errors
        )

    def _by_minute(
        self, fits: Mapping[str, Fit], first: int, last: int, *, is_alone: bool
    ) -> list[dict[str, Error]]:
        """Return the errors of a table on each of some days by channel, looked at in every minute."""
        found: list[dict[str, Error]] = [{} for _ in range(first, last + 1)]
        for id, each in fits.items():
            given = each.replay.light[::SAMPLE_S]
            dose_h = each.replay.light_s / SECONDS_PER_HOUR
            may_light = is_alone or id not in self.keep_dark
            for day, errors in enumerate(found, first):
                low, high = self.bounds(id, day)
                off = float(np.maximum(low - given, given - high).max()) / self.peaks[id]
                if not may_light and ((given > 0) & (high <= 0)).any():
                    off = max(off, 1.0)
                wanted_h = float(self.doses[id][day])
                errors[id] = Error(off, abs(max(dose_h, LEAST_DOSE_H) - wanted_h) / wanted_h)
        return found

    def _by_second(self, fits: Mapping[str, Fit], day: int, *, is_alone: bool) -> dict[str, Error]:
        """Return the errors of a table on a day by channel, looked at in every second."""
        found = {}
        for id, each in fits.items():
            key = id, each, day, is_alone or id not in self.keep_dark
            if key not in self._known_errors:
                wanted = self._targets(day)[id].reachable
                self._known_errors[key] = self._error_of(id, each, wanted, may_light=key[-1])
            found[id] = self._known_errors[key]
        return found

    def let_go(self, light_on: Callable[[str, int], Floats]) -> None:
        """Keep no samples of days, and nothing of tables: seasons are chosen, and only `middle` is asked.

        Parameters
        ----------
        light_on : callable
            Returns the samples of a channel on a day again, shape (1440,). [fraction of full]
        """
        self.samples = {
            id: SamplesAgain(functools.partial(light_on, id), self.days) for id in self.samples
        }
        self._near = self._all_near()
        self._known_errors.clear()
        self._kept_fit.cache_clear()

    def looked_at(self, season: Season) -> list[tuple[str, int, bool, Error]]:
        """Return what is known of the table of a season, for `learn`: errors by the second of days.

        Each with its channel, its day, and whether light where none is wanted was allowed.
        """
        mine = {id(fit) for fit in season.fits.values()}
        return [
            (channel, day, may_light, error)
            for (channel, fit, day, may_light), error in self._known_errors.items()
            if id(fit) in mine
        ]

    def learn(self, season: Season, looked_at: Iterable[tuple[str, int, bool, Error]]) -> None:
        """Take over what is known of a season that was chosen elsewhere."""
        for channel, day, may_light, error in looked_at:
            self._known_errors[channel, season.fits[channel], day, may_light] = error

    def _error_of(self, id: str, found: Fit, wanted: Floats, *, may_light: bool) -> Error:
        """Return the error of a table of a channel beside what is wanted near each second of a day.

        ``may_light`` is False if light where none is wanted is as wrong as can be.
        """
        given = found.replay
        off_light = light_error(given.light_steps, wanted, self.tolerance_s)
        light = off_light.most / self.peaks[id]
        if off_light.lights_dark and not may_light:
            light = max(light, 1.0)
        dose = max(float(wanted.sum()) / SECONDS_PER_HOUR, LEAST_DOSE_H)
        off = abs(max(given.light_s / SECONDS_PER_HOUR, LEAST_DOSE_H) - dose)
        return Error(light, off / dose)

    def fit(self, first: int, last: int) -> Mapping[str, Fit]:
        """Return the table of a run."""
        return self._kept_fit(first, last)

    def _fit(self, first: int, last: int) -> Mapping[str, Fit]:
        return self.fitter(self.middle(first, last))

    def season(self, first: int, last: int) -> Season:
        """Return days with a table of their own, and its errors on each of them."""
        fits = self.fit(first, last)
        errors = self.errors(fits, first, last)
        return Season(
            first=first, last=last, fitted_first=first, fitted_last=last, fits=fits, errors=errors
        )


def _joined(errors: Iterable[Mapping[str, Error]]) -> dict[str, Error]:
    """Return the larger errors of several days by channel."""
    found: dict[str, Error] = {}
    for each in errors:
        found |= {id: found.get(id, Error()).joined(error) for id, error in each.items()}
    return found
