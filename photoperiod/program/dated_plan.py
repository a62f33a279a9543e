"""First pass of a compilation: which day type, and which day plan, holds on which dates.

Dates are gone through in order, because what a tube owes decides what its channel does, and what the
channel does decides what the tube owes. Where nothing is owed, many dates are one step.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from photoperiod.program.burn_in_day import BurnInDate, plan_burn_in
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.day_types import DayType
from photoperiod.program.followed_tubes import FollowedTubes
from photoperiod.program.light_hold import LightHold
from photoperiod.program.mains_power import BallastsOn
from photoperiod.schedule.model import BurnInPolicy
from photoperiod.tubes.burn_in_plan import BY_PLAN, DayPlan, Window

#: Brightness that differs by this share is the same.
SLACK = 1e-9

MONDAY, SUNDAY = 0, 6

_DAY = dt.timedelta(days=1)


class Why(StrEnum):
    """Why a step has its day plan."""

    NOTHING_OWED = (
        "no channel owes burn-in that its day by the plan does not pay, or it is left alone"
    )
    WEIGHED = "the plans of the day were compared"
    WAITS = "some channel waits, and plans are compared again on Monday"


@dataclass(frozen=True, slots=True)
class Step:
    """Dates that go alike: from ``date`` to ``stop``, both included."""

    date: dt.date
    stop: dt.date
    day_type: DayType
    plan: DayPlan
    why: Why


@dataclass(frozen=True, slots=True)
class DatedPlan:
    """Dates that one table serves, and the light at full of each channel as they begin and end.

    ``begin`` and ``end`` are beside the light when PPFD was measured. [ratio] A date on which the
    controller's clock changes stands alone: it is longer or shorter, and so are its doses. ``short``
    are the channels whose light is held, and can't be on these dates; ``ballasts`` those at work of the
    channels of which a part is out.
    """

    first: dt.date
    last: dt.date
    day_type: DayType
    plan: DayPlan
    begin: Mapping[str, float]
    end: Mapping[str, float]
    stands_alone: bool = False
    short: frozenset[str] = frozenset()
    ballasts: Mapping[str, BallastsOn] = field(default_factory=dict)

    def takes(self, later: DatedPlan) -> bool:
        """Return whether the dates right after are more of the same, no channel brighter.

        Each channel then fades from the first of the dates to the last, so that these two bound what
        zones get on all of them.
        """
        return (
            self.day_type is later.day_type
            and not (self.stands_alone or later.stands_alone)
            and self.plan.key == later.plan.key
            and self.plan.dimmed == later.plan.dimmed
            and self.short == later.short
            and self.ballasts == later.ballasts
            and all(later.begin[id] <= self.end[id] * (1 + SLACK) for id in self.end)
        )


def plan_dates(sequence: DaySequence, tubes: FollowedTubes, span: DateSpan) -> list[DatedPlan]:
    """Return the plans of a span, in order; the hours of the tubes are run over it.

    Parameters
    ----------
    sequence : DaySequence
        Which day type holds when.
    tubes : FollowedTubes
        The tubes as the ledger has them. Dates before the span are gone through, from the first fitting
        on, and counted only in what is burned and owed as the span begins.
    span : DateSpan
        The dates.
    """
    planner = _DatePlanner(sequence, tubes)
    before = replace(BY_PLAN, windows=dict(tubes.ledger.windows))
    if tubes.begin < span.first:
        before = planner.plans(tubes.begin, span.first - _DAY, before)[-1].plan
        tubes.forget_dates()
    merged: list[DatedPlan] = []
    for each in planner.plans(span.first, span.last, before):
        turns = each.first in tubes.losses.turns()
        if merged and merged[-1].takes(each) and not turns:
            merged[-1] = replace(merged[-1], last=each.last, end=each.end)
        else:
            merged.append(each)
    return merged


class _DatePlanner:
    """Goes from step to step."""

    def __init__(self, sequence: DaySequence, tubes: FollowedTubes) -> None:
        self.sequence, self.tubes, self.schedule = sequence, tubes, sequence.schedule
        self.hold = LightHold(sequence.schedule, tubes)

    def plans(self, first: dt.date, last: dt.date, before: DayPlan) -> list[DatedPlan]:
        """Return the plans of some dates, one for each step, and run the tubes over them.

        ``before`` is the plan of the day before the first.
        """
        found: list[DatedPlan] = []
        date = first
        while True:
            step = self._step(date, last, before, is_first=not found)
            found.append(self._follow(step))
            if step.stop == last:
                return found
            date, before = step.stop + _DAY, step.plan

    def _step(self, date: dt.date, last: dt.date, before: DayPlan, *, is_first: bool) -> Step:
        """Return the step that begins with a date."""
        day_type = self.hold.on(date, self.sequence.on(date))
        stop = self.hold.until(date, self._alike_until(date, last), day_type)
        owing = {
            id: hours
            for id, hours in self.tubes.owed_hours(date).items()
            if not day_type.patterns[id].is_dark_or_full
        }
        if not owing or self.schedule.burn_in is not BurnInPolicy.PLAN:
            return Step(date, stop, day_type, BY_PLAN, Why.NOTHING_OWED)
        plan, why = self._decide(date, day_type, owing, before, is_first=is_first)
        # What pays changes what is owed by tomorrow; a wait may end with the week.
        pays = plan.windows or any(day_type.patterns[id].full_s for id in plan.dimmed)
        return Step(date, date if pays else min(stop, _sunday(date)), day_type, plan, why)

    def _alike_until(self, date: dt.date, last: dt.date) -> dt.date:
        """Return until when the day type, the fitted tubes and their order of brightness stay."""
        if self.tubes.rises(date):  # each date may be the brightest of its table: it stands alone
            return date
        return self.sequence.until(date, self.tubes.until_next_fitting(date, last))

    def _decide(
        self,
        date: dt.date,
        day_type: DayType,
        owing: Mapping[str, float],
        before: DayPlan,
        *,
        is_first: bool,
    ) -> tuple[DayPlan, Why]:
        """Return the plan of a date on which some owe, and why it has this plan.

        A burn-in that waits is weighed again on Mondays alone, wherever the dates are cut: where they
        begin in the middle of a week, it is only found out why it waits.
        """
        is_changed = date > dt.date.min and self.sequence.days.alike_until(date - _DAY) < date
        is_new = is_changed or self.tubes.is_new(owing, date)
        if before.windows or date.weekday() == MONDAY or is_new:
            return self._weigh(date, day_type, owing, before.windows), Why.WEIGHED
        if is_first:
            plan = self._weigh(date, day_type, owing, before.windows)
            if not plan.windows:
                return plan, Why.WEIGHED
            before = replace(BY_PLAN, reasons=dict.fromkeys(owing, "it is weighed again on Monday"))
        return replace(before, dimmed=frozenset(owing)), Why.WAITS

    def _weigh(
        self,
        date: dt.date,
        day_type: DayType,
        owing: Mapping[str, float],
        windows: Mapping[str, Window],
    ) -> DayPlan:
        """Return the best plan of a date whose tables can be used."""
        owed = self.tubes.owed_hours(date)
        return plan_burn_in(
            BurnInDate(
                day_type=day_type,
                curves=self.sequence.days.curves(date),
                owing=owing,
                kept_full=frozenset(id for id in owed if day_type.patterns[id].is_dark_or_full),
                brightness=self.tubes.brightness(date),
                before=windows,
                acclimated=self.sequence.days.acclimated(date),
            )
        )

    def _follow(self, step: Step) -> DatedPlan:
        """Run the tubes over a step, and return its plan with the light as it begins and ends."""
        now = self.tubes.brightness(step.date)
        self.tubes.run(step.date, step.stop, step.day_type.patterns_of(step.plan))
        end = self.tubes.brightness(step.stop)
        begin = {id: max(now[id], end[id]) for id in now}  # tubes may still grow brighter
        alone = self.sequence.days.changes_controller_clock(step.date)
        short = self.hold.short(step.stop)
        return DatedPlan(
            step.date,
            step.stop,
            step.day_type,
            step.plan,
            begin,
            end,
            alone,
            short,
            self.tubes.losses.ballasts_on(step.date),
        )


def _sunday(date: dt.date) -> dt.date:
    """Return the last date of a week, or the last that there is."""
    return date + dt.timedelta(days=min(SUNDAY - date.weekday(), (dt.date.max - date).days))
