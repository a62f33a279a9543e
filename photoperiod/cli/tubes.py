"""``photoperiod tubes``: tubes over years, when each is due, and what ways to replace them do."""

from __future__ import annotations

import datetime as dt
import sys
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import (
    compile_loaded,
    exit_code,
    load_file,
    print_report,
    progress,
    read_ledger,
    refuse_ledger,
    refused,
)
from photoperiod.cli.options import Date, WholeNumber, colour_option, span_of
from photoperiod.cli.terminal import room_of

if TYPE_CHECKING:
    from photoperiod.program.dates import DateSpan


@click.command("tubes")
@click.argument("file")
@click.option("--from", "from_date", type=Date(), required=True, help="First date.")
@click.option(
    "--years", type=WholeNumber(min=1, max=10), default=5, help="How many years; 5 if not told."
)
@click.option("--no-policies", is_flag=True, help="Leave the comparison of policies out.")
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    help="How to print it.",
)
@click.option(
    "--ledger",
    metavar="FILE",
    help="What tubes had burned and owed before the dates; it is only read.",
)
@colour_option
def tubes_command(
    file: str,
    from_date: dt.date,
    years: int,
    no_policies: bool,
    form: str,
    ledger: str | None,
    color: str,
) -> int:
    """Tell when each tube of FILE is due, and compare ways to replace them.

    Over the years it counts tubes, loads, days of burn-in and costs, and how the light of each zone goes up
    and down: if tubes are replaced as the file says, all at once, by halves, by their hours, or by light
    that was measured.
    """
    span = _years(from_date, years)
    refuse_ledger(ledger, span)

    from photoperiod.api import ScheduleError
    from photoperiod.upkeep.years import tube_years

    try:
        loaded = load_file(file)
        compiled, _ = compile_loaded(loaded, span, ledger)
        state, _ = read_ledger(loaded, span, ledger)
    except ScheduleError as fault:
        return refused(fault, color)
    found = tube_years(compiled.program, state, progress(), compare=not no_policies)
    print_report(compiled, sys.stderr, color)
    if form == "json":
        from photoperiod.formats import tubes_json

        content = tubes_json.render(found.program, found.tubes, found.policies)
        click.echo(content.decode(), nl=False)
        return exit_code(compiled.report, strict=False)

    from photoperiod.report.tubes import render_tubes

    room = room_of(sys.stdout)
    text = render_tubes(found.program, found.tubes, found.policies, room)
    click.echo(text, nl=False)
    return exit_code(compiled.report, strict=False)


def _years(first: dt.date, years: int) -> DateSpan | None:
    """Return so many years from a date on."""
    try:
        last = first.replace(year=first.year + years) - dt.timedelta(days=1)
    except ValueError:  # 29 February
        last = dt.date(first.year + years, 2, 28)
    return span_of(None, first, last)
