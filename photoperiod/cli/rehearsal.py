"""``photoperiod run --speed`` and ``--at``: a day of a table as lines of text, without a device."""

from __future__ import annotations

import datetime as dt
import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import EXIT_FINDINGS, print_report, read_file
from photoperiod.cli.options import Number, check_years
from photoperiod.cli.replay import Moment, moment_of, table_in
from photoperiod.units import SECONDS_PER_DAY

if TYPE_CHECKING:
    from photoperiod.board.board_file import BoardFile
    from photoperiod.formats.table import PlayableTable


def rehearsal_options(command: Callable[..., int]) -> Callable[..., int]:
    """Give a command the options that make it a rehearsal."""
    command = click.option(
        "--speed",
        type=Number(min=1, max=SECONDS_PER_DAY),
        metavar="N",
        help="A rehearsal: print a day N times as fast, and touch no device; 600 plays it in 2.4 minutes.",
    )(command)
    return click.option(
        "--at",
        type=Moment(),
        help="A rehearsal from this moment on, such as 08:45 or 2027-03-02T08:45; touches no device.",
    )(command)


def read_board_file(name: str) -> BoardFile:
    """Return the board file of a name, with its findings."""
    from photoperiod.board.board_file import read_board

    return read_board(*read_file(name, way_out="check the name; examples/board/board.yaml is one"))


def rehearse_table(
    table: str, board_name: str | None, speed: float | None, at: dt.datetime | dt.time | None
) -> int:
    """Print a day of a table as a board would play it that starts then; return the exit code."""
    if isinstance(at, dt.date):
        check_years(at)
    held = table_in(table)
    if board_name is not None:
        file = read_board_file(board_name)
        file.check_table(held)
        if len(list(file.report)):
            print_report(file, sys.stderr, "auto", show_all=False)
        if file.config is None:
            return EXIT_FINDINGS
    date, second = _beginning(held, at)
    _play(held, date, second, speed or 1.0)
    return 0


def _beginning(table: PlayableTable, at: dt.datetime | dt.time | None) -> tuple[dt.date, int]:
    """Return where it begins: at midnight, and on the first date of the table, unless told."""
    from photoperiod.formats.image import FIRST_DAY, date_of

    span = table.image.span
    first = FIRST_DAY if span is None else date_of(span[0])
    if at is None:
        return first, 0
    return moment_of(table, at, first if isinstance(at, dt.time) else None, None)


def _play(table: PlayableTable, date: dt.date, second: int, speed: float) -> None:
    from photoperiod.board.rehearsal import rehearse, status_at
    from photoperiod.player.replay_text import status_words
    from photoperiod.text import clock_text, number_text

    begin = clock_text(second, with_seconds=True)
    when = f"{date} {begin}" if table.image.span is not None else begin
    fast = "" if speed == 1 else f", {number_text(speed)} times as fast"
    click.echo(
        f"rehearsal: no device is touched; a day from {when} on the {table.image.clock} clock{fast}",
        err=True,
    )
    for words in status_words(status_at(table, date, second)):
        click.echo(words, err=True)
    start_s = time.monotonic()
    for elapsed_s, lines in rehearse(table, date, second, max(round(speed), 1)):
        time.sleep(max(start_s + elapsed_s / speed - time.monotonic(), 0.0))
        for line in lines:
            click.echo(line)
    click.echo("the day is over", err=True)
