"""``photoperiod calendar``: what is to be done on which date, as text or for a calendar."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import EXIT_FINDINGS, compile_file, print_report, refused
from photoperiod.cli.options import colour_option, date_options
from photoperiod.cli.streams import write_bytes
from photoperiod.cli.terminal import room_of

if TYPE_CHECKING:
    from photoperiod.program.dates import DateSpan


@click.command("calendar")
@click.argument("file")
@date_options
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "ics"]),
    default="text",
    help="How to print it; ics is for calendars (RFC 5545).",
)
@click.option(
    "-o", "--output", default="-", metavar="OUT", help="File to write; '-' is standard output."
)
@click.option(
    "--ledger",
    metavar="FILE",
    help="What tubes had burned and owed before the dates; it is only read.",
)
@colour_option
def calendar_command(
    file: str,
    span: DateSpan | None,
    form: str,
    output: str,
    ledger: str | None,
    color: str,
) -> int:
    """Tell what is to be done for FILE on which date, as text or as a calendar.

    Loads with their hours, tubes to fit, days of burn-in, tubes that are due, PPFD to be read, clocks that
    change. Events keep their identity from one run to the next, so that a calendar brings them up to date.
    """
    if span is None:
        raise click.UsageError("a calendar is one of dates: give --date, or --from and --to")

    from photoperiod.api import ScheduleError
    from photoperiod.cli.output_place import refuse_named, refuse_output
    from photoperiod.formats.atomic import write_file

    refuse_output(output, file, ledger)
    try:
        outcome, _ = compile_file(file, span, ledger)
    except ScheduleError as fault:
        return refused(fault, color)
    refuse_named(output, file, outcome.program.schedule)
    print_report(outcome, sys.stderr, color)
    if outcome.report.has_errors:
        return EXIT_FINDINGS

    from photoperiod.formats import calendar

    if form == "ics":
        content = calendar.render(outcome.program)
    else:
        room = room_of(sys.stdout) if output == "-" else None
        content = calendar.render_text(outcome.program, room).encode()
    if output == "-":
        write_bytes(content)
        return 0

    write_file(Path(output), content)
    click.echo(f"wrote {len(content):,} bytes to {output}", err=True)
    return 0
