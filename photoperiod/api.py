"""The way from a file to a program, with every finding on it: what commands and Python callers use.

Each stage is imported when it is reached, so that a file that can't be read is answered at once.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import OtherFile, Report
from photoperiod.errors import PhotoperiodError, WrongUse
from photoperiod.schedule.files import bytes_beside, bytes_of, most_of_readings
from photoperiod.source.document import MAX_BYTES, Document, read_text
from photoperiod.text import path_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from photoperiod.diagnostics.model import Diagnostic
    from photoperiod.formats.table import PlayableTable
    from photoperiod.player.outputs import OutputState
    from photoperiod.program.channel_day import Amounts
    from photoperiod.program.dates import Dates
    from photoperiod.program.model import Program, Progress
    from photoperiod.program.seasons_ahead import Helpers
    from photoperiod.schedule.model import Schedule
    from photoperiod.tubes.hours import LedgerState


class ScheduleError(PhotoperiodError):
    """A schedule has faults, so that there is nothing to compile or to write.

    Parameters
    ----------
    report : Report
        Every finding, warnings and notes included.
    document : Document or None
        The text of the schedule; None for a schedule built in Python.
    """

    exit_code = 1

    def __init__(self, report: Report, document: Document | None = None) -> None:
        super().__init__(report, document)
        self.report = report
        self.document = document

    @property
    def findings(self) -> tuple[Diagnostic, ...]:
        """Every finding, in the order of the file."""
        return tuple(self.report.sorted())

    def __str__(self) -> str:
        return "\n".join(
            f"{self.report.shown(each.file)}{_place_of(each)}: {each.severity} {each.code}: {each.message}"
            for each in self.findings
            if each.severity is Severity.ERROR
        )


@dataclass(frozen=True, slots=True)
class Loaded:
    """A schedule without a fault, with its text and the findings on it.

    Parameters
    ----------
    schedule : Schedule
        The schedule as values.
    report : Report
        The warnings and notes on it.
    document : Document or None
        Its text, which knows the line of every value; None for a schedule built in Python.
    readings : mapping of str to bytes
        The files of readings that it and its parts name, by their paths from its folder.
    """

    schedule: Schedule
    report: Report
    document: Document | None
    readings: Mapping[str, bytes] = field(default_factory=dict, repr=False, compare=False)

    @property
    def findings(self) -> tuple[Diagnostic, ...]:
        """Every finding, in the order of the file."""
        return tuple(self.report.sorted())


@dataclass(frozen=True, slots=True)
class Compiled:
    """A schedule compiled for some dates.

    Parameters
    ----------
    loaded : Loaded
        What was compiled.
    program : Program
        The dated tables and what they give.
    report : Report
        Every finding on the schedule and on the program.
    """

    loaded: Loaded
    program: Program
    report: Report

    @property
    def document(self) -> Document | None:
        """The text of the schedule; None for a schedule built in Python."""
        return self.loaded.document

    @property
    def schedule(self) -> Schedule:
        """What the program was compiled from."""
        return self.program.schedule

    @property
    def findings(self) -> tuple[Diagnostic, ...]:
        """Every finding, in the order of the file."""
        return tuple(self.report.sorted())

    def doses(self, date: dt.date | None = None) -> Mapping[str, Amounts]:
        """Return the DLI of every zone by the table of a date. [mol m⁻² d⁻¹]

        Parameters
        ----------
        date : date or None
            One of the compiled dates; None is the first.

        Returns
        -------
        mapping of zone id to Amounts
            ``plan`` by the plan, ``reachable`` within reach of the ballast, ``replay`` by the rows.

        Raises
        ------
        ValueError
            If the date was not compiled.

        Examples
        --------
        >>> import photoperiod as pp
        >>> compiled = pp.compile(pp.load("examples/smallest.yaml"))
        >>> {zone: round(dli.replay, 2) for zone, dli in compiled.doses().items()}
        {'rock': 6.18}
        """
        table = self.program.tables[0] if date is None else self.program.table_on(date)
        return {id: zone.dli for id, zone in table.zones.items()}


def load(path: str | os.PathLike[str]) -> Loaded:
    """Return the schedule in a file.

    Parameters
    ----------
    path : str or path
        A YAML file; `docs/language.md` describes it.

    Raises
    ------
    ScheduleError
        If the schedule has a fault; its ``findings`` hold all of them, each with its place.
    OutsideWorldError
        PHO501 if the file can't be read.

    Examples
    --------
    >>> import photoperiod as pp
    >>> loaded = pp.load("examples/smallest.yaml")
    >>> sorted(loaded.schedule.channels)
    ['blue', 'white']
    """
    raw = bytes_of(path, MAX_BYTES + 1)
    return load_text(os.fspath(path), raw, Path(os.fspath(path)).parent)


def load_text(name: str, raw: bytes, folder: str | os.PathLike[str] | None = None) -> Loaded:
    """Return the schedule in the bytes of a file.

    Parameters
    ----------
    name : str
        What findings call the file.
    raw : bytes
        The whole text.
    folder : str, path or None
        Where the files that it names are looked for: parts and readings. With None it can name none.

    Raises
    ------
    ScheduleError
        If the schedule has a fault; its ``findings`` hold all of them, each with its file and place.
    """
    return load_with(
        name,
        raw,
        lambda each, most_bytes: bytes_beside(folder, each, most_bytes),
        lambda each: os.fspath(Path(folder or "", each)),
    )


def load_with(
    name: str,
    raw: bytes,
    beside: Callable[[str, int], bytes | str],
    shown: Callable[[str], str],
) -> Loaded:
    """Return the schedule in the bytes of a file, wherever the files that it names come from.

    Parameters
    ----------
    name : str
        What findings call the file.
    raw : bytes
        The whole text.
    beside : callable
        Gives the bytes of a file by its name in the schedule, no more of them than told; or why it can't.
    shown : callable
        Gives what findings call such a file.

    Raises
    ------
    ScheduleError
        If the schedule has a fault.
    """
    document, report = read_text(name, raw), Report(name)
    report.add(document.diagnostics)
    if document.data is None:
        raise ScheduleError(report, document)

    from photoperiod.source.json_schema import validate

    shape, bad = validate(document.data)
    report.add((d for d in shape if d.path not in document.bad), document)
    if shape and () in bad:
        raise ScheduleError(report, document)

    from photoperiod.schedule.build import build_schedule
    from photoperiod.schedule.guards import not_guarded
    from photoperiod.schedule.parts import parts_named, take_parts
    from photoperiod.schedule.readings_files import files_named

    bad |= document.bad
    parts = None if ("parts",) in bad else parts_named(document.data)
    found = None if parts is None else beside(parts, MAX_BYTES + 1)
    document, bad, meaning = take_parts(document, bad, found)
    if document.parts is not None:
        report.others[document.parts.name] = OtherFile(shown(str(parts)), document.parts.lines)
    report.add(meaning, document)
    files = {each: beside(each, most_of_readings()) for each in files_named(document.data)}
    schedule, meaning = build_schedule(document, bad, is_faulty=report.has_errors, files=files)
    report.add(meaning, document)
    if schedule is None or report.has_errors:
        raise ScheduleError(report, document)
    report.not_guarded = not_guarded(schedule)
    readings = {each: content for each, content in files.items() if isinstance(content, bytes)}
    return Loaded(schedule, report, document, readings)


def compile(
    schedule: Loaded | Schedule,
    dates: Dates = None,
    *,
    ledger: LedgerState | None = None,
    progress: Progress | None = None,
    helpers: Helpers | None = None,
) -> Compiled:
    """Return the tables of a schedule for some dates, what they give, and every finding on them.

    Hard findings, such as a zone above its ``ppfd_max``, are in ``findings`` as errors; `write`
    refuses such a program.

    Parameters
    ----------
    schedule : Loaded or Schedule
        What `load` returned; then findings know their lines. Or a schedule built or changed in Python;
        then the digest in outputs is that of its values.
    dates : date, (date, date), DateSpan or None
        One date, or the first and the last of a span, by the controller's clock. None compiles a day of
        no date, which a schedule does not have if it follows the sky, if clocks differ or if it has changes.
    ledger : LedgerState or None
        What tubes had burned and owed before the dates, as a ledger holds it.
    progress : callable or None
        Called with how many dates are done, and of how many, during long work.
    helpers : Helpers or None
        Other processes that work on many dates whose days follow the sky. The outcome is the same.

    Raises
    ------
    ScheduleError
        If a day of one of the dates can't be built or found, or if a schedule built in Python has a fault.
    OutsideWorldError
        PHO514 if a zone asks for a dose and SciPy is not installed.
    WrongUse
        If the dates are missing, or if the span runs backwards or is longer than ten years.
    TypeError
        If an argument is of another type.

    Examples
    --------
    >>> import datetime as dt
    >>> import photoperiod as pp
    >>> compiled = pp.compile(pp.load("examples/smallest.yaml"), dt.date(2027, 3, 2))
    >>> len(compiled.program.tables)
    1
    >>> [row.second / 3600 for row in compiled.program.channels["blue"].fit.rows if row.relay][:1]
    [9.0]
    """
    loaded = schedule if isinstance(schedule, Loaded) else _loaded_in_python(schedule)
    from photoperiod.program.dates import as_span

    span = as_span(dates)
    if span is None and loaded.schedule.needs_dates:
        raise WrongUse("days follow the sky, clocks differ, or there are changes: name the dates")

    from photoperiod.days.signals import DayFault

    try:
        compiler = _compiler(loaded.schedule)
        program = compiler(loaded.schedule, span, ledger, progress, helpers=helpers)
    except DayFault as fault:
        report = loaded.report.with_more(fault.diagnostics, loaded.document)
        raise ScheduleError(report, loaded.document) from None
    return check(loaded, program)


def _compiler(schedule: Schedule) -> Callable[..., Program]:
    """Return what compiles a schedule; days are found only where a dose is asked for."""
    if schedule.asks_for_doses:
        from photoperiod.solve.compiled import compile_found

        return compile_found

    from photoperiod.program.dated_tables import compile_program

    return compile_program


def check(loaded: Loaded, program: Program) -> Compiled:
    """Return a program of what was loaded, with the findings on it."""
    from photoperiod.checks.run import run_checks

    findings, not_run = run_checks(program)
    report = loaded.report.with_more(findings, loaded.document)
    report.not_run = not_run
    return Compiled(loaded, program, report)


def write(compiled: Compiled, folder: str | os.PathLike[str]) -> tuple[str, ...]:
    """Write tables, doses and typing sheets into a folder, and return the names of the files.

    A folder that was written before is replaced as a whole; one with other files in it is refused.

    Raises
    ------
    ScheduleError
        If there is a hard finding that the schedule does not accept by name.
    OutsideWorldError
        PHO502 or PHO503 if the folder can't be written.

    Examples
    --------
    >>> import tempfile
    >>> import photoperiod as pp
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     pp.write(pp.compile(pp.load("examples/smallest.yaml")), folder + "/out")
    ('table.csv', 'table.json', 'summary.json', 'typing-sheet.txt', 'manifest.json')
    """
    if compiled.report.has_errors:
        raise ScheduleError(compiled.report, compiled.document)

    from photoperiod.formats.folder import render_all, write_folder

    files = render_all(compiled.program, compiled.findings)
    write_folder(Path(folder), files)
    return tuple(files)


def render_page(compiled: Compiled) -> bytes:
    """Return everything about a compiled schedule as one page: HTML that needs no other file.

    Returns
    -------
    bytes
        UTF-8; the same for the same program and findings.

    Raises
    ------
    ScheduleError
        If there is a hard finding that the schedule does not accept by name.
    OutsideWorldError
        PHO515 if jinja2 is not installed.

    Examples
    --------
    >>> import photoperiod as pp
    >>> page = pp.render_page(pp.compile(pp.load("examples/smallest.yaml")))
    >>> b"Is the dose right?" in page
    True
    """
    if compiled.report.has_errors:
        raise ScheduleError(compiled.report, compiled.document)

    from photoperiod.page.render import render_page

    return render_page(
        compiled.program,
        compiled.report,
        compiled.document.lines if compiled.document else (),
        compiled.loaded.readings,
    )


def read_table(path: str | os.PathLike[str]) -> PlayableTable:
    """Return a table that was written before, whole or not at all.

    Parameters
    ----------
    path : str or path
        A ``table.json``, or what ``photoperiod export`` wrote as json, csv or binary.

    Raises
    ------
    OutsideWorldError
        PHO501 if the file can't be read, PHO505 if it is no table or was changed since.
    """
    from photoperiod.formats import table

    return table.read_table(os.fspath(path), bytes_of(path, table.MAX_BYTES + 1))


def replay(table: PlayableTable, moment: dt.datetime | dt.time) -> Mapping[str, OutputState]:
    """Return what a table puts out at a moment, by the player that controllers run.

    Parameters
    ----------
    table : PlayableTable
        What `read_table` returned.
    moment : datetime or time
        By the controller's clock. A time alone is for a table of no date.

    Returns
    -------
    mapping of channel id to OutputState
        Level, converter code, volts, relay and light.

    Raises
    ------
    WrongUse
        If the moment names a zone, or no date where tables have dates.
    """
    from photoperiod.formats.image import FIRST_DAY
    from photoperiod.player.outputs import at_moment

    if moment.tzinfo is not None:
        raise WrongUse(f"{moment} names a zone: write the moment by the controller's clock")
    second = (moment.hour * 60 + moment.minute) * 60 + moment.second
    if isinstance(moment, dt.datetime):
        return at_moment(table, moment.date(), second)[1]
    if table.image.span is not None:
        raise WrongUse("the tables have dates: write date and time of the moment")
    return at_moment(table, FIRST_DAY, second)[1]


def _place_of(finding: Diagnostic) -> str:
    """Return where a finding is: line and column, or the path of a value that has no text."""
    if finding.source_range is not None:
        return f":{finding.source_range.line}:{finding.source_range.column}"
    return f", {path_text(finding.path)}" if finding.path else ""


def _loaded_in_python(schedule: Schedule) -> Loaded:
    """Return a schedule built in Python as if it had been loaded."""
    from photoperiod.schedule.model import Schedule

    if not isinstance(schedule, Schedule):
        raise TypeError(f"{type(schedule).__name__} is no schedule; `load` returns one")

    from photoperiod.schedule.consistency import faults_of
    from photoperiod.schedule.guards import not_guarded

    report = Report("schedule")
    report.add(faults_of(schedule))
    if report.has_errors:
        raise ScheduleError(report)
    report.not_guarded = not_guarded(schedule)
    # The digest of the file it may have come from says nothing of values that may have been changed.
    return Loaded(
        replace(schedule, file_digest="", parts_digests={}, readings_digests={}, found=None),
        report,
        None,
    )
