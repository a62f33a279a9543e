"""``photoperiod check``: every fault of a schedule."""

from __future__ import annotations

import datetime as dt
import sys

import click

from photoperiod.cli.loading import compile_file, exit_code, print_report
from photoperiod.cli.options import colour_option, date_options, dates_of, ledger_option


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
@click.option("--all", "show_all", is_flag=True, help="Show more than fifty diagnostics.")
@colour_option
def check_command(
    file: str,
    one_date: dt.date | None,
    from_date: dt.date | None,
    to_date: dt.date | None,
    form: str,
    strict: bool,
    show_all: bool,
    color: str,
    ledger: str | None,
) -> int:
    """Find every fault in FILE ('-' is standard input)."""
    outcome, _ = compile_file(file, dates_of(one_date, from_date, to_date), ledger)
    if form == "text":
        print_report(outcome, sys.stdout, color, show_all)
    else:
        from photoperiod.report.machine import render_json, render_sarif

        render = render_json if form == "json" else render_sarif
        click.echo(render(outcome.report), nl=False)
    return exit_code(outcome, strict)
