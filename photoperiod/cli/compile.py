"""``photoperiod compile``: a folder of tables, doses and typing sheets."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import (
    EXIT_FINDINGS,
    NOTHING_WRITTEN,
    compile_file,
    exit_code,
    print_picture,
    print_report,
    refused,
)
from photoperiod.cli.options import (
    colour_option,
    date_options,
    detail_option,
    jobs_option,
    ledger_option,
)
from photoperiod.cli.terminal import room_of

if TYPE_CHECKING:
    from photoperiod.program.dates import DateSpan


@click.command("compile")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@date_options
@click.option(
    "-o",
    "--output",
    required=True,
    metavar="FOLDER",
    help="Folder to write; one that compile wrote before is replaced as a whole. With several FILEs"
    " it holds a folder for each.",
)
@click.option("--strict", is_flag=True, help="Write nothing if there are warnings.")
@jobs_option
@ledger_option
@detail_option
@colour_option
def compile_command(
    files: tuple[str, ...],
    span: DateSpan | None,
    output: str,
    strict: bool,
    jobs: int | None,
    color: str,
    ledger: str | None,
    detail: bool,
) -> int:
    """Compile FILE into a folder: table, doses, typing sheet.

    With dates, burn-in is planned and tube hours are followed over them; one file --ledger carries
    them from span to span. Nothing is written if the schedule has an error, or breaks a hard limit
    that it does not accept by name. On a terminal with room a picture of the day comes last. Several
    FILEs are compiled on all cores; one that is refused does not stop the others.
    """
    if output in ("", "-"):
        raise click.UsageError("-o names a folder; the table alone is FOLDER/table.csv")
    if len(files) == 1:
        return _compile_to(files[0], span, output, strict, color, ledger, detail)
    if ledger is not None:
        raise click.UsageError("--ledger is that of one tank: compile one FILE at a time")

    from photoperiod.cli.parallel import make_folder, run_all, targets_of

    targets = targets_of(files, output, "")
    make_folder(output)
    return run_all(
        _compile_to,
        [
            (file, span, target, strict, color, None, detail)
            for file, target in zip(files, targets, strict=True)
        ],
        files,
        jobs,
    )


def _compile_to(
    file: str,
    span: DateSpan | None,
    output: str,
    strict: bool,
    color: str,
    ledger: str | None,
    detail: bool,
) -> int:
    """Compile a file into a folder and tell of it."""
    if ledger:
        book_path, folder = Path(os.path.realpath(ledger)), Path(os.path.realpath(output))
        if folder in book_path.parents:
            raise click.UsageError(
                "--ledger lies in the folder of -o, which is replaced as a whole"
            )
        if book_path == folder or book_path in folder.parents:
            raise click.UsageError("--ledger names a file, and -o a folder within it")

    from photoperiod.api import ScheduleError

    def refuse() -> None:
        from photoperiod.formats.folder import refuse_folder

        refuse_folder(Path(output))

    try:
        outcome, held = compile_file(file, span, ledger, refuse)
    except ScheduleError as fault:
        return refused(fault, color, NOTHING_WRITTEN)
    print_report(outcome, sys.stderr, color, detail=detail)
    if exit_code(outcome.report, strict):
        click.echo(NOTHING_WRITTEN, err=True)
        return EXIT_FINDINGS

    from photoperiod.formats.cautions import CAUTIONS
    from photoperiod.formats.folder import render_all, write_folder
    from photoperiod.report.summary import render_summary
    from photoperiod.text import safe, wrapped

    findings = outcome.report.sorted()
    files = render_all(outcome.program, findings)
    if ledger is None:
        write_folder(Path(output), files)
    else:
        from photoperiod.formats.atomic import written_beside
        from photoperiod.formats.ledger_json import render_ledger

        with written_beside(Path(ledger), render_ledger(outcome.program, held)):
            write_folder(Path(output), files)
    room = room_of(sys.stdout)
    if room is not None:
        click.echo(err=True)  # between the findings and the summary
    click.echo(render_summary(outcome.program, findings, detail=detail, room=room))
    told = [safe(f"wrote {', '.join(files)} to {output}")]
    if ledger is not None:
        told.append(safe(f"brought {ledger} up to {outcome.program.span.last}"))  # type: ignore[union-attr]
    told.append(f"Before you load it: {CAUTIONS[0]} {CAUTIONS[-1]}")
    for line in told:
        click.echo(wrapped(line, room))
    print_picture(outcome.program, sys.stdout)
    return 0
