"""``photoperiod report``: one page with everything about a tank, for a phone, a wall or a folder."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import (
    EXIT_FINDINGS,
    NOTHING_WRITTEN,
    compile_file,
    exit_code,
    print_report,
    refused,
)
from photoperiod.cli.options import colour_option, date_options, ledger_option

if TYPE_CHECKING:
    from photoperiod.program.dates import DateSpan


@click.command("report")
@click.argument("file")
@date_options
@click.option(
    "-o",
    "--output",
    required=True,
    metavar="PAGE",
    help="File to write, such as tank.html ('-' is standard output); one that is there is replaced.",
)
@click.option("--strict", is_flag=True, help="Write nothing if there are warnings.")
@ledger_option
@colour_option
def report_command(
    file: str,
    span: DateSpan | None,
    output: str,
    strict: bool,
    ledger: str | None,
    color: str,
) -> int:
    """Make one page of FILE ('-' is standard input): pictures, numbers, dates, and a sheet for a stand-in.

    The page is one HTML file that loads nothing from anywhere. A browser opens it on a phone, in the dark,
    and prints it. Nothing is written if the schedule has an error, or breaks a hard limit that it does
    not accept by name; `watch` shows such a schedule.
    """
    if output == "":
        raise click.UsageError("-o names a file, such as tank.html")

    from photoperiod.api import ScheduleError, render_page
    from photoperiod.cli.output_place import refuse_named, refuse_output
    from photoperiod.formats.atomic import write_file
    from photoperiod.page.render import environment

    refuse_output(output, file, ledger)
    environment()  # a library that is missing is told before a year is compiled, not after
    try:
        outcome, _ = compile_file(file, span, ledger)
    except ScheduleError as fault:
        return refused(fault, color, NOTHING_WRITTEN)
    refuse_named(output, file, outcome.program.schedule)
    print_report(outcome, sys.stderr, color)
    if exit_code(outcome.report, strict):
        click.echo(NOTHING_WRITTEN, err=True)
        return EXIT_FINDINGS
    page = render_page(outcome)
    if output == "-":
        click.echo(page, nl=False)
        return 0

    from photoperiod.text import safe

    write_file(Path(output), page)
    click.echo(safe(f"wrote {output}, {len(page) // 1000} kB; open it in a browser"))
    return 0
