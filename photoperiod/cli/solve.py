"""``photoperiod solve``: the days that give zones the doses that they ask for, as lines to paste."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import (
    NEEDS_DATES,
    compile_loaded,
    exit_code,
    load_file,
    print_report,
    refuse_ledger,
    refused,
)
from photoperiod.cli.options import colour_option, date_options, ledger_option
from photoperiod.cli.terminal import room_of

if TYPE_CHECKING:
    from photoperiod.program.dates import DateSpan

#: Said over the lines: whoever appends them to the file writes a key twice, which is an error (PHO102).
IN_PLACE = "write each `day` in place of that of the same channel: in the file each key stands once"

#: Said where light has more decimals than anybody would type.
FINE_LIGHT = "type all decimals of `light_percent`: with two of them the table would be another one"


@click.command("solve")
@click.argument("file")
@date_options
@ledger_option
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    help="How to print it; json as `photoperiod schema solve` describes it.",
)
@colour_option
def solve_command(
    file: str, span: DateSpan | None, ledger: str | None, form: str, color: str
) -> int:
    """Find the day that gives each zone of FILE the dose that it asks for.

    Zones ask with wanted_dli, and channels say with may_move what may change. What is found is printed as
    lines to write in place of those of the same channel; no file is changed. `compile` finds the same.
    """
    refuse_ledger(ledger, span)

    from photoperiod.api import ScheduleError

    try:
        loaded = load_file(file)
        if not loaded.schedule.asks_for_doses:
            raise click.UsageError("no zone of FILE asks for a dose: write `wanted_dli` in a zone")
        if span is None and loaded.schedule.needs_dates:
            raise click.UsageError(f"{NEEDS_DATES}: give --date, or --from and --to")
        outcome, _ = compile_loaded(loaded, span, ledger)
    except ScheduleError as fault:
        return refused(fault, color)

    from photoperiod.schedule.found_text import found_sentences, has_fine_light, lines_to_paste
    from photoperiod.text import wrapped

    print_report(outcome, sys.stderr, color)
    if form == "json":
        from photoperiod.formats.found_json import solve_data
        from photoperiod.text import json_text

        click.echo(json_text(solve_data(outcome.program)), nl=False)
        return exit_code(outcome.report, strict=False)
    found = outcome.schedule.found
    assert found is not None, "some zone asks for a dose"
    for sentence in found_sentences(found):
        click.echo(wrapped(f"# {sentence}", room_of(sys.stdout), "#   "))
    lines = lines_to_paste(found)
    notes = [IN_PLACE] if lines else []
    notes += [FINE_LIGHT] if has_fine_light(found) else []
    for note in notes:
        click.echo(wrapped(f"# {note}", room_of(sys.stdout), "#   "))
    for line in lines:
        click.echo(line)
    return exit_code(outcome.report, strict=False)
