"""From a schedule and dates to a program: which table holds when, with burn-in planned.

Days are gone through in order, because what a tube owes decides what its channel does, and what the
channel does decides what the tube owes. Where nothing is owed, many days are one step.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.drive.depreciation import mean_light
from photoperiod.program.channel_day import CompiledDay
from photoperiod.program.day_sequence import DaySequence, Progress
from photoperiod.program.day_types import DayType
from photoperiod.program.model import DateSpan, Program, Table, TubeUse
from photoperiod.schedule.model import Channel, Schedule, Tube
from photoperiod.tubes.burn_in import BY_PLAN, DayPlan
from photoperiod.tubes.hours import LedgerState, TubeHours
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Brightness that differs by this share is the same.
SLACK = 1e-9

_DAY = dt.timedelta(days=1)


def compile_program(
    schedule: Schedule,
    span: DateSpan | None = None,
    ledger: LedgerState | None = None,
    progress: Progress | None = None,
) -> Program:
    """Return the program of a schedule.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    span : DateSpan or None
        The dates. Without them there is one day of no date, and tubes are not followed.
    ledger : LedgerState or None
        What is known as the first date begins; tubes that it does not hold are followed from their
        fitting on.
    progress : callable or None
        Told how many days of how many are done, where days follow the sky.

    Raises
    ------
    DayFault
        If the day of some date can't be built.
    """
    return _TablePlanner(schedule, span, ledger or LedgerState(), progress).program()


@dataclass(slots=True)
class _Run:
    """Days that go alike, and the light at full of each channel as they begin and end."""

    first: dt.date
    last: dt.date
    usual: DayType
    plan: DayPlan
    begin: Mapping[str, float]
    end: Mapping[str, float]

    def takes(self, later: _Run) -> bool:
        """Return whether the run right after is more of the same, no channel brighter."""
        return (
            self.usual is later.usual
            and self.plan.key == later.plan.key
            and self.plan.dimmed == later.plan.dimmed
            and all(later.begin[id] <= self.begin[id] * (1 + SLACK) for id in self.begin)
        )


class _TablePlanner:
    """The days of a schedule, one after the other."""

    def __init__(self, schedule: Schedule, span: DateSpan | None, ledger: LedgerState,
                 progress: Progress | None) -> None:  # fmt: skip
        self.schedule, self.span, self.ledger = schedule, span, ledger
        self.sequence = DaySequence(schedule, span, progress)
        self.ledgers: dict[str, TubeHours] = {}

    def program(self) -> Program:
        """Return the program."""
        usual = self.sequence.first().compiled(BY_PLAN, {}, self.span.first if self.span else None)
        if self.span is None:
            return self._program(usual, [Table(span=None, day=usual)], {})
        tables = self._tables(self.span)
        tubes = {
            tube.id: TubeUse(
                tube=tube,
                channel=channel.id,
                hours=self.ledgers[tube.id],
                is_fitted=tube.fitted is None or tube.fitted.date() <= self.span.last,
            )
            for channel in self.schedule.channels.values()
            for tube in channel.tubes
        }
        return self._program(usual, tables, tubes)

    def _program(
        self, usual: CompiledDay, tables: list[Table], tubes: Mapping[str, TubeUse]
    ) -> Program:
        days, span = self.sequence.days, self.span
        program = Program(
            schedule=self.schedule,
            span=span,
            tables=tuple(tables),
            first_day_by_plan=usual,
            tubes=tubes,
        )
        if span is not None and not days.has_one_clock:
            program = replace(
                program,
                clock_changes=tuple(days.clock_changes(span.first, span.last)),
                set_back=tuple(days.set_back(span.first, span.last)),
            )
        if span is not None and days.follows_sky:
            program = replace(program, moon_nights=self._moon_nights(tables))
        return program

    def _moon_nights(self, tables: list[Table]) -> dict[str, tuple[int, int, int]]:
        """Return on how many dates the tables show a moon, of how many, and how many they invent.

        A moon is shown if at least half of its light is given.
        """
        moons = self.sequence.days.moons()
        counts = {id: [0, 0, 0] for id in moons}
        middles = np.arange(30, SECONDS_PER_DAY, 60)
        for table in tables if moons else ():
            given = {id: table.channels[id].replay.light[middles] for id in moons}
            for date in table.span or ():
                curves = self.sequence.days.curves(date)
                for id in moons:
                    wanted = curves[id].light(middles.astype(np.float64))
                    total = float(wanted.sum())
                    same = float(np.minimum(wanted, given[id]).sum())
                    counts[id][0] += total > 0 and same >= total / 2
                    counts[id][1] += total > 0
                    counts[id][2] += total == 0 and bool(given[id].any())
        return {id: (shown, nights, extra) for id, (shown, nights, extra) in counts.items()}

    def _tables(self, span: DateSpan) -> list[Table]:
        """Return the tables of a span; the ledgers are run over it."""
        self._open_ledgers(span)
        before = replace(BY_PLAN, windows=dict(self.ledger.windows))
        date = self._begin(span)
        if date < span.first:
            before = self._walk(date, span.first - _DAY, before)[-1].plan
            for id, ledger in self.ledgers.items():  # the report is on the span alone
                self.ledgers[id] = TubeHours(ledger.lit_hours, ledger.owed_hours)
        runs: list[_Run] = []
        for run in self._walk(span.first, span.last, before):
            if runs and runs[-1].takes(run):
                runs[-1].last, runs[-1].end = run.last, run.end
            else:
                runs.append(run)
        return [self._table(run) for run in runs]

    def _open_ledgers(self, span: DateSpan) -> None:
        for tube in self.schedule.tubes.values():
            known = self.ledger.tubes.get(tube.id)
            if known:
                self.ledgers[tube.id] = TubeHours(known.lit_hours, known.owed_hours)
            else:
                self.ledgers[tube.id] = TubeHours(tube.lit_hours, tube.burn_in_full_hours)

    def _begin(self, span: DateSpan) -> dt.date:
        """Return the date from which tubes are followed: the first fitting before the span."""
        fitted = [
            tube.fitted.date()
            for tube in self.schedule.tubes.values()
            if tube.fitted and tube.id not in self.ledger.tubes
        ]
        return min([*fitted, span.first])

    def _walk(self, first: dt.date, last: dt.date, before: DayPlan) -> list[_Run]:
        """Run the ledgers over some dates and return how their days go.

        A burn-in that waits is weighed again on Mondays alone, wherever the dates are cut.
        """
        found: list[_Run] = []
        date = first
        while True:
            usual = self.sequence.on(date)
            stop = self.sequence.until(date, self._until(date, last))
            if self._rises(date):
                stop = date
            now, plan = self._brightness(date), BY_PLAN
            owing = self._owing(date)
            if owing and self.schedule.burn_in == "plan":
                plan = self._plan_or_wait(date, owing, now, before, is_first=not found)
                pays = plan.windows or any(usual.patterns[id].full_s for id in plan.dimmed)
                stop = date if pays else min(stop, _sunday(date))
            self._run(date, stop, usual, plan)
            end = self._brightness(stop)
            begin = {id: max(now[id], end[id]) for id in now}  # tubes may still grow brighter
            found.append(_Run(date, stop, usual, plan, begin, end))
            if stop == last:
                return found
            date, before = stop + _DAY, plan

    def _plan_or_wait(self, date: dt.date, owing: Mapping[str, float], brightness: Mapping[str, float],
                      before: DayPlan, *, is_first: bool) -> DayPlan:  # fmt: skip
        """Return the plan of a date; yesterday's if some wait and it is not time to weigh again."""
        is_asked = bool(before.windows) or date.weekday() == 0 or self._is_new(owing, date)
        if is_asked or is_first:
            plan = self._plan(date, owing, brightness, before.windows)
            if is_asked or not plan.windows:
                return plan
            before = replace(BY_PLAN, reasons=dict.fromkeys(owing, "it is weighed again on Monday"))
        return replace(before, dimmed=frozenset(owing))

    def _plan(self, date: dt.date, owing: Mapping[str, float], brightness: Mapping[str, float],
              windows: Mapping[str, tuple[int, int]]) -> DayPlan:  # fmt: skip
        usual = self.sequence.on(date)
        kept_full = frozenset(
            id
            for id, channel in self.schedule.channels.items()
            if usual.patterns[id].is_dark_or_full and self._owed(channel, date) > 0
        )
        curves = self.sequence.days.curves(date)
        return usual.plan(curves, owing, kept_full, brightness, windows)

    def _owed(self, channel: Channel, date: dt.date) -> float:
        """Return what the tubes of a channel owe at most on a date. [h]"""
        return max(
            (
                self.ledgers[tube.id].owed_hours
                for tube in channel.tubes
                if self._burns_on(channel, tube, date)
            ),
            default=0.0,
        )

    def _is_new(self, owing: Mapping[str, float], date: dt.date) -> bool:
        """Return whether a date is the first on which some tube that owes burns."""
        tubes = [
            (self.schedule.channels[id], tube)
            for id in owing
            for tube in self.schedule.channels[id].tubes
            if self.ledgers[tube.id].owed_hours > 0
        ]
        return any(
            self._burns_on(channel, tube, date)
            and (date == dt.date.min or not self._burns_on(channel, tube, date - _DAY))
            for channel, tube in tubes
        )

    def _rises(self, date: dt.date) -> bool:
        """Return whether some tube may still grow brighter on a date."""
        return any(
            tube.depreciation is not None
            and self._is_in(tube, date)
            and self.ledgers[tube.id].lit_hours < tube.depreciation.brightest_at_h
            for tube in self.schedule.tubes.values()
        )

    def _until(self, date: dt.date, last: dt.date) -> dt.date:
        """Return the last date before another tube is fitted or, fitted tonight, first burns."""
        for tube in self.schedule.tubes.values():
            if tube.fitted is None or tube.fitted.date() < date:
                continue
            last = min(last, max(tube.fitted.date() - _DAY, date))
        return last

    def _owing(self, date: dt.date) -> dict[str, float]:
        """Return the channels with tubes that owe burn-in on a date, and how much at most. [h]

        Those that are dark or full by plan need no other day.
        """
        usual = self.sequence.on(date)
        owed = {
            id: self._owed(channel, date)
            for id, channel in self.schedule.channels.items()
            if not usual.patterns[id].is_dark_or_full
        }
        return {id: hours for id, hours in owed.items() if hours > 0}

    def _burns_on(self, channel: Channel, tube: Tube, date: dt.date) -> bool:
        """Return whether a tube has any light to give on a date: one fitted at night has not."""
        if tube.fitted is None or tube.fitted.date() != date:
            return self._is_in(tube, date)
        since = tube.fitted.hour * 3600 + tube.fitted.minute * 60 + tube.fitted.second
        return bool(self.sequence.on(date).fits[channel.id].replay.lit[since:].any())

    def _is_in(self, tube: Tube, date: dt.date) -> bool:
        """Return whether a tube burns in its channel at some time of a date or before."""
        if tube.fitted is None:
            return tube.id in self.ledger.tubes or self.span is None or date >= self.span.first
        return tube.fitted.date() <= date

    def _run(self, first: dt.date, last: dt.date, usual: DayType, plan: DayPlan) -> None:
        """Add days to the ledgers."""
        dates = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
        patterns = usual.patterns_of(plan)
        for id, channel in self.schedule.channels.items():
            for tube in channel.tubes:
                if tube.fitted is None and not self._is_in(tube, first):
                    continue
                self.ledgers[tube.id].run(dates, patterns[id], tube.fitted)

    def _brightness(self, date: dt.date) -> dict[str, float]:
        """Return light at full as a date begins, beside that when PPFD was measured. [ratio]"""
        return {
            channel.id: self._light_of(channel, date) / self._light_when_measured(channel)
            for channel in self.schedule.channels.values()
        }

    def _light_of(self, channel: Channel, date: dt.date) -> float:
        """Return the light of the tubes that burn on a date, beside the declared. [ratio]"""
        tubes = [tube for tube in channel.tubes if self._is_in(tube, date)]
        return _light((tube, self.ledgers[tube.id].lit_hours) for tube in tubes or channel.tubes)

    def _light_when_measured(self, channel: Channel) -> float:
        """Return the same for the date on which PPFD was measured.

        Tubes fitted later were not there, and what stood in their place is not known: the others
        stand for it. If none was there, PPFD counts as measured with tubes as declared.
        """
        date = channel.measured_on
        if date is None:
            return 1.0
        known = []
        for tube in channel.tubes:
            if tube.fitted is None:
                known.append((tube, tube.lit_hours))
            elif tube.fitted.date() <= date:
                days = (date - tube.fitted.date()).days
                daily_h = self._daily_hours(channel, date) if tube.depreciation and days else 0.0
                known.append((tube, tube.lit_hours + daily_h * days))
        return _light(known)

    def _daily_hours(self, channel: Channel, date: dt.date) -> float:
        """Return for how long a channel is lit on a date, by tables of no particular span. [h]"""
        pattern = self.sequence.typical(date).patterns[channel.id]
        return pattern.lit_s / SECONDS_PER_HOUR

    def _table(self, run: _Run) -> Table:
        """Return the table of a run."""
        plan = run.plan
        brightness = {id: (run.begin[id], run.end[id]) for id in run.begin}
        season = run.usual.season
        return Table(
            span=DateSpan(run.first, run.last),
            day=run.usual.compiled(plan, brightness, run.first),
            plan=plan,
            season=season and season.without({*plan.windows, *plan.dark, *plan.scale}),
        )


def _light(tubes: Iterable[tuple[Tube, float]]) -> float:
    """Return the light of tubes with some lit hours together, 1 for those of unknown loss."""
    lights, shares = [], []
    for tube, lit_hours in tubes:
        lights.append(1.0 if tube.depreciation is None else tube.depreciation.light_at(lit_hours))
        shares.append(tube.light_share)
    return mean_light(lights, shares) if lights else 1.0


def _sunday(date: dt.date) -> dt.date:
    """Return the last date of a week, or the last that there is."""
    return date + dt.timedelta(days=min(6 - date.weekday(), (dt.date.max - date).days))
