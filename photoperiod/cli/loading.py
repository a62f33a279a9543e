"""What commands do with a schedule: read it, compile it, show what was found, choose the exit code."""

from __future__ import annotations

import datetime as dt
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TextIO

import click

from photoperiod.errors import OutsideWorldError, os_reason

if TYPE_CHECKING:
    from photoperiod.api import Compiled
    from photoperiod.diagnostics.model import Report
    from photoperiod.program.model import DateSpan
    from photoperiod.program.year import Progress
    from photoperiod.source.document import Document

EXIT_FINDINGS = 1


def read_file(
    file: str,
    most_bytes: int | None = None,
    way_out: str = "check the name; `photoperiod new FILE` writes a first schedule",
) -> tuple[str, bytes]:
    """Return what to call a file in messages, and its bytes, no more than are looked at."""
    from photoperiod.source.document import MAX_BYTES

    most_bytes = most_bytes or MAX_BYTES + 1
    try:
        if file == "-":
            return "standard input", sys.stdin.buffer.read(most_bytes)
        with Path(file).open("rb") as stream:
            return file, stream.read(most_bytes)
    except (OSError, ValueError) as error:
        raise OutsideWorldError(
            "PHO501",
            f"can't read '{file}': {os_reason(error)}",
            "check who may read it" if isinstance(error, PermissionError) else way_out,
        ) from error


def compile_file(
    file: str, dates: tuple[dt.date, dt.date] | None, ledger: str | None
) -> tuple[Compiled, dict[str, Any] | None]:
    """Return the outcome of a file for some dates, and the ledger that was read."""
    if ledger is not None and dates is None:
        raise click.UsageError("--ledger follows tubes over dates: give --date, or --from and --to")
    if ledger in ("", "-"):
        raise click.UsageError("--ledger names a file")
    from photoperiod.api import compile_and_check, load, not_compiled

    loaded, span = load(*read_file(file)), span_of(dates)
    if loaded.schedule is None:
        return not_compiled(loaded), None
    if ledger is None or span is None or not _is_there(ledger):
        return compile_and_check(loaded, span, progress=progress()), None

    from photoperiod.formats.ledger_json import MOST_BYTES, book_before, parse_ledger

    if not Path(ledger).is_file():
        what = "a folder" if Path(ledger).is_dir() else "no plain file"
        raise OutsideWorldError("PHO504", f"'{ledger}' is {what}", "--ledger names a file")
    held = parse_ledger(ledger, read_file(ledger, MOST_BYTES)[1])
    book = book_before(ledger, held, loaded.schedule, span)
    return compile_and_check(loaded, span, book, progress()), held


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


def progress() -> Progress | None:
    """Return what shows how far long work is, on a terminal only."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, total: int) -> None:
        end = "\n" if done >= total else ""
        click.echo(f"\rfitting tables: {done} of {total} dates{end}", nl=False, err=True)

    return show


def ask_for_dates(outcome: Compiled, dates: tuple[dt.date, dt.date] | None) -> None:
    """Raise a usage error if a schedule has no day without dates, and none were given."""
    if outcome.program is None and outcome.schedule and outcome.schedule.needs_dates and not dates:
        raise click.UsageError(
            "days follow the sky, or clocks differ: give --date, or --from and --to"
        )


def span_of(dates: tuple[dt.date, dt.date] | None) -> DateSpan | None:
    """Return the span of a first and a last date."""
    from photoperiod.program.model import DateSpan

    return None if dates is None else DateSpan(*dates)


def exit_code(outcome: Compiled, strict: bool) -> int:
    """Return 1 if what was found forbids going on, else 0."""
    from photoperiod.diagnostics.model import Severity

    if outcome.report.has_errors or (strict and outcome.report.count(Severity.WARNING)):
        return EXIT_FINDINGS
    return 0


class Read(Protocol):
    """What was read from a file, and what was found on it."""

    @property
    def source(self) -> Document:
        """The text."""

    @property
    def report(self) -> Report:
        """The findings."""


def print_report(outcome: Read, stream: TextIO, color: str, show_all: bool) -> None:
    """Print what was found, each with its place in the file, and the counts of it."""
    from photoperiod.report.text import counts_line, render_text

    colour = wants_colour(color, stream)
    text = render_text(outcome.report, outcome.source.lines, colour=colour, show_all=show_all)
    if text:
        click.echo(text, file=stream, color=colour)
    click.echo(counts_line(outcome.report), file=stream)


def wants_colour(color: str, stream: TextIO) -> bool:
    """Return whether to colour a stream: the option, NO_COLOR, FORCE_COLOR, then the terminal."""
    if color != "auto":
        return color == "always"
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return stream.isatty() and os.environ.get("TERM") != "dumb"
