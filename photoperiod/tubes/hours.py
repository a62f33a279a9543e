"""Count the lit and full hours of a tube over dates, and what burn-in it still owes.

Only hours at full pay burn-in. While a tube owes, its channel should be dark or full; a dimmed run
of at most one time step, and at most five minutes, is an edge, allowed and counted. On a day that is
planned at full a line from full to a dark row takes one whole step, so there every step is an edge.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from photoperiod.arrays import Bools, runs_of_true
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Debts below this are paid: hours in a file have few decimals [s].
DEBT_SLACK_S = 1e-6


#: An edge is never longer than this, however coarse the controller's time step [s]. Our choice.
EDGE_MOST_S = 300


#: Stretches of a day, as (begin, end). [s]
Spans = tuple[tuple[int, int], ...]

#: No date on which the clock changes.
NOTHING_ODD: Mapping[dt.date, Spans] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Dimmed:
    """A run during which a tube that owes burn-in was lit but not full.

    It may go on across midnight. ``owed_hours`` is what was owed as it began, and ``edge_s`` the longest
    run that is an edge on its day. [s]
    """

    date: dt.date
    second: int
    length_s: int
    owed_hours: float
    edge_s: int = field(default=0, compare=False)

    @property
    def is_edge(self) -> bool:
        """Whether it is allowed: between dark and full, within about one time step."""
        return self.length_s <= self.edge_s

    @property
    def end(self) -> dt.datetime:
        """When it ended."""
        return _moment(self.date, self.second + self.length_s)


@dataclass(frozen=True, slots=True)
class Pattern:
    """What a channel does on days that are all alike.

    ``lit_runs`` and ``full_runs`` are when the lamp burns, and when it runs undimmed, as (start, stop);
    ``dimmed`` are the runs lit but not full, as (start, stop, time at full before
    it), and ``edge_s`` the longest run that is an edge. All in seconds.
    """

    lit_runs: Spans
    full_runs: Spans
    edge_s: int
    lit_s: int
    full_s: int
    dimmed: tuple[tuple[int, int, int], ...]

    @classmethod
    def of(cls, lit: Bools, full: Bools, step_s: int, *, is_planned_full: bool = False) -> Pattern:
        """Return the pattern of a day.

        Parameters
        ----------
        lit, full : ndarray, shape (86400,)
            Whether the lamp burns, and whether it runs undimmed.
        step_s : int
            The controller's time step. [s]
        is_planned_full : bool
            Whether the day is planned at full, so that nothing shorter than a step is possible.
        """
        full = full & lit
        lit_runs = tuple(runs_of_true(lit, repeats=False))
        full_runs = tuple(runs_of_true(full, repeats=False))
        dimmed = tuple(
            (start, stop, sum(end - begin for begin, end in full_runs if end <= start))
            for start, stop in runs_of_true(lit & ~full, repeats=False)
        )
        edge_s = step_s if is_planned_full else min(step_s, EDGE_MOST_S)
        return cls(lit_runs, full_runs, edge_s, _length_s(lit_runs), _length_s(full_runs), dimmed)

    @property
    def lit(self) -> Bools:
        """Whether the lamp burns, shape (86400,)."""
        return _within(self.lit_runs)

    @property
    def full(self) -> Bools:
        """Whether it runs undimmed, shape (86400,)."""
        return _within(self.full_runs)

    @property
    def is_dark_or_full(self) -> bool:
        """Whether the lamp is at full whenever it burns, but for edges."""
        return self.full_s > 0 and all(
            stop - start <= self.edge_s for start, stop, _ in self.dimmed
        )


@dataclass(slots=True)
class TubeHours:
    """What one tube burned and paid over the dates that were added by `run`.

    Parameters
    ----------
    lit_hours_before : float
        Hours burned before the first date. [h]
    owed_hours_before : float
        Hours at full owed before the first date. [h]
    lit_seconds, full_seconds : int
        Time lit, and at full, within the dates. [s]
    paid_at : datetime or None
        When the last owed second was paid; None if nothing was owed or it is not paid yet.
    runs : list of Dimmed
        Runs lit but not full while burn-in was owed, edges among them.
    """

    lit_hours_before: float
    owed_hours_before: float
    lit_seconds: int = 0
    full_seconds: int = 0
    paid_at: dt.datetime | None = None
    runs: list[Dimmed] = field(default_factory=list)

    @property
    def lit_hours(self) -> float:
        """Hours burned, those before the first date included. [h]"""
        return self.lit_hours_before + self.lit_seconds / SECONDS_PER_HOUR

    @property
    def full_hours(self) -> float:
        """Hours at full within the dates. [h]"""
        return self.full_seconds / SECONDS_PER_HOUR

    @property
    def owed_hours(self) -> float:
        """Hours at full still owed. [h]"""
        return self._owed_s() / SECONDS_PER_HOUR

    @property
    def dimmed(self) -> list[Dimmed]:
        """Runs that are no edges, in order."""
        return [run for run in self.runs if not run.is_edge]

    @property
    def edge_seconds(self) -> int:
        """Time in edges. [s]"""
        return sum(run.length_s for run in self.runs if run.is_edge)

    def _owed_s(self) -> float:
        owed = self.owed_hours_before * SECONDS_PER_HOUR - self.full_seconds
        return owed if owed > DEBT_SLACK_S else 0.0

    def run(
        self,
        dates: Iterable[dt.date],
        pattern: Pattern,
        fitted: dt.datetime | None = None,
        removed: dt.datetime | None = None,
        passing: Mapping[dt.date, Spans] = NOTHING_ODD,
    ) -> TubeHours:
        """Add days that are all alike; the hours themselves are changed and returned.

        Parameters
        ----------
        dates : iterable of date
            Days on which the tube's channel does the same, in order.
        pattern : Pattern
            What it does.
        fitted : datetime or None
            When the tube was fitted: seconds before this do not count. None if it is in already.
        removed : datetime or None
            When it was removed: seconds from this on do not count. None if it stays.
        passing : mapping of date to tuple of (int, int)
            Stretches of the day that pass on dates of another length, where the clock changes. [s]
        """
        for date in dates:
            begin = _seconds_before(fitted, date)
            end = SECONDS_PER_DAY if removed is None else _seconds_before(removed, date)
            if begin >= end:
                continue
            owed_s = self._owed_s()
            if begin > 0 or end < SECONDS_PER_DAY or 0 < owed_s <= pattern.full_s + DEBT_SLACK_S:
                self._run_day(date, slice(begin, end), pattern)
                self._correct(date, slice(begin, end), pattern, passing.get(date))
                continue
            if owed_s > 0:  # not to be paid today
                for start, stop, paid_s in pattern.dimmed:
                    owed = (owed_s - paid_s) / SECONDS_PER_HOUR
                    self._add_run(Dimmed(date, start, stop - start, owed, pattern.edge_s))
            self.lit_seconds += pattern.lit_s
            self.full_seconds += pattern.full_s
            self._correct(date, slice(begin, end), pattern, passing.get(date))
        return self

    def _correct(self, date: dt.date, there: slice, pattern: Pattern, spans: Spans | None) -> None:
        """Count seconds of a date that come twice, and not those that never come.

        A debt that is paid by them is paid as the date ends.
        """
        if spans is None:
            return
        times = np.full(SECONDS_PER_DAY, -1)
        for begin, end in spans:
            times[begin:end] += 1
        self.lit_seconds += int(times[there][pattern.lit[there]].sum())
        self.full_seconds += int(times[there][pattern.full[there]].sum())
        if self._owed_s() > 0:
            self.paid_at = None
        elif self.owed_hours_before > 0 and self.paid_at is None:
            self.paid_at = _moment(date, SECONDS_PER_DAY)

    def _run_day(self, date: dt.date, there: slice, pattern: Pattern) -> None:
        lit_now, full_now = np.zeros_like(pattern.lit), np.zeros_like(pattern.full)
        lit_now[there], full_now[there] = pattern.lit[there], pattern.full[there]
        paid_s = np.cumsum(full_now)
        owed_s = self._owed_s()
        owing = owed_s - (paid_s - full_now) > DEBT_SLACK_S  # as the second begins
        for start, stop in runs_of_true(lit_now & ~full_now & owing, repeats=False):
            owed = (owed_s - int(paid_s[start])) / SECONDS_PER_HOUR
            self._add_run(Dimmed(date, start, stop - start, owed, pattern.edge_s))
        if owed_s > 0 and paid_s[-1] >= owed_s - DEBT_SLACK_S:
            second = int(np.searchsorted(paid_s, owed_s - DEBT_SLACK_S)) + 1
            self.paid_at = _moment(date, second)
        self.lit_seconds += int(lit_now.sum())
        self.full_seconds += int(paid_s[-1])

    def _add_run(self, run: Dimmed) -> None:
        """Add a run; one that goes on from the day before is the same run."""
        if self.runs and self.runs[-1].end == _moment(run.date, run.second):
            last = self.runs[-1]
            self.runs[-1] = replace(last, length_s=last.length_s + run.length_s)
        else:
            self.runs.append(run)


@dataclass(frozen=True, slots=True)
class TubeState:
    """What a tube had burned, and what it owed, as a date began. [h]"""

    lit_hours: float
    owed_hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LastLight:
    """What a zone got on the last date on which it was lit, and for how long it is dark since.

    Parameters
    ----------
    peak_ppfd : float
        Its peak. [µmol m⁻² s⁻¹]
    dli : float or None
        Its dose; None where an older ledger does not hold it. [mol m⁻² d⁻¹]
    middle_s : float or None
        The middle of its light on the clock; None if it had none, or it is not known. [s]
    dark_days : int
        Dates since then without light.
    """

    peak_ppfd: float
    dli: float | None = None
    middle_s: float | None = None
    dark_days: int = 0


class NoDayBefore(StrEnum):
    """Why nothing is known of the day before the first date, in words."""

    NO_LEDGER = "no --ledger was given"
    NEW = "the ledger is not there yet"
    BEGINS_HERE = "the ledger begins with this date"
    NO_ZONES = "the ledger has none of these zones on that day"


@dataclass(frozen=True, slots=True)
class LedgerState:
    """What the ledger holds as a date begins.

    Parameters
    ----------
    tubes : mapping of tube to TubeState
        Tubes followed up to that date.
    windows : mapping of channel to (int, int)
        Channels that burned in at full on the day before, from when to when. [s]
    light : mapping of zone to LastLight
        What each zone got last.
    readings : mapping of channel to mapping of zone to float
        PPFD of each channel at full, as it was measured by then. [µmol m⁻² s⁻¹]
    held : mapping of channel to float
        By how much the light of channels was raised on the day before. [ratio]
    why_no_light : NoDayBefore
        Why ``light`` lacks zones.
    """

    tubes: Mapping[str, TubeState] = field(default_factory=dict)
    windows: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    light: Mapping[str, LastLight] = field(default_factory=dict)
    readings: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    held: Mapping[str, float] = field(default_factory=dict)
    why_no_light: NoDayBefore = NoDayBefore.NO_ZONES


def _length_s(runs: Spans) -> int:
    return sum(stop - start for start, stop in runs)


def _within(runs: Spans) -> Bools:
    """Return whether each second of a day lies in one of some runs, shape (86400,)."""
    found = np.zeros(SECONDS_PER_DAY, dtype=bool)
    for start, stop in runs:
        found[start:stop] = True
    return found


def _moment(date: dt.date, second: int) -> dt.datetime:
    try:
        return dt.datetime.combine(date, dt.time()) + dt.timedelta(seconds=second)
    except OverflowError:  # midnight after the last date there is
        return dt.datetime.max  # noqa: DTZ901


def _seconds_before(moment: dt.datetime | None, date: dt.date) -> int:
    """Return how many seconds of a date have passed before a moment; 0 without one."""
    if moment is None:
        return 0
    passed = (moment - dt.datetime.combine(date, dt.time())).total_seconds()
    return int(min(max(passed, 0), SECONDS_PER_DAY))
