"""Compile a schedule whose zones ask for doses: find its days, then its tables, on the light of its tubes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from photoperiod.days.day_curves import DayCurves
from photoperiod.days.signals import DayFault
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, Progress
from photoperiod.schedule.model import Schedule
from photoperiod.schedule.moves import FoundDose
from photoperiod.solve.search import with_found_days
from photoperiod.solve.trial import off_by
from photoperiod.text import number_text
from photoperiod.tubes.hours import LedgerState
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE

if TYPE_CHECKING:
    from photoperiod.program.seasons_ahead import Helpers

#: The tubes are looked at again at most so often: other days burn them differently before the dates.
ROUNDS = 3

#: Doses that differ by less are the same [mol m⁻² d⁻¹].
SLACK = 1e-6

#: Light at full that differs by less is the same [share].
SAME_BRIGHTNESS = 1e-5


def compile_found(
    schedule: Schedule,
    span: DateSpan | None = None,
    ledger: LedgerState | None = None,
    progress: Progress | None = None,
    *,
    helpers: Helpers | None = None,
) -> Program:
    """Return the program of the days that give the doses that zones ask for.

    The doses are those of a day by the plan on the first date, without changes. One day is found for all
    dates: later, tubes fade; on dates of burn-in the plan of burn-in decides. Where the clocks of plan and
    controller differ, the day is found by the plan's; its tables on the controller's clock must give the
    doses, too.

    Parameters and errors are those of `photoperiod.program.dated_tables.compile_program` and of
    `photoperiod.solve.search.with_found_days`.
    """
    if span is None or not schedule.tubes:
        found = with_found_days(schedule)
        return _on_its_clock(compile_program(found, span, ledger, progress, helpers=helpers))
    first = DateSpan(span.first, span.first)
    brightness = _brightness(compile_program(schedule, first, ledger))
    for _ in range(ROUNDS):
        found = with_found_days(schedule, brightness)
        program = compile_program(found, span, ledger, progress, helpers=helpers)
        now = _brightness(program)
        if all(abs(now[id] - brightness[id]) <= SAME_BRIGHTNESS for id in now):
            break
        brightness = now
    return _on_its_clock(program)


def _on_its_clock(program: Program) -> Program:
    """Return a program whose tables give its doses by the controller's clock, too.

    Raises
    ------
    DayFault
        If the times of the tables, moved to that clock, give another dose.
    """
    schedule, span = program.schedule, program.span
    day, brightness = program.first_day_by_plan, _brightness(program)
    if schedule.has_one_clock or span is None or schedule.found is None:
        return program
    if schedule.changes or day.length_s != SECONDS_PER_DAY:
        return program  # on such a date the day is another one
    shift_s = DayCurves(schedule).shift_s(span.first)
    doses = {
        id: sum(c.dli[id].replay * brightness[c.channel.id] for c, _ in zone.sources)
        for id, zone in day.zones.items()
    }
    faults = [
        _clock_fault(each, doses[each.zone], shift_s)
        for each in schedule.found.doses
        if abs(off_by(doses[each.zone], each.wanted)) > each.within + SLACK
    ]
    if faults:
        raise DayFault(faults)
    return program


def _clock_fault(each: FoundDose, dose: float, shift_s: int) -> Diagnostic:
    minutes = number_text(abs(shift_s) / SECONDS_PER_MINUTE)
    return Diagnostic(
        code="PHO803",
        path=("zones", each.zone, "wanted_dli"),
        message=f"zone '{each.zone}' gets {number_text(each.dose, 3)} mol m⁻² d⁻¹ by the plan's clock, but"
        f" {number_text(dose, 3)} by the controller's, which is {minutes} min"
        f" {'behind' if shift_s > 0 else 'ahead'}: its rows fall on other times there",
        help="let both clocks be the same kind, take `after_last_row: wrap` if the controller has it, or ask"
        " for a band",
    )


def _brightness(program: Program) -> dict[str, float]:
    return {id: c.brightness for id, c in program.channels.items()}
