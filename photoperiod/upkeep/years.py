"""Tubes over years: the program of a schedule, its tubes with when they are due, and policies compared."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.model import Program, Progress
from photoperiod.schedule.model import Schedule
from photoperiod.tubes.hours import LedgerState
from photoperiod.upkeep.comparison import PolicyOutcome, compared
from photoperiod.upkeep.due import TubeForecast, forecast
from photoperiod.upkeep.policies import Policy


@dataclass(frozen=True, slots=True)
class TubeYears:
    """A program as the schedule is written, its tubes, and what policies do.

    A policy that can't be told stands there with the reason, in words.
    """

    program: Program
    tubes: tuple[TubeForecast, ...]
    policies: tuple[PolicyOutcome | tuple[Policy, str], ...]


def tube_years(
    schedule: Schedule,
    span: DateSpan,
    ledger: LedgerState | None = None,
    progress: Progress | None = None,
    *,
    compare: bool = True,
) -> TubeYears:
    """Return what becomes of tubes over some years.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults whose days are found.
    span : DateSpan
        The dates.
    ledger : LedgerState or None
        What is known as the first date begins.
    progress : callable or None
        Told how many days of how many are done, where days follow the sky.
    compare : bool
        Whether to compare policies of replacement.

    Raises
    ------
    DayFault
        If the day of some date can't be built.
    """
    sequence = DaySequence(schedule, span, progress)
    program = compile_program(schedule, span, ledger, progress, sequence)
    policies = tuple(compared(program, sequence, ledger)) if compare else ()
    return TubeYears(program, forecast(program), policies)
