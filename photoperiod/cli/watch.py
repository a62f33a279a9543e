"""``photoperiod watch``: the page beside the editor, made anew whenever the schedule is saved."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from photoperiod.cli.options import date_options, ledger_option

if TYPE_CHECKING:
    from types import FrameType

    from photoperiod.program.dates import DateSpan

#: Where the page is unless another port is named: one that no common program takes.
PORT = 8426


@click.command("watch")
@click.argument("file")
@date_options
@click.option(
    "--port",
    type=click.IntRange(0, 65_535),
    default=PORT,
    show_default=True,
    help="Where the browser finds the page; 0 takes a port that is free.",
)
@ledger_option
def watch_command(file: str, span: DateSpan | None, port: int, ledger: str | None) -> int:
    """Show the page of FILE in a browser of this machine, and make it anew whenever FILE is saved.

    A schedule with errors shows them at their lines. Nothing is written, and nobody but this machine sees
    the page. Ctrl-C stops it (exit code 130), SIGTERM too (exit code 0).
    """
    if file == "-":
        raise click.UsageError("watch needs a file that can be saved again, not standard input")

    from photoperiod.cli.loading import refuse_ledger
    from photoperiod.page.live import LivePage, serving
    from photoperiod.page.watched import Watched

    refuse_ledger(ledger, span)
    watched = Watched([Path(file)])
    try:
        with _stopped_by_signals():
            page, paths = _made(file, span, ledger)
            watched.watch(paths)
            live = LivePage(page)
            with serving(live, port) as port:
                click.echo(f"the page of {file} is here until Ctrl-C: http://127.0.0.1:{port}/")
                sys.stdout.flush()
                while watched.wait(threading.Event()):
                    page, paths = _made(file, span, ledger)
                    watched.watch(paths)
                    live.put(page)
    except _Stopped as stopped:
        click.echo("stopped", err=True)
        return stopped.exit_code
    return 0


def _made(file: str, span: DateSpan | None, ledger: str | None) -> tuple[bytes, list[Path]]:
    """Return the page of a file as it is now, and the files that it depends on; tell of it in a line."""
    from photoperiod.api import ScheduleError
    from photoperiod.cli.loading import compile_file
    from photoperiod.errors import PhotoperiodError
    from photoperiod.page.broken import render_broken
    from photoperiod.page.render import render_page
    from photoperiod.report.text import counts_line
    from photoperiod.schedule.parts import files_beside

    path = Path(file)
    try:
        # What is remembered of the file as it was stands in this process alone.
        outcome, _ = compile_file(file, span, ledger, jobs=1)
    except ScheduleError as fault:
        click.echo(counts_line(fault.report), err=True)
        lines = fault.document.lines if fault.document else []
        named = files_beside(fault.document.data) if fault.document else []
        page = render_broken(file, fault.report.sorted(), lines, others=fault.report.others)
        return page, [path, *(path.parent / name for name in named)]
    except (PhotoperiodError, click.UsageError) as fault:
        words = fault.told() if isinstance(fault, PhotoperiodError) else fault.message
        click.echo(words, err=True)
        return render_broken(file, (), (), words), [path]
    click.echo(counts_line(outcome.report), err=True)
    document, readings = outcome.document, outcome.loaded.readings
    lines = document.lines if document else []
    named = files_beside(document.data) if document else []
    page = render_page(outcome.program, outcome.report, lines, readings, is_live=True)
    return page, [path, *(path.parent / name for name in named)]


class _Stopped(BaseException):
    """A signal asked to stop; it ends whatever is going on, also a long compilation."""

    def __init__(self, exit_code: int) -> None:
        super().__init__(exit_code)
        self.exit_code = exit_code


@contextmanager
def _stopped_by_signals() -> Iterator[None]:
    """Let SIGINT and SIGTERM end the body of the `with` by `_Stopped`."""

    def stop(number: int, _frame: FrameType | None) -> None:
        raise _Stopped(130 if number == signal.SIGINT else 0)

    before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
