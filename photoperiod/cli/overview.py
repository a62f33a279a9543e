"""``photoperiod overview``: many tanks at a glance."""

from __future__ import annotations

import contextlib
import sys
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import EXIT_FINDINGS, compile_file, progress, warn_of_one_id
from photoperiod.cli.options import date_options, jobs_of_files_option
from photoperiod.cli.terminal import room_of

if TYPE_CHECKING:
    from photoperiod.program.dates import DateSpan
    from photoperiod.report.overview import TankOverview


@click.command("overview")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@date_options
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    help="How to print it; json is for programs.",
)
@jobs_of_files_option
def overview_command(
    files: tuple[str, ...], span: DateSpan | None, form: str, jobs: int | None
) -> int:
    """Tell of many tanks: doses beside limits, next load, next tube, and what was found.

    A pipe gets a line for each FILE; a terminal with less room, one for each zone. The table of the first
    date counts as loaded: the next load is the one after it. A file that can't be compiled says why.
    Nothing is written. Tubes are followed from their fitting, without ledgers.
    """
    if span is None:
        raise click.UsageError("an overview is one of dates: give --date, or --from and --to")
    if "-" in files and len(files) > 1:
        raise click.UsageError("with several FILEs none of them is '-'")

    from photoperiod.cli.parallel import each_told
    from photoperiod.report.overview import overview_of_failed, render_overview

    warn_of_one_id(files)
    tanks, worst = [], 0
    show = progress("files compiled", "") or (lambda _done, _total: None)
    show(0, len(files))
    with contextlib.closing(each_told(_overview, [(f, span) for f in files], files, jobs)) as all:
        for file, told in zip(files, all, strict=True):
            if isinstance(told.result, int):  # it failed: that is its exit code
                tanks.append(overview_of_failed(file, told.err.partition("\n")[0]))
                worst = max(worst, told.result)
            else:
                tanks.append(told.result)
                worst = max(worst, 0 if told.result.is_fine else EXIT_FINDINGS)
            show(len(tanks), len(files))
    if form == "json":
        from photoperiod.report.overview_json import render_overview_json

        click.echo(render_overview_json([tank.data for tank in tanks], span), nl=False)
    else:
        click.echo(render_overview(tanks, room_of(sys.stdout)), nl=False)
    return worst


def _overview(file: str, span: DateSpan) -> TankOverview:
    """Return what a line tells of a file."""
    from photoperiod.api import ScheduleError
    from photoperiod.report.overview import overview_of, overview_of_refused

    try:
        outcome, _ = compile_file(file, span, None, jobs=1)
    except ScheduleError as fault:
        return overview_of_refused(fault.report)
    return overview_of(outcome.program, outcome.report)
