"""Which day type holds on which date: one for all, one for each state of the clocks, or seasons."""

from __future__ import annotations

import bisect
import copy
import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from photoperiod.curves.curve import Curve
from photoperiod.days.day_curves import DayCurves
from photoperiod.days.signals import DayFault
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_fit import FittedChannel, fit_day, plan_targets
from photoperiod.program.day_types import LEAST_WORTH_A_LOAD_S, DayType, SeasonCount
from photoperiod.program.model import Progress
from photoperiod.schedule.model import Schedule
from photoperiod.setpoints.fit import Target

if TYPE_CHECKING:
    from photoperiod.program.seasons_ahead import Helpers

#: Dates outside the span stand for their month by this day of it, in one year for all.
MIDDLE_OF_MONTH = 15
TYPICAL_YEAR = 2027

_DAY = dt.timedelta(days=1)


def curves_of(schedule: Schedule) -> DayCurves:
    """Return the day curves of a schedule, with its changes."""
    return DaySequence(schedule, None).days


class DaySequence:
    """The day types of a schedule, by date.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    span : DateSpan or None
        The dates for which tables are wanted. Tubes may have burned on dates before: there a day that
        follows the sky is that of the middle of its month.
    progress : callable or None
        Told how many days of how many are done.
    helpers : Helpers or None
        Other processes that work on dates whose days follow the sky.
    """

    def __init__(
        self,
        schedule: Schedule,
        span: DateSpan | None,
        progress: Progress | None = None,
        helpers: Helpers | None = None,
    ) -> None:
        self.schedule, self.span = schedule, span
        self._known: dict[object, DayType] = {}
        self.days = self._changed_days() if schedule.changes else DayCurves(schedule)
        self._served: dict[dt.date, dt.date] = {}
        found: list[tuple[dt.date, DayType]] = []
        #: How many tables channels share by their errors, where days follow the sky.
        self.season_counts: tuple[SeasonCount, ...] = ()
        if span is not None and self.days.follows_sky:
            from photoperiod.program.season_types import season_day_types
            from photoperiod.program.seasons_ahead import SeasonHelpers

            others = None if helpers is None else SeasonHelpers(helpers, curves_of)
            found, self.season_counts = season_day_types(
                schedule, self.days, span, progress, others
            )
        self._firsts = [first for first, _ in found]
        self._seasons = [day_type for _, day_type in found]

    def _changed_days(self) -> DayCurves:
        """Return the curves of a schedule with changes; most have none, or no sky: late imports."""
        from photoperiod.changes.changed_days import ChangedDays
        from photoperiod.program.acclimation import TableAcclimator

        days = ChangedDays(self.schedule)
        days.acclimator = TableAcclimator(
            self.schedule, days, lambda curves: self.fitted_to(curves).by_plan, self._keep
        )
        return days

    def with_tubes(self, schedule: Schedule) -> DaySequence:
        """Return the same day types for a schedule that differs in its tubes alone."""
        other = copy.copy(self)
        other.schedule = schedule
        return other

    def first(self) -> DayType:
        """Return the day type of the first date."""
        return self.on(None if self.span is None else self.span.first)

    def on(self, date: dt.date | None) -> DayType:
        """Return the day type of a date; None is a day of no date."""
        if date is not None and self.days.follows_sky:
            index = self._season_of(date)
            return self.typical(date) if index is None else self._seasons[index]
        date = self._served_with(date)
        curves = self.days.curves(date)
        return self.fitted_to(curves)

    def fitted_to(self, curves: Mapping[str, Curve]) -> DayType:
        """Return the day type of some curves, fitted once."""
        key = tuple(curves.items())
        if key not in self._known:
            self._known[key] = self._fitted(curves)
        return self._known[key]

    def _served_with(self, date: dt.date | None) -> dt.date | None:
        """Return the date before whose tables serve a date too, or the date itself.

        Where a plan follows a change of its clock by some minutes a day, each date is a little later
        than the one before; a minute is not worth a load.
        """
        span = self.span
        if self.schedule.spread_minutes is None or span is None or date is None:
            return date
        if not span.first <= date <= span.last:
            return date
        if not self._served:
            self._served = self._all_served(span)
        return self._served[date]

    def _all_served(self, span: DateSpan) -> dict[dt.date, dt.date]:
        """Return for each date of a span the date whose tables serve it."""
        found: dict[dt.date, dt.date] = {}
        begin, alone = span.first, False
        for date in span:
            was_alone, alone = alone, self.days.changes_controller_clock(date)
            off_s = abs(self.days.shift_s(date) - self.days.shift_s(begin))
            is_changed = self.days.alike_until(begin) < date
            if alone or was_alone or is_changed or off_s > LEAST_WORTH_A_LOAD_S:
                begin = date
            found[date] = begin
        return found

    def typical(self, date: dt.date) -> DayType:
        """Return a day type for a date that does not depend on the span, so that cuts change nothing."""
        if not self.days.follows_sky:
            return self.on(date if self.span is not None else None)
        days = self.days.days_on(date)
        date = date.replace(TYPICAL_YEAR, day=MIDDLE_OF_MONTH)
        if (date, days) not in self._known:
            try:
                self._known[date, days] = self._fitted(days.curves(date))
            except DayFault as fault:
                raise DayFault([
                    replace(d, message=f"{d.message}, which stands for its month: the hours that tubes"
                            " burned before the dates asked for are reckoned by it")
                    for d in fault.diagnostics
                ]) from fault  # fmt: skip
        return self._known[date, days]

    def until(self, date: dt.date, last: dt.date) -> dt.date:
        """Return the last date, up to ``last``, before which the day type surely does not change.

        A date on which a clock changes stands alone.
        """
        last = min(last, self.days.alike_until(date))
        for change_date in self._change_dates(date, last):
            if change_date == date:
                return date
            last = change_date - _DAY
            break
        if self.days.follows_sky:
            index = self._season_of(date)
            if index is not None:
                return min([last, *(first - _DAY for first in self._firsts[index + 1 : index + 2])])
            next_month = (date.replace(day=1) + dt.timedelta(days=32)).replace(day=1)
            return min(last, next_month - _DAY)
        return last

    def _season_of(self, date: dt.date) -> int | None:
        """Return which of the seasons a date lies in, None outside the span."""
        if self.span is None or not self._firsts or not self.span.first <= date <= self.span.last:
            return None
        return bisect.bisect_right(self._firsts, date) - 1

    def _change_dates(self, first: dt.date, last: dt.date) -> list[dt.date]:
        """Return the dates of the controller's clock on which either clock changes."""
        clock = self.days.controller_clock
        changes = self.days.clock_changes(first, last)
        return sorted({clock.wall_of(change.at_unix_s)[0] for _, change in changes})

    def _fitted(self, curves: Mapping[str, Curve]) -> DayType:
        return self._day_type(curves, fit_day(self.schedule, plan_targets(self.schedule, curves)))

    def _keep(self, curves: Mapping[str, Curve], fitted: Mapping[str, FittedChannel]) -> None:
        """Keep tables that were fitted while a step of an acclimation was looked for."""
        if fitted:
            self._known.setdefault(tuple(curves.items()), self._day_type(curves, fitted))

    def _day_type(
        self, curves: Mapping[str, Curve], fitted: Mapping[str, FittedChannel]
    ) -> DayType:
        fits = {id: each.fit for id, each in fitted.items()}
        if not self.schedule.changes:
            targets = {id: each.target for id, each in fitted.items()}
            return DayType(self.schedule, lambda _: curves, lambda: targets, fits)
        may_exceed = {id: each.target.may_exceed for id, each in fitted.items()}

        def make_targets() -> dict[str, Target]:
            """Make them again: of a change in many steps they are too big to be kept."""
            plain = plan_targets(self.schedule, curves)
            return {id: replace(each, may_exceed=may_exceed[id]) for id, each in plain.items()}

        return DayType(self.schedule, lambda _: curves, make_targets, fits)
