"""What commands do with a schedule: read it, compile it, show what was found, choose the exit code."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol, TextIO

import click

from photoperiod.cli.terminal import room_of
from photoperiod.errors import OutsideWorldError, os_reason

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from photoperiod.api import Compiled, Loaded, ScheduleError
    from photoperiod.diagnostics.model import Report
    from photoperiod.program.dates import DateSpan
    from photoperiod.program.model import Program, Progress
    from photoperiod.schedule.readings_files import FileBytes
    from photoperiod.source.document import Document
    from photoperiod.tubes.hours import LedgerState

EXIT_FINDINGS = 1

#: From so many dates on, other processes help: one begins in half a second, which some twenty dates take.
WORTH_HELP_DAYS = 60


def _way_to_a_schedule(file: str) -> str:
    """Return what to do where a schedule can't be read; what was answered of it may be kept."""
    if not os.path.lexists(file):
        from photoperiod.formats.answers_text import SUFFIX

        if os.path.lexists(f"{file}{SUFFIX}"):
            return f"`photoperiod new {file}` goes on from what was answered, and writes it"
    return "check the name; `photoperiod new FILE` writes a first schedule"


def read_file(
    file: str, most_bytes: int | None = None, way_out: str | None = None
) -> tuple[str, bytes]:
    """Return what to call a file in messages, and its bytes, no more than are looked at."""
    from photoperiod.source.document import MAX_BYTES

    most_bytes = most_bytes or MAX_BYTES + 1
    way_out = way_out or _way_to_a_schedule(file)
    if file != "-":
        from photoperiod.schedule.files import bytes_of

        return file, bytes_of(file, most_bytes, way_out)
    try:
        return "standard input", sys.stdin.buffer.read(most_bytes)
    except (OSError, ValueError) as error:
        raise OutsideWorldError("PHO501", f"can't read '-': {os_reason(error)}", way_out) from error


#: Why a schedule has no day without a date.
NEEDS_DATES = "days follow the sky, clocks differ, or `changes` are written"


def load_file(file: str) -> Loaded:
    """Return the schedule in a file ('-' is standard input), or raise ScheduleError."""
    from photoperiod.api import load_text

    return load_text(*read_file(file), None if file == "-" else Path(file).parent)


def warn_of_one_id(files: Sequence[str]) -> None:
    """Warn on standard error of files whose tanks have one id; what can't be read is told of elsewhere."""
    from photoperiod.source.document import read_text
    from photoperiod.text import safe

    by_id: dict[str, list[str]] = {}
    for file in dict.fromkeys(files):
        with contextlib.suppress(OutsideWorldError, OSError):
            if file == "-" or not Path(file).is_file():  # a pipe gives its text only once
                continue
            data = read_text(*read_file(file)).data
            if isinstance(data, dict) and isinstance(data.get("tank"), str):
                by_id.setdefault(data["tank"], []).append(file)
    for id, those in by_id.items():
        if len(those) > 1:
            told = (
                f"warning: {', '.join(those)} have one tank id, '{id}': tube hours are kept by it,"
            )
            click.echo(safe(f"{told} so give each tank its own"), err=True)


class Source(NamedTuple):
    """A schedule with all that belongs to it, so that it can be compiled on another machine.

    Parameters
    ----------
    name : str
        What findings call it.
    raw : bytes
        Its text.
    folder : str
        Where it lies, for the names of other files in findings.
    beside : mapping of str to bytes or str
        The files that it names, or why one can't be read.
    """

    name: str
    raw: bytes
    folder: str
    beside: Mapping[str, FileBytes]

    def load(self) -> Loaded:
        """Return the schedule, or raise ScheduleError."""
        from photoperiod.api import load_with

        return load_with(
            self.name,
            self.raw,
            lambda name, _most_bytes: self.beside.get(name, "it was not given"),
            lambda name: os.fspath(Path(self.folder, name)),
        )


def source_of(file: str) -> Source:
    """Return a file ('-' is standard input) with all that is read for it."""
    from photoperiod.schedule.files import files_of

    name, raw = read_file(file)
    folder = None if file == "-" else Path(file).parent
    return Source(name, raw, os.fspath(folder or ""), files_of(raw, folder))


def compile_file(
    file: str | Source,
    span: DateSpan | None,
    ledger: str | None,
    refuse: Callable[[], None] = lambda: None,
    jobs: int | None = None,
) -> tuple[Compiled, dict[str, Any] | None]:
    """Return a file compiled for some dates, and the ledger that was read; or raise ScheduleError.

    ``refuse`` is called once the schedule is read and before the long work; it raises if what comes of it
    could not be written. ``jobs`` is how many processes may work on the dates; None is one for each core.
    """
    refuse_ledger(ledger, span)
    loaded = file.load() if isinstance(file, Source) else load_file(file)
    if span is None and loaded.schedule.needs_dates:
        raise click.UsageError(f"{NEEDS_DATES}: give --date, or --from and --to")
    refuse()
    return compile_loaded(loaded, span, ledger, jobs)


def refuse_ledger(ledger: str | None, span: DateSpan | None) -> None:
    """Raise a usage error for a ledger that can't be followed."""
    if ledger is not None and span is None:
        raise click.UsageError("--ledger follows tubes over dates: give --date, or --from and --to")
    if ledger in ("", "-"):
        raise click.UsageError("--ledger names a file")


def compile_loaded(
    loaded: Loaded, span: DateSpan | None, ledger: str | None, jobs: int | None = None
) -> tuple[Compiled, dict[str, Any] | None]:
    """Return a schedule compiled for some dates, and the ledger that was read."""
    from photoperiod.api import compile

    state, held = read_ledger(loaded, span, ledger)
    if span is None or span.days < WORTH_HELP_DAYS or not loaded.schedule.follows_sky:
        return compile(loaded, span, ledger=state, progress=progress()), held

    from photoperiod.cli.parallel import helpers

    with helpers(jobs) as others:
        return compile(loaded, span, ledger=state, progress=progress(), helpers=others), held


def read_ledger(
    loaded: Loaded, span: DateSpan | None, ledger: str | None
) -> tuple[LedgerState | None, dict[str, Any] | None]:
    """Return what a ledger tells of a schedule as some dates begin, and the ledger; None without one."""
    if ledger is None or span is None:
        return None, None

    from photoperiod.tubes.hours import LedgerState, NoDayBefore

    if not _is_there(ledger):
        return LedgerState(why_no_light=NoDayBefore.NEW), None

    from photoperiod.formats.ledger_json import MOST_BYTES, ledger_state_before, parse_ledger

    if not Path(ledger).is_file():
        what = "a folder" if Path(ledger).is_dir() else "no plain file"
        raise OutsideWorldError("PHO504", f"'{ledger}' is {what}", "--ledger names a file")
    held = parse_ledger(ledger, read_file(ledger, MOST_BYTES)[1])
    return ledger_state_before(ledger, held, loaded.schedule, span), held


def _is_there(ledger: str) -> bool:
    """Return whether there is anything under the name of a ledger."""
    try:
        return Path(ledger).stat() is not None
    except FileNotFoundError:
        return False
    except OSError as error:
        raise OutsideWorldError(
            "PHO504",
            f"can't use the ledger '{ledger}': {os_reason(error)}",
            "name another file",
        ) from error


def progress(what: str = "fitting tables", unit: str = " dates") -> Progress | None:
    """Return what shows how far long work is, on a terminal only."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, total: int) -> None:
        end = "\n" if done >= total else ""
        click.echo(f"\r{what}: {done} of {total}{unit}{end}", nl=False, err=True)

    return show


def exit_code(report: Report, strict: bool) -> int:
    """Return 1 if the findings forbid going on, else 0."""
    from photoperiod.diagnostics.codes import Severity

    if report.has_errors or (strict and report.count(Severity.WARNING)):
        return EXIT_FINDINGS
    return 0


class Read(Protocol):
    """What was read from a file, and what was found on it."""

    @property
    def document(self) -> Document | None:
        """The text."""

    @property
    def report(self) -> Report:
        """The findings."""


def print_report(
    outcome: Read, stream: TextIO, color: str, *, show_all: bool = False, detail: bool = False
) -> None:
    """Print what was found, each with its place in the file, and the counts of it."""
    from photoperiod.report.text import counts_line, render_text
    from photoperiod.text import wrapped

    colour, room = wants_colour(color, stream), room_of(stream)
    lines = outcome.document.lines if outcome.document else []
    text = render_text(
        outcome.report,
        lines,
        colour=colour,
        show_all=show_all,
        detail=detail,
        room=room,
    )
    if text:
        click.echo(text, file=stream, color=colour)
    click.echo(wrapped(counts_line(outcome.report), room, "    "), file=stream)


def print_picture(program: Program, stream: TextIO) -> None:
    """Print the days of a program as a small picture, where there is a terminal with room for it."""
    room = room_of(stream)
    if room is None:
        return

    from photoperiod.report.program_picture import program_picture

    lines = program_picture(program, room)
    if lines:
        click.echo("\n" + "\n".join(lines), file=stream)


def wants_colour(color: str, stream: TextIO) -> bool:
    """Return whether to colour a stream: the option, NO_COLOR, FORCE_COLOR, then the terminal."""
    if color != "auto":
        return color == "always"
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return stream.isatty() and os.environ.get("TERM") != "dumb"


def refused(fault: ScheduleError, color: str, *words: str) -> int:
    """Print why there is nothing to go on with, on standard error, and return the exit code."""
    print_report(fault, sys.stderr, color)
    for text in words:
        click.echo(text, err=True)
    return EXIT_FINDINGS


#: What commands say that write nothing because of findings.
NOTHING_WRITTEN = "nothing was written"
