"""Fewer tables, where those that the errors ask for do not fit into a controller's memory."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from photoperiod.pipeline import Outcome, compile_and_check, load
from photoperiod.program import DateSpan, Program
from photoperiod.year import Progress


def most_tables(
    outcome: Outcome,
    raw: bytes,
    span: DateSpan,
    size_of: Callable[[Program], int],
    most_bytes: int,
    progress: Progress | None = None,
) -> tuple[Outcome | None, int]:
    """Return the program of the most tables that fit, and the size of the smallest that was tried.

    The more tables, the less a date strays from its own plan; so their number is closed in on. None if
    even one table, or as few as clock changes leave, does not fit.

    Parameters
    ----------
    outcome : Outcome
        With a program that is too large.
    raw : bytes
        The text it was loaded from.
    span : DateSpan
        Its dates.
    size_of : callable
        The bytes that a program takes.
    most_bytes : int
        The bytes there are.
    progress : callable or None
        Told of long work.
    """
    assert outcome.program is not None
    best: Outcome | None = None
    smallest = size_of(outcome.program)
    low, high = 0, len(outcome.program.sheets)  # what fits, and what does not
    low_bytes, high_bytes = 0, smallest
    while high - low > 1:
        # sizes grow evenly with tables, so that few trials are needed
        number = low + (high - low) * (most_bytes - low_bytes) // max(high_bytes - low_bytes, 1)
        number = min(max(number, low + 1), high - 1)
        trial = load(outcome.source.name, raw)
        assert trial.schedule is not None
        seasons = replace(trial.schedule.seasons, tables=number)
        trial.schedule = replace(trial.schedule, seasons=seasons)
        compile_and_check(trial, span, progress=progress)
        size = None if trial.program is None else size_of(trial.program)
        smallest = min(smallest, size or smallest)
        if size is not None and size <= most_bytes:
            best, low, low_bytes = trial, number, size
        else:
            high, high_bytes = number, size or high_bytes
    return best, smallest
