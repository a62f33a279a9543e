"""The way from bytes to a program, with everything found on it. Used by all commands and callers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from photoperiod.diagnostics import Report
from photoperiod.source import Source, read_text

if TYPE_CHECKING:
    from photoperiod.calendar import Book
    from photoperiod.program import DateSpan, Program
    from photoperiod.schedule import Schedule
    from photoperiod.year import Progress


@dataclass(slots=True)
class Outcome:
    """How far a file came: its source, what was found, the schedule and the program if there are."""

    source: Source
    report: Report
    schedule: Schedule | None = None
    program: Program | None = None


def load(name: str, raw: bytes) -> Outcome:
    """Return the schedule of a file, or every reason why there is none.

    Each stage is imported when it is reached, so that a file that can't be read is answered at once.
    """
    source = read_text(name, raw)
    outcome = Outcome(source, Report(name))
    outcome.report.add(source.diagnostics)
    if source.data is None:
        return outcome

    from photoperiod.schema import validate

    shape, bad = validate(source.data)
    outcome.report.add((d for d in shape if not _stands_already(d.path, source)), source)
    if shape and () in bad:
        return outcome

    from photoperiod.lower import lower

    schedule, meaning = lower(source, bad | source.bad, is_faulty=outcome.report.has_errors)
    outcome.report.add(meaning, source)
    if not outcome.report.has_errors:
        outcome.schedule = schedule
    return outcome


def compile_and_check(
    outcome: Outcome,
    span: DateSpan | None,
    book: Book | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Add the program for some dates and the findings on it, if there is a schedule.

    There is none without dates where days differ from each other. ``book`` is what was known before
    the dates, ``progress`` is told of long work; see `calendar.compile_program`.
    """
    if outcome.schedule is None:
        return outcome
    if span is None and outcome.schedule.needs_dates:
        why = "needs --date, or --from and --to: days follow the sky, or clocks differ"
        outcome.report.not_run = {"every check of days": why}
        return outcome

    from photoperiod.calendar import compile_program
    from photoperiod.checks import run_checks
    from photoperiod.schedule import DayFault

    try:
        outcome.program = compile_program(outcome.schedule, span, book, progress)
    except DayFault as fault:
        outcome.report.add(fault.diagnostics, outcome.source)
        return outcome
    findings, outcome.report.not_run = run_checks(outcome.program)
    outcome.report.add(findings, outcome.source)
    return outcome


def _stands_already(path: tuple[str | int, ...], source: Source) -> bool:
    """Return True if reading already complained of the value at a path."""
    return path in source.bad
