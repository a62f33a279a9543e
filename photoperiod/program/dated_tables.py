"""From a schedule and dates to a program, in two passes.

First it is planned which day type and which day plan hold when (`dated_plan`), then the tables of these
plans are made.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from photoperiod.arrays import keep_freed_memory
from photoperiod.days.day_curves import DayCurves
from photoperiod.program.channel_day import Brightness
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.model import Program, Progress, Table
from photoperiod.schedule.model import Schedule
from photoperiod.tubes.burn_in_plan import BY_PLAN
from photoperiod.units import SECONDS_PER_DAY

if TYPE_CHECKING:
    from photoperiod.program.dated_plan import DatedPlan
    from photoperiod.program.seasons_ahead import Helpers
    from photoperiod.tubes.hours import LedgerState, NoDayBefore


def compile_program(
    schedule: Schedule,
    span: DateSpan | None = None,
    ledger: LedgerState | None = None,
    progress: Progress | None = None,
    sequence: DaySequence | None = None,
    helpers: Helpers | None = None,
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
    sequence : DaySequence or None
        The day types of the schedule for these dates, if they are known; they are made otherwise.
    helpers : Helpers or None
        Other processes that work on dates whose days follow the sky; the program is the same without them.

    Raises
    ------
    DayFault
        If the day of some date can't be built.
    TypeError
        If `helpers` are none.
    """
    if helpers is not None:
        from photoperiod.program.seasons_ahead import Helpers as Expected

        if not isinstance(helpers, Expected):
            raise TypeError(f"{type(helpers).__name__} is no Helpers")
    keep_freed_memory()
    sequence = sequence or DaySequence(schedule, span, progress, helpers)
    days, first = sequence.days, None if span is None else span.first
    by_plan = sequence.first().compiled(BY_PLAN, {}, first, days.passing(first))
    if span is None:
        tables: Sequence[Table] = [Table(span=None, day=by_plan)]
        return Program(
            schedule=schedule, span=None, tables=tuple(tables), first_day_by_plan=by_plan, tubes={}
        )

    # A day of no date needs none of what follows tubes and changes: late imports.
    from photoperiod.program.change_effects import change_effects
    from photoperiod.program.dated_plan import plan_dates
    from photoperiod.program.followed_tubes import FollowedTubes
    from photoperiod.tubes.hours import LedgerState

    tubes = FollowedTubes(sequence, span, ledger or LedgerState())
    tables = [_table(each, days) for each in plan_dates(sequence, tubes, span)]
    return Program(
        schedule=schedule,
        span=span,
        tables=tuple(tables),
        first_day_by_plan=by_plan,
        tubes=tubes.uses(),
        before=tubes.ledger.light,
        no_day_before=_no_day_before(schedule, ledger),
        effects=change_effects(sequence, tables, span),
        measured_anew=_measured_anew(schedule, tubes.ledger),
        clock_changes=tuple(days.clock_changes(span.first, span.last)),
        set_back=() if days.has_one_clock else tuple(days.set_back(span.first, span.last)),
        season_counts=sequence.season_counts,
        moon_nights=_moon_nights(sequence, tables) if days.follows_sky else {},
    )


def _no_day_before(schedule: Schedule, ledger: LedgerState | None) -> NoDayBefore | None:
    """Return why nothing is known of the day before the first date; None if something is."""
    from photoperiod.tubes.hours import NoDayBefore as Why

    if not schedule.zones or (ledger is not None and ledger.light.keys() & schedule.zones.keys()):
        return None
    return Why.NO_LEDGER if ledger is None else ledger.why_no_light


def _measured_anew(schedule: Schedule, ledger: LedgerState) -> dict[str, Mapping[str, float]]:
    """Return the PPFD at full of the ledger, by zone, of the channels that now have another."""
    return {
        id: dict(ledger.readings[id])
        for id, channel in schedule.channels.items()
        if id in ledger.readings and dict(channel.full_ppfd) != dict(ledger.readings[id])
    }


def _table(dated: DatedPlan, days: DayCurves) -> Table:
    """Return the table of a plan of some dates."""
    plan, season = dated.plan, dated.day_type.season
    brightness = {id: Brightness(dated.begin[id], dated.end[id]) for id in dated.begin}
    return Table(
        span=DateSpan(dated.first, dated.last),
        day=dated.day_type.compiled(
            plan, brightness, dated.first, days.passing(dated.first), dated.ballasts
        ),
        plan=plan,
        short=dated.short,
        season=season and season.without({*plan.windows, *plan.dark, *plan.scale}),
    )


def _moon_nights(sequence: DaySequence, tables: Sequence[Table]) -> dict[str, tuple[int, int, int]]:
    """Return on how many dates the tables show a moon, of how many, and how many they invent.

    By channel. A moon is shown if at least half of its light is given.
    """
    moons = sequence.days.moons()
    counts = {id: [0, 0, 0] for id in moons}
    middles = np.arange(30, SECONDS_PER_DAY, 60)
    for table in tables if moons else ():
        given = {id: table.channels[id].replay.light[middles] for id in moons}
        for date in table.span or ():
            curves = sequence.days.curves(date)
            for id in moons:
                wanted = curves[id].light(middles.astype(np.float64))
                total = float(wanted.sum())
                same = float(np.minimum(wanted, given[id]).sum())
                counts[id][0] += total > 0 and same >= total / 2
                counts[id][1] += total > 0
                counts[id][2] += total == 0 and bool(given[id].any())
    return {id: (shown, nights, extra) for id, (shown, nights, extra) in counts.items()}
