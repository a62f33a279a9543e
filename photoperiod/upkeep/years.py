"""Tubes over years: when each is due, and policies of replacement compared."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.model import Program, Progress
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
    program: Program,
    ledger: LedgerState | None = None,
    progress: Progress | None = None,
    *,
    compare: bool = True,
) -> TubeYears:
    """Return what becomes of the tubes of a program with dates.

    Parameters
    ----------
    program : Program
        The schedule as it is written, compiled for the dates.
    ledger : LedgerState or None
        What was known as the first date began.
    progress : callable or None
        Told how many days of how many are done, where days follow the sky.
    compare : bool
        Whether to compare policies of replacement.
    """
    policies: tuple[PolicyOutcome | tuple[Policy, str], ...] = ()
    if compare:
        sequence = DaySequence(program.schedule, program.span, progress)
        policies = tuple(compared(program, sequence, ledger))
    return TubeYears(program, forecast(program), policies)
