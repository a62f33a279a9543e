"""From a schedule and dates to a program: which table holds when, with burn-in planned.

Days are gone through in order, because what a tube owes decides what its channel does, and what the
channel does decides what the tube owes. Where nothing is owed, many days are one step.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from photoperiod.day import PPFD_SLACK, Day, compile_day, fit_day, holds, plan_targets
from photoperiod.light.curves import day_middles
from photoperiod.program import DateSpan, Program, Table, TubeProgram
from photoperiod.schedule import Channel, Schedule, Tube
from photoperiod.table.fit import Fit, Target, fit
from photoperiod.tubes.burn_in import (
    BY_PLAN,
    DOSE_SHARE,
    MOMENT_S,
    DayPlan,
    Lamp,
    Limits,
    Moments,
    dose_fault,
    plan_day,
    window_around,
    window_mask,
)
from photoperiod.tubes.depreciation import mean_light
from photoperiod.tubes.ledger import Ledger, Pattern
from photoperiod.units import (
    NIGHT_PPFD_UMOL_M2_S,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    UMOL_PER_MOL,
    number_text,
)

Floats = NDArray[np.float64]

#: Weight of a channel at full among those that share its times: it has no error to give.
FULL_WEIGHT = 1e6

#: How often the length of a window is put right by what its table gives.
TRIES = 12

#: A channel whose plan never gives more than this is not run at full: a moonlight would turn night
#: to day for some minutes [fraction of full]. Our choice, no source.
LEAST_PEAK = 0.1

#: Brightness that differs by this share is the same.
SLACK = 1e-9

_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class TubeState:
    """What a tube had burned, and what it owed, as a date began. [h]"""

    lit_hours: float
    owed_hours: float


@dataclass(frozen=True, slots=True)
class Book:
    """What is known as a date begins: tubes, and the channels that were at full the day before.

    ``windows`` holds from when to when they were. [s]
    """

    tubes: Mapping[str, TubeState] = field(default_factory=dict)
    windows: Mapping[str, tuple[int, int]] = field(default_factory=dict)


def compile_program(
    schedule: Schedule, span: DateSpan | None = None, book: Book | None = None
) -> Program:
    """Return the program of a schedule.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    span : DateSpan or None
        The dates. Without them there is one day of no date, and tubes are not followed.
    book : Book or None
        What is known as the first date begins; tubes that it does not hold are followed from their
        fitting on.
    """
    return _Calendar(schedule, span, book or Book()).program()


@dataclass(slots=True)
class _Run:
    """Days that go alike, and the light at full of each channel as they begin and end."""

    first: dt.date
    last: dt.date
    plan: DayPlan
    begin: Mapping[str, float]
    end: Mapping[str, float]

    def takes(self, later: _Run) -> bool:
        """Return whether the run right after is more of the same, no channel brighter."""
        return (
            self.plan.key == later.plan.key
            and self.plan.dimmed == later.plan.dimmed
            and all(later.begin[id] <= self.end[id] * (1 + SLACK) for id in self.end)
        )


class _Calendar:
    """The days of a schedule, one after the other."""

    def __init__(self, schedule: Schedule, span: DateSpan | None, book: Book) -> None:
        self.schedule, self.span, self.book = schedule, span, book
        self.step_s = schedule.controller.times.step_s
        self.targets = plan_targets(schedule)
        self.targets, self.fits = fit_day(schedule, self.targets, {})
        self.usual = compile_day(schedule, self.targets, self.fits, {}, {})
        self.light = {id: Moments.of(found.replay.light) for id, found in self.fits.items()}
        self.patterns = {id: self._pattern(found) for id, found in self.fits.items()}
        self.ledgers: dict[str, Ledger] = {}
        self._days: dict[tuple[object, ...], tuple[dict[str, Target], dict[str, Fit]]] = {}
        self._boxes: dict[tuple[str, tuple[int, int]], tuple[Target, Fit]] = {}

    def program(self) -> Program:
        """Return the program."""
        if self.span is None:
            tables = [Table(span=None, day=self.usual, windows={})]
            return self._program(tables, {})
        tables = self._tables(self.span)
        tubes = {
            tube.id: TubeProgram(
                tube=tube,
                channel=channel.id,
                ledger=self.ledgers[tube.id],
                is_fitted=tube.fitted is None or tube.fitted.date() <= self.span.last,
            )
            for channel in self.schedule.channels.values()
            for tube in channel.tubes
        }
        return self._program(tables, tubes)

    def _program(self, tables: list[Table], tubes: Mapping[str, TubeProgram]) -> Program:
        return Program(schedule=self.schedule, span=self.span, tables=tuple(tables),
                       usual=self.usual, tubes=tubes)  # fmt: skip

    def _tables(self, span: DateSpan) -> list[Table]:
        """Return the tables of a span; the ledgers are run over it."""
        self._open_ledgers(span)
        before = replace(BY_PLAN, windows=dict(self.book.windows))
        date = self._begin(span)
        if date < span.first:
            before = self._walk(date, span.first - _DAY, before)[-1].plan
            for id, ledger in self.ledgers.items():  # the report is on the span alone
                self.ledgers[id] = Ledger(ledger.lit_hours, ledger.owed_hours)
        runs: list[_Run] = []
        for run in self._walk(span.first, span.last, before):
            if runs and runs[-1].takes(run):
                runs[-1].last, runs[-1].end = run.last, run.end
            else:
                runs.append(run)
        return [self._table(run) for run in runs]

    def _open_ledgers(self, span: DateSpan) -> None:
        for tube in self.schedule.tubes.values():
            known = self.book.tubes.get(tube.id)
            if known:
                self.ledgers[tube.id] = Ledger(known.lit_hours, known.owed_hours)
            else:
                self.ledgers[tube.id] = Ledger(tube.lit_hours, tube.burn_in_full_hours)

    def _begin(self, span: DateSpan) -> dt.date:
        """Return the date from which tubes are followed: the first fitting before the span."""
        fitted = [
            tube.fitted.date()
            for tube in self.schedule.tubes.values()
            if tube.fitted and tube.id not in self.book.tubes
        ]
        return min([*fitted, span.first])

    def _walk(self, first: dt.date, last: dt.date, before: DayPlan) -> list[_Run]:
        """Run the ledgers over some dates and return how their days go.

        A burn-in that waits is weighed again on Mondays alone, wherever the dates are cut.
        """
        found: list[_Run] = []
        date = first
        while True:
            now, stop, plan = self._brightness(date), self._until(date, last), BY_PLAN
            owing = self._owing(date)
            if owing and self.schedule.burn_in == "plan":
                plan = self._plan_or_wait(date, owing, now, before, is_first=not found)
                pays = plan.windows or any(self.patterns[id].full_s for id in plan.dimmed)
                stop = date if pays else min(stop, _sunday(date))
            self._run(date, stop, plan)
            found.append(_Run(date, stop, plan, now, self._brightness(stop)))
            if stop == last:
                return found
            date, before = stop + _DAY, plan

    def _plan_or_wait(self, date: dt.date, owing: Mapping[str, float], brightness: Mapping[str, float],
                      before: DayPlan, *, is_first: bool) -> DayPlan:  # fmt: skip
        """Return the plan of a date; yesterday's if some wait and it is not time to weigh again."""
        is_asked = bool(before.windows) or date.weekday() == 0 or self._is_new(owing, date)
        if is_asked or is_first:
            plan = self._plan(date, owing, brightness, before)
            if is_asked or not plan.windows:
                return plan
            before = replace(BY_PLAN, reasons=dict.fromkeys(owing, "it is weighed again on Monday"))
        return replace(before, dimmed=frozenset(owing))

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
        found: dict[str, float] = {}
        for channel in self.schedule.channels.values():
            if self.patterns[channel.id].is_dark_or_full:
                continue
            owed = [
                self.ledgers[tube.id].owed_hours
                for tube in channel.tubes
                if self._burns_on(channel, tube, date)
            ]
            if owed and max(owed) > 0:
                found[channel.id] = max(owed)
        return found

    def _burns_on(self, channel: Channel, tube: Tube, date: dt.date) -> bool:
        """Return whether a tube has any light to give on a date: one fitted at night has not."""
        if tube.fitted is None or tube.fitted.date() != date:
            return self._is_in(tube, date)
        since = tube.fitted.hour * 3600 + tube.fitted.minute * 60 + tube.fitted.second
        return bool(self.fits[channel.id].replay.lit[since:].any())

    def _is_in(self, tube: Tube, date: dt.date) -> bool:
        """Return whether a tube burns in its channel at some time of a date or before."""
        if tube.fitted is None:
            return tube.id in self.book.tubes or self.span is None or date >= self.span.first
        return tube.fitted.date() <= date

    def _pattern(self, found: Fit) -> Pattern:
        return Pattern.of(found.replay.lit, found.replay.full, self.step_s)

    def _run(self, first: dt.date, last: dt.date, plan: DayPlan) -> None:
        """Add days to the ledgers."""
        _, fits = self._fits(plan)
        dates = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
        for id, channel in self.schedule.channels.items():
            is_usual = fits[id] is self.fits[id]
            pattern = self.patterns[id] if is_usual else self._pattern(fits[id])
            for tube in channel.tubes:
                if tube.fitted is None and not self._is_in(tube, first):
                    continue
                self.ledgers[tube.id].run(dates, pattern, tube.fitted)

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
        daily_h = self.usual.channels[channel.id].lit_seconds / SECONDS_PER_HOUR
        known = []
        for tube in channel.tubes:
            if tube.fitted is None:
                known.append((tube, tube.lit_hours))
            elif tube.fitted.date() <= date:
                known.append((tube, tube.lit_hours + daily_h * (date - tube.fitted.date()).days))
        return _light(known)

    def _plan(self, date: dt.date, owing: Mapping[str, float], brightness: Mapping[str, float],
              before: DayPlan) -> DayPlan:  # fmt: skip
        """Return what the channels do on a date on which some owe burn-in."""
        lamps = [
            self._lamp(channel, date, owing.get(id, 0.0), brightness[id], before.windows.get(id))
            for id, channel in self.schedule.channels.items()
        ]
        limits = {id: self._limits(id, lamps) for id in self.schedule.zones}
        burning = frozenset(before.windows)
        return plan_day(
            lamps, limits, NIGHT_PPFD_UMOL_M2_S, self.step_s, burning,
            lambda plan: self._refusal(plan, brightness, limits),
        )  # fmt: skip

    def _lamp(self, channel: Channel, date: dt.date, owed_hours: float, brightness: float,
              before: tuple[int, int] | None) -> Lamp:  # fmt: skip
        """Return a channel as it is weighed on a date."""
        id = channel.id
        lamp = Lamp(
            id=id,
            ppfd={zone: ppfd * brightness for zone, ppfd in channel.full_ppfd.items()},
            light=self.light[id],
            least=0.0 if self.targets[id].path.can_be_dark else channel.ballast.curve.floor_light,
            must_not_dim=self.patterns[id].is_dark_or_full
            and any(
                self.ledgers[tube.id].owed_hours > 0 and self._is_in(tube, date)
                for tube in channel.tubes
            ),
        )
        if owed_hours == 0:
            return lamp
        window, why = self._window(channel, brightness, before)
        if window is None:
            return replace(lamp, owed_days=1.0, why=why)
        replay = self._box(id, window)[1].replay
        owed_days = owed_hours * SECONDS_PER_HOUR / float(replay.full.sum())
        return replace(lamp, owed_days=owed_days, window=window, full=replay.light)

    def _limits(self, zone_id: str, lamps: list[Lamp]) -> Limits:
        """Return what a zone may get: its band, or about the plan's dose."""
        zone = self.schedule.zones[zone_id]
        mol = MOMENT_S / UMOL_PER_MOL
        planned = mol * sum(
            c.full_ppfd.get(zone_id, 0.0) * float(self.light[id].mean.sum())
            for id, c in self.schedule.channels.items()
        )
        usual = mol * sum(
            lamp.ppfd.get(zone_id, 0.0) * float(lamp.light.mean.sum()) for lamp in lamps
        )
        low, high = planned * (1 - DOSE_SHARE), planned * (1 + DOSE_SHARE)
        dose_of = f"{number_text(DOSE_SHARE * 100)} % from the plan's"
        if zone.dli_band is not None:
            (low, high), dose_of = zone.dli_band, "its band"
        # What a day by the plan does is not for the burn-in to mend.
        low = min(low, (1 - DOSE_SHARE) * min(usual, planned))
        return Limits(
            ppfd_max=zone.ppfd_max, dose_min=low, dose_max=max(high, usual), dose_of=dose_of
        )

    def _refusal(
        self, plan: DayPlan, brightness: Mapping[str, float], limits: Mapping[str, Limits]
    ) -> str:
        """Return why the tables of a day can't be used, in words; empty if they can."""
        targets, fits = self._fits(plan)
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
            if limit.ppfd_max is None:
                continue
            most = float(ppfd.max())
            usual_most = float(self._ppfd(id, self.fits, brightness).max())
            if most > max(limit.ppfd_max, usual_most) + PPFD_SLACK:
                return (
                    f"zone '{id}' would get {number_text(most, 1)} µmol m⁻² s⁻¹ from the table, over"
                    f" its ppfd_max of {limit.ppfd_max:g}"
                )
        return ""

    def _ppfd(self, zone: str, fits: Mapping[str, Fit], brightness: Mapping[str, float]) -> Floats:
        """Return what a zone gets from some tables, shape (86400,). [µmol m⁻² s⁻¹]"""
        ppfd = np.zeros(SECONDS_PER_DAY)
        for id, channel in self.schedule.channels.items():
            ppfd += fits[id].replay.light * (channel.full_ppfd.get(zone, 0.0) * brightness[id])
        return ppfd

    def _window(
        self, channel: Channel, brightness: float, before: tuple[int, int] | None
    ) -> tuple[tuple[int, int] | None, str]:
        """Return the window at full that holds a channel's dose, or None and why there is none.

        Its dose is at most the plan's, and less than one time step at full below it. Yesterday's
        window is kept while that holds.
        """
        most = float(channel.curve.light(day_middles()).max())
        if most < LEAST_PEAK:
            return None, (
                f"its plan gives {number_text(most * 100)} % at most, and minutes at full would be a shock"
            )
        if not self.targets[channel.id].path.can_be_full:
            return None, "its output can't bring it to full"
        wanted_s = channel.curve.integral() / brightness
        if before is not None and 0 <= self._short_s(channel.id, before, wanted_s) < self.step_s:
            return before, ""
        centre_s = max(channel.curve.parts, key=lambda part: part.integral()).centre_s()
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

    def _fits(self, plan: DayPlan) -> tuple[dict[str, Target], dict[str, Fit]]:
        """Return targets and tables of a day."""
        if plan.is_usual:
            return self.targets, self.fits
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

    def _table(self, run: _Run) -> Table:
        """Return the table of a run."""
        plan = run.plan
        targets, fits = self._fits(plan)
        roles = dict.fromkeys(plan.windows, "full") | dict.fromkeys(plan.dark, "dark")
        roles |= dict.fromkeys(plan.scale, "gives-way")
        brightness = {id: (run.begin[id], run.end[id]) for id in run.begin}
        day: Day = compile_day(self.schedule, targets, fits, roles, brightness)
        return Table(span=DateSpan(run.first, run.last), day=day, windows=plan.windows,
                     dark=plan.dark, dimmed=plan.dimmed, outside=plan.outside,
                     reasons=plan.reasons)  # fmt: skip


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
