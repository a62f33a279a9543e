"""Compile a schedule whose zones ask for doses: find its days, then its tables, on the light of its tubes."""

from __future__ import annotations

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, Progress
from photoperiod.schedule.model import Schedule
from photoperiod.solve.search import with_found_days
from photoperiod.tubes.hours import LedgerState

#: The tubes are looked at again at most so often: other days burn them differently before the dates.
ROUNDS = 3

#: Light at full that differs by less is the same [share].
SAME_BRIGHTNESS = 1e-5


def compile_found(
    schedule: Schedule,
    span: DateSpan | None = None,
    ledger: LedgerState | None = None,
    progress: Progress | None = None,
) -> Program:
    """Return the program of the days that give the doses that zones ask for.

    The doses are those of a day by the plan on the first date. One day is found for all dates: later, tubes
    fade; on dates of burn-in the plan of burn-in decides.

    Parameters and errors are those of `photoperiod.program.dated_tables.compile_program` and of
    `photoperiod.solve.search.with_found_days`.
    """
    if span is None or not schedule.tubes:
        return compile_program(with_found_days(schedule), span, ledger, progress)
    first = DateSpan(span.first, span.first)
    brightness = _brightness(compile_program(schedule, first, ledger))
    for _ in range(ROUNDS):
        program = compile_program(with_found_days(schedule, brightness), span, ledger, progress)
        now = _brightness(program)
        if all(abs(now[id] - brightness[id]) <= SAME_BRIGHTNESS for id in now):
            break
        brightness = now
    return program


def _brightness(program: Program) -> dict[str, float]:
    return {id: c.brightness for id, c in program.channels.items()}
