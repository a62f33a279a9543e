"""``photoperiod check``: every fault of a schedule."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import (
    NEEDS_DATES,
    compile_loaded,
    exit_code,
    load_file,
    print_picture,
    print_report,
    refuse_ledger,
)
from photoperiod.cli.options import colour_option, date_options, detail_option, ledger_option

if TYPE_CHECKING:
    from photoperiod.api import Compiled, Loaded, ScheduleError
    from photoperiod.program.dates import DateSpan


@click.command("check")
@click.argument("file")
@date_options
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "sarif"]),
    default="text",
    help="How to print what was found.",
)
@click.option("--strict", is_flag=True, help="Warnings fail too (exit code 1).")
@ledger_option
@click.option("--all", "show_all", is_flag=True, help="Show more than fifty findings.")
@detail_option
@colour_option
def check_command(
    file: str,
    span: DateSpan | None,
    form: str,
    strict: bool,
    show_all: bool,
    detail: bool,
    color: str,
    ledger: str | None,
) -> int:
    """Find every fault in FILE ('-' is standard input).

    On a terminal with room a picture of the day comes last, if there is a day to draw.
    """
    refuse_ledger(ledger, span)

    from photoperiod.api import ScheduleError

    found: Compiled | Loaded | ScheduleError
    compiled: Compiled | None = None
    try:
        found = loaded = load_file(file)
        if span is None and loaded.schedule.needs_dates:
            why = f"needs --date, or --from and --to: {NEEDS_DATES}"
            loaded.report.not_run = {"every check of days": why}
        else:
            compiled, _ = compile_loaded(loaded, span, ledger)
            found = compiled
            _tell_not_compared(compiled)
    except ScheduleError as fault:
        found = fault
    if form == "text":
        print_report(found, sys.stdout, color, show_all=show_all, detail=detail)
        if compiled is not None and not compiled.report.has_errors:
            print_picture(compiled.program, sys.stdout)
    else:
        from photoperiod.report.json import render_json
        from photoperiod.report.sarif import render_sarif

        render = render_json if form == "json" else render_sarif
        click.echo(render(found.report), nl=False)
    return exit_code(found.report, strict)


def _tell_not_compared(compiled: Compiled) -> None:
    """Add that the first date is not compared with the day before, if nothing tells what that was."""
    why = compiled.program.no_day_before
    if why is not None:
        compiled.report.not_run["first date"] = f"not compared with the day before: {why}"
