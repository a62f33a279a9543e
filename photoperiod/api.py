"""The way from bytes to a program, with everything found on it. Used by all commands and callers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from photoperiod.diagnostics.model import Report
from photoperiod.source.document import Document, read_text

if TYPE_CHECKING:
    from photoperiod.program.dated_tables import Book
    from photoperiod.program.model import DateSpan, Program
    from photoperiod.program.year import Progress
    from photoperiod.schedule.model import Schedule


@dataclass(frozen=True, slots=True)
class Loaded:
    """A file as read: its source, what was found, and the schedule if there is one."""

    source: Document
    report: Report
    schedule: Schedule | None


@dataclass(frozen=True, slots=True)
class Compiled:
    """A file as compiled for some dates: what was found, and the program if there is one."""

    loaded: Loaded
    report: Report
    program: Program | None

    @property
    def source(self) -> Document:
        """The file."""
        return self.loaded.source

    @property
    def schedule(self) -> Schedule | None:
        """What the program was compiled from."""
        return self.loaded.schedule if self.program is None else self.program.schedule


def load(name: str, raw: bytes) -> Loaded:
    """Return the schedule of a file, or every reason why there is none.

    Each stage is imported when it is reached, so that a file that can't be read is answered at once.
    """
    source, report = read_text(name, raw), Report(name)
    report.add(source.diagnostics)
    if source.data is None:
        return Loaded(source, report, None)

    from photoperiod.source.json_schema import validate

    shape, bad = validate(source.data)
    report.add((d for d in shape if d.path not in source.bad), source)
    if shape and () in bad:
        return Loaded(source, report, None)

    from photoperiod.schedule.build import lower

    schedule, meaning = lower(source, bad | source.bad, is_faulty=report.has_errors)
    report.add(meaning, source)
    return Loaded(source, report, None if report.has_errors else schedule)


def compile_and_check(
    loaded: Loaded,
    span: DateSpan | None,
    book: Book | None = None,
    progress: Progress | None = None,
) -> Compiled:
    """Return the program for some dates with the findings on it, if there is a schedule.

    There is none without dates where days differ from each other. ``book`` is what was known before
    the dates, ``progress`` is called during long work; see `program.dated_tables.compile_program`.
    """
    schedule = loaded.schedule
    if schedule is None:
        return not_compiled(loaded)
    if span is None and schedule.needs_dates:
        why = "needs --date, or --from and --to: days follow the sky, or clocks differ"
        return not_compiled(loaded, {"every check of days": why})

    from photoperiod.program.dated_tables import compile_program
    from photoperiod.schedule.model import DayFault

    try:
        program = compile_program(schedule, span, book, progress)
    except DayFault as fault:
        report = loaded.report.copy()
        report.add(fault.diagnostics, loaded.source)
        return Compiled(loaded, report, None)
    return check(loaded, program)


def not_compiled(loaded: Loaded, not_run: dict[str, str] | None = None) -> Compiled:
    """Return what was loaded without a program, and which checks did not run for that."""
    report = loaded.report.copy()
    report.not_run = not_run or {}
    return Compiled(loaded, report, None)


def check(loaded: Loaded, program: Program) -> Compiled:
    """Return a program of what was loaded, with the findings on it."""
    from photoperiod.checks.run import run_checks

    report = loaded.report.copy()
    findings, report.not_run = run_checks(program)
    report.add(findings, loaded.source)
    return Compiled(loaded, report, program)
