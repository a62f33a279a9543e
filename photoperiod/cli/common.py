"""What commands share: options, reading and compiling a schedule, and showing what was found."""

from __future__ import annotations

import datetime as dt
import math
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TextIO, TypeVar

import click

from photoperiod.errors import OutsideWorldError, os_reason

if TYPE_CHECKING:
    from photoperiod.api import Compiled
    from photoperiod.diagnostics.model import Report
    from photoperiod.program.model import DateSpan
    from photoperiod.program.year import Progress
    from photoperiod.source.document import Document

F = TypeVar("F", bound=Callable[..., Any])

EXIT_FINDINGS = 1

#: Dates outside these years are slips of the pen.
FIRST_YEAR, LAST_YEAR = 1901, 2178


class Date(click.ParamType):  # type: ignore[type-arg,unused-ignore]  # generic since click 8.4
    """A calendar date, YYYY-MM-DD."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: Any, ctx: Any) -> dt.date:
        """Return the date, or fail with a usage error."""
        if isinstance(value, dt.date):
            return value
        try:
            if len(value) != 10:
                raise ValueError
            return dt.date.fromisoformat(value)
        except ValueError:
            self.fail(f"'{value}' is not a date; write it as 2027-03-02", param, ctx)


class Number(click.FloatRange):
    """A number within a range; what is no number is not in any."""

    def convert(self, value: Any, param: Any, ctx: Any) -> float:
        """Return the number, or fail with a usage error."""
        found = float(super().convert(value, param, ctx))
        if math.isnan(found):
            self.fail(f"{value!r} is not a number", param, ctx)
        return found


def date_options(command: F) -> F:
    """Add ``--date``, ``--from`` and ``--to``."""
    command = click.option("--to", "to_date", type=Date(), help="Last date of a span.")(command)
    command = click.option("--from", "from_date", type=Date(), help="First date.")(command)
    return click.option("--date", "one_date", type=Date(), help="A single date.")(command)


def ledger_option(command: F) -> F:
    """Add ``--ledger``."""
    return click.option(
        "--ledger",
        metavar="FILE",
        help="What tubes had burned and owed before the dates; compile brings it up to date.",
    )(command)


def colour_option(command: F) -> F:
    """Add ``--color``."""
    return click.option(
        "--color",
        type=click.Choice(["auto", "always", "never"]),
        default="auto",
        help="Colour; auto looks at NO_COLOR, FORCE_COLOR and the terminal.",
    )(command)


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


def dates_of(
    one_date: dt.date | None, from_date: dt.date | None, to_date: dt.date | None
) -> tuple[dt.date, dt.date] | None:
    """Return the first and last date that the options name, None without; wrong ones are wrong use."""
    if one_date and (from_date or to_date):
        raise click.UsageError("--date stands alone; for a span use --from and --to")
    if (from_date is None) != (to_date is None):
        raise click.UsageError("--from and --to go together")
    if one_date:
        check_years(one_date)
        return one_date, one_date
    if from_date is None or to_date is None:
        return None
    if to_date < from_date:
        raise click.UsageError(f"the span runs backwards: {from_date} is after {to_date}")
    if (to_date - from_date).days > 3652:
        raise click.UsageError("a span has at most ten years")
    check_years(from_date, to_date)
    return from_date, to_date


def check_years(*dates: dt.date) -> None:
    """Raise a usage error for dates that are slips of the pen."""
    for date in dates:
        if not FIRST_YEAR <= date.year <= LAST_YEAR:
            raise click.UsageError(f"{date} is not from {FIRST_YEAR} to {LAST_YEAR}")


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
