"""From a schedule and dates to a program: which table holds when, with burn-in planned.

Days are gone through in order, because what a tube owes decides what its channel does, and what the
channel does decides what the tube owes. Where nothing is owed, many days are one step.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photoperiod.day import Day, compile_day, fit_day, plan_targets
from photoperiod.program import DateSpan, Program, Table, TubeProgram
from photoperiod.schedule import Channel, Schedule, Tube
from photoperiod.table.fit import Fit, Target, fit
from photoperiod.tubes.burn_in import (
    DOSE_SHARE,
    MOMENT_S,
    DayPlan,
    Lamp,
    Limits,
    moments,
    plan_day,
    window_around,
    window_mask,
)
from photoperiod.tubes.depreciation import mean_light
from photoperiod.tubes.ledger import Ledger
from photoperiod.units import (
    NIGHT_PPFD_UMOL_M2_S,
    SECONDS_PER_DAY,
    SECONDS_PER_HOUR,
    UMOL_PER_MOL,
)

Floats = NDArray[np.float64]

#: Weight of a channel at full among those that share its times: it has no error to give.
FULL_WEIGHT = 1e6

#: How often the length of a window is put right by what its table gives.
TRIES = 4

_DAY = dt.timedelta(days=1)
_BY_PLAN = DayPlan(windows={}, scale={})


@dataclass(frozen=True, slots=True)
class TubeState:
    """What a tube had burned, and what it owed, as a date began. [h]"""

    lit_hours: float
    owed_hours: float


def compile_program(
    schedule: Schedule,
    span: DateSpan | None = None,
    book: Mapping[str, TubeState] | None = None,
) -> Program:
    """Return the program of a schedule.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    span : DateSpan or None
        The dates. Without them there is one day of no date, and tubes are not followed.
    book : mapping of tube to TubeState or None
        What tubes had burned and owed as the first date began; others are followed from their
        fitting on.
    """
    return _Calendar(schedule, span, book or {}).program()


class _Calendar:
    """The days of a schedule, one after the other."""

    def __init__(
        self, schedule: Schedule, span: DateSpan | None, book: Mapping[str, TubeState]
    ) -> None:
        self.schedule, self.span, self.book = schedule, span, book
        self.step_s = schedule.controller.times.step_s
        self.targets = plan_targets(schedule)
        self.targets, self.fits = fit_day(schedule, self.targets, {})
        self.usual = compile_day(schedule, self.targets, self.fits, {}, {})
        self.ledgers: dict[str, Ledger] = {}
        self._days: dict[tuple[object, ...], tuple[dict[str, Target], dict[str, Fit]]] = {}

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
        date = self._begin(span)
        if date < span.first:
            self._walk(date, span.first - _DAY)
            for id, ledger in self.ledgers.items():  # the report is on the span alone
                self.ledgers[id] = Ledger(ledger.lit_hours, ledger.owed_hours)
        tables: list[Table] = []
        for first, last, plan, brightness in self._walk(span.first, span.last):
            before = tables[-1] if tables else None
            if before and before.span and _is_same(before, plan) and self._is_usual(plan):
                end = {id: b[1] for id, b in brightness.items()}
                tables[-1] = self._table(
                    DateSpan(before.span.first, last), plan,
                    {id: (c.brightness, end[id]) for id, c in before.channels.items()},
                )  # fmt: skip
            elif before and before.span and _is_same(before, plan):
                joined = DateSpan(before.span.first, last)
                tables[-1] = replace(before, span=joined)
            else:
                tables.append(self._table(DateSpan(first, last), plan, brightness))
        return tables

    def _is_usual(self, plan: DayPlan) -> bool:
        return not plan.windows and not plan.dark

    def _open_ledgers(self, span: DateSpan) -> None:
        for tube in self.schedule.tubes.values():
            known = self.book.get(tube.id)
            if known:
                self.ledgers[tube.id] = Ledger(known.lit_hours, known.owed_hours)
            else:
                self.ledgers[tube.id] = Ledger(tube.lit_hours, tube.burn_in_full_hours)

    def _begin(self, span: DateSpan) -> dt.date:
        """Return the date from which tubes are followed: the first fitting before the span."""
        fitted = [
            tube.fitted.date()
            for tube in self.schedule.tubes.values()
            if tube.fitted and tube.id not in self.book
        ]
        return min([*fitted, span.first])

    def _walk(
        self, first: dt.date, last: dt.date
    ) -> list[tuple[dt.date, dt.date, DayPlan, dict[str, tuple[float, float]]]]:
        """Run the ledgers over some dates and return the plans of their days, in runs."""
        found = []
        date, before = first, _BY_PLAN
        while date <= last:
            now = self._brightness(date)
            owing = self._owing(date)
            stop, plan = self._until(date, last), _BY_PLAN
            if owing and self.schedule.burn_in == "plan":
                plan = self._plan(date, owing, now, before)
                if self._pays(plan):
                    stop = date
            self._run(date, stop, plan)
            end = now if stop == date else self._brightness(stop)
            found.append((date, stop, plan, {id: (now[id], end[id]) for id in now}))
            if stop == dt.date.max:
                break
            date, before = stop + _DAY, plan
        return found

    def _pays(self, plan: DayPlan) -> bool:
        """Return whether a day pays any burn-in; if not, the next will be like it."""
        _, fits = self._fits(plan)
        return any(fits[id].replay.full.any() for id in (*plan.windows, *plan.dimmed))

    def _until(self, date: dt.date, last: dt.date) -> dt.date:
        """Return the last date before another tube begins to owe burn-in."""
        for channel in self.schedule.channels.values():
            for tube in channel.tubes:
                if tube.fitted is None or self.ledgers[tube.id].owed_hours == 0:
                    continue
                if tube.fitted.date() > date:
                    last = min(last, tube.fitted.date() - _DAY)
                elif not self._burns_on(channel, tube, date):  # fitted tonight
                    last = date
        return last

    def _owing(self, date: dt.date) -> dict[str, float]:
        """Return the channels with tubes that owe burn-in on a date, and how much at most. [h]"""
        found: dict[str, float] = {}
        for channel in self.schedule.channels.values():
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
            return tube.id in self.book or self.span is None or date >= self.span.first
        return tube.fitted.date() <= date

    def _run(self, first: dt.date, last: dt.date, plan: DayPlan) -> None:
        """Add days to the ledgers."""
        _, fits = self._fits(plan)
        dates = DateSpan(first, last) if (last - first).days < 3_000 else _long(first, last)
        for channel in self.schedule.channels.values():
            replay = fits[channel.id].replay
            for tube in channel.tubes:
                if tube.fitted is None and not self._is_in(tube, first):
                    continue
                self.ledgers[tube.id].run(dates, replay.lit, replay.full, self.step_s, tube.fitted)

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
        lamps = []
        for id, channel in self.schedule.channels.items():
            window = None
            owed_days = 0.0
            if id in owing:
                window, paid_s = self._window(channel, brightness[id], before.windows.get(id))
                owed_days = owing[id] * SECONDS_PER_HOUR / paid_s if paid_s else 1.0
            lamps.append(
                Lamp(
                    id=id,
                    ppfd={zone: p * brightness[id] for zone, p in channel.full_ppfd.items()},
                    light=moments(self.fits[id].replay.light),
                    owed_days=owed_days,
                    window=window,
                )
            )
        limits = {id: self._limits(id, lamps) for id in self.schedule.zones}
        burning = frozenset(before.windows)
        plan = plan_day(lamps, limits, NIGHT_PPFD_UMOL_M2_S, self.step_s, burning)
        if _same_but_scale(plan, before):  # no new table for a difference that nobody sees
            return before
        return plan

    def _limits(self, zone_id: str, lamps: list[Lamp]) -> Limits:
        """Return what a zone may get: its band, or about the plan's dose."""
        zone = self.schedule.zones[zone_id]
        per_mol = UMOL_PER_MOL / MOMENT_S
        planned = sum(
            c.full_ppfd.get(zone_id, 0.0) * float(lamp.light.sum())
            for c, lamp in zip(self.schedule.channels.values(), lamps, strict=True)
        )
        usual = sum(lamp.ppfd.get(zone_id, 0.0) * float(lamp.light.sum()) for lamp in lamps)
        low, high = planned * (1 - DOSE_SHARE), planned * (1 + DOSE_SHARE)
        if zone.dli_band is not None:
            low, high = (dose * per_mol for dose in zone.dli_band)
        # What a day by the plan does is not for the burn-in to mend.
        low = min(low, (1 - DOSE_SHARE) * min(usual, planned))
        return Limits(ppfd_max=zone.ppfd_max, dose_min=low, dose_max=max(high, usual))

    def _window(
        self, channel: Channel, brightness: float, before: tuple[int, int] | None
    ) -> tuple[tuple[int, int] | None, float]:
        """Return the window at full that holds a channel's dose, and the time at full in it. [s]

        Its dose is at most the plan's, and less than one time step at full below it. Yesterday's
        window is kept while that holds.
        """
        wanted_s = channel.curve.integral() / brightness
        if before is not None:
            fitted = self._box(channel, before)
            if -self.step_s < float(fitted.replay.light.sum()) - wanted_s <= 1e-6:
                return before, float(fitted.replay.full.sum())
        centre_s = max(channel.curve.parts, key=lambda part: part.integral()).centre_s()
        steps = int(wanted_s // self.step_s)
        best: tuple[tuple[int, int], float] | None = None
        for _ in range(TRIES):
            length_s = min(max(steps, 1) * self.step_s, SECONDS_PER_DAY - self.step_s)
            window = window_around(centre_s, length_s, self.step_s)
            replay = self._box(channel, window).replay
            over_s = float(replay.light.sum()) - wanted_s
            if over_s > 1e-6:
                steps -= 1
                if best is not None:
                    break
            else:
                if float(replay.full.sum()) > 0:
                    best = window, float(replay.full.sum())
                if over_s > -self.step_s or length_s != steps * self.step_s:
                    break
                steps += 1
        return best if best is not None else (None, 0.0)

    def _box(self, channel: Channel, window: tuple[int, int]) -> Fit:
        """Return the table of a channel that is full in a window and dark outside it."""
        controller = self.schedule.controller
        (found,) = fit(
            [self._full_target(channel.id, window)],
            controller.times,
            controller.setpoints_per_channel,
        )
        return found

    def _full_target(self, id: str, window: tuple[int, int]) -> Target:
        target = self.targets[id]
        mask = window_mask(*window)
        corners = tuple(sorted({second % SECONDS_PER_DAY for second in window}))
        return replace(target, reachable=np.where(mask, target.path.top_light, 0.0), corners=corners,
                       may_exceed=True, weight=FULL_WEIGHT)  # fmt: skip

    def _fits(self, plan: DayPlan) -> tuple[dict[str, Target], dict[str, Fit]]:
        """Return targets and tables of a day."""
        key = (tuple(sorted(plan.windows.items())), plan.dark,
               tuple((id, scale.tobytes()) for id, scale in sorted(plan.scale.items())))  # fmt: skip
        if not any(key):
            return self.targets, self.fits
        if key not in self._days:
            targets = dict(self.targets)
            for id, window in plan.windows.items():
                targets[id] = self._full_target(id, window)
            for id in plan.dark:
                targets[id] = replace(
                    self.targets[id], reachable=np.zeros(SECONDS_PER_DAY), corners=()
                )
            for id, scale in plan.scale.items():
                targets[id] = self._scaled(id, np.repeat(scale, MOMENT_S))
            known = {id: (self.targets[id], self.fits[id]) for id in self.targets}
            self._days[key] = fit_day(self.schedule, targets, {}, known)
        return self._days[key]

    def _scaled(self, id: str, scale: Floats) -> Target:
        """Return the target of a channel that gives way; below its floor it goes dark if it can."""
        target, ballast = self.targets[id], self.schedule.channels[id].ballast.curve
        wanted = target.reachable * scale
        reachable = ballast.reachable(wanted, target.path.most_light)
        if ballast.dark != "never":
            reachable[(scale < 1.0) & (wanted < ballast.floor_light)] = 0.0
        changes = np.flatnonzero(np.diff(scale, prepend=scale[-1]))
        corners = tuple(sorted({*target.corners, *changes.tolist()}))
        return replace(target, reachable=reachable, corners=corners, may_exceed=False)

    def _table(
        self, span: DateSpan, plan: DayPlan, brightness: Mapping[str, tuple[float, float]]
    ) -> Table:
        targets, fits = self._fits(plan)
        roles = dict.fromkeys(plan.windows, "full") | dict.fromkeys(plan.dark, "dark")
        roles |= dict.fromkeys(plan.scale, "gives-way")
        day: Day = compile_day(self.schedule, targets, fits, roles, brightness)
        return Table(span=span, day=day, windows=plan.windows, dark=plan.dark,
                     dimmed=plan.dimmed, outside=plan.outside, reason=plan.reason)  # fmt: skip


def _light(tubes: Iterable[tuple[Tube, float]]) -> float:
    """Return the light of tubes with some lit hours together, 1 for those of unknown loss."""
    lights, shares = [], []
    for tube, lit_hours in tubes:
        lights.append(1.0 if tube.depreciation is None else tube.depreciation.light_at(lit_hours))
        shares.append(tube.light_share)
    return mean_light(lights, shares) if lights else 1.0


def _is_same(table: Table, plan: DayPlan) -> bool:
    return (
        dict(table.windows) == dict(plan.windows)
        and table.dark == plan.dark
        and {id for id, c in table.channels.items() if c.role == "gives-way"} == set(plan.scale)
        and table.reason == plan.reason
        and table.dimmed == plan.dimmed
    )


def _same_but_scale(plan: DayPlan, before: DayPlan) -> bool:
    return (
        dict(plan.windows) == dict(before.windows)
        and (plan.dark, plan.dimmed, plan.reason) == (before.dark, before.dimmed, before.reason)
        and set(plan.scale) == set(before.scale)
        and all(np.allclose(plan.scale[id], before.scale[id], atol=0.005) for id in plan.scale)
    )


def _long(first: dt.date, last: dt.date) -> list[dt.date]:
    return [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
