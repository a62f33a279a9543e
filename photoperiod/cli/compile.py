"""``photoperiod compile``: a folder of tables, doses and typing sheets."""

from __future__ import annotations

import os
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from photoperiod.cli.loading import (
    EXIT_FINDINGS,
    NOTHING_WRITTEN,
    Source,
    compile_file,
    exit_code,
    print_picture,
    print_report,
    refused,
    source_of,
    warn_of_one_id,
)
from photoperiod.cli.options import (
    cluster_options,
    colour_option,
    date_options,
    detail_option,
    jobs_option,
    ledger_option,
)
from photoperiod.cli.terminal import room_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from photoperiod.api import Compiled
    from photoperiod.cli.cluster import Made
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
@cluster_options
@ledger_option
@detail_option
@colour_option
def compile_command(
    files: tuple[str, ...],
    span: DateSpan | None,
    output: str,
    strict: bool,
    jobs: int | None,
    cluster: str | None,
    cluster_wait: float,
    color: str,
    ledger: str | None,
    detail: bool,
) -> int:
    """Compile FILE into a folder: table, doses, typing sheet.

    With dates, burn-in is planned and tube hours are followed over them; one file --ledger carries
    them from span to span. Nothing is written if the schedule has an error, or breaks a hard limit
    that it does not accept by name. On a terminal with room a picture of the day comes last. Several
    FILEs are compiled on all cores, or on a cluster; one that is refused does not stop the others.
    """
    if output in ("", "-"):
        raise click.UsageError("-o names a folder; the table alone is FOLDER/table.csv")
    if cluster is not None:
        return _on_cluster(
            files, span, output, (strict, color, detail), cluster, cluster_wait, ledger, jobs
        )
    if len(files) == 1:
        return _compile_to(files[0], span, output, strict, color, ledger, detail, jobs)
    if ledger is not None:
        raise click.UsageError("--ledger is that of one tank: compile one FILE at a time")

    from photoperiod.cli.parallel import make_folder, run_all, targets_of

    targets = targets_of(files, output, "")
    make_folder(output)
    warn_of_one_id(files)
    return run_all(
        _compile_to,
        [
            (file, span, target, strict, color, None, detail)
            for file, target in zip(files, targets, strict=True)
        ],
        files,
        jobs,
    )


def _on_cluster(
    files: tuple[str, ...],
    span: DateSpan | None,
    output: str,
    more: tuple[Any, ...],
    cluster: str,
    wait_s: float,
    ledger: str | None,
    jobs: int | None,
) -> int:
    """Let a cluster compile files, and write the folders here."""
    from photoperiod.cli.cluster import Job, refuse_with_cluster, run_on_cluster
    from photoperiod.cli.parallel import make_folder, targets_of
    from photoperiod.formats.folder import refuse_folder, write_folder

    refuse_with_cluster(cluster, ledger=ledger, jobs=jobs)
    targets = [output] if len(files) == 1 else targets_of(files, output, "")
    if len(files) > 1:
        make_folder(output)
        warn_of_one_id(files)

    def prepare(file: str, target: str) -> tuple[Any, ...]:
        refuse_folder(Path(target))
        return (source_of(file), span, target, *more)

    jobs_there = [
        Job(file, partial(prepare, file, target), partial(write_folder, Path(target)))
        for file, target in zip(files, targets, strict=True)
    ]
    return run_on_cluster(_compile_away, jobs_there, cluster, wait_s)


def _compile_away(
    source: Source, span: DateSpan | None, output: str, strict: bool, color: str, detail: bool
) -> int | Made:
    """Compile on a worker what another machine has read and will write; tell of it as if it were there."""
    from photoperiod.api import ScheduleError
    from photoperiod.cli.cluster import Made

    try:
        outcome, _ = compile_file(source, span, None, jobs=1)
    except ScheduleError as fault:
        return refused(fault, color, NOTHING_WRITTEN)
    files = _made(outcome, strict, color, detail)
    if files is None:
        return EXIT_FINDINGS
    _tell(outcome, files, output, None, detail)
    return Made(files)


def _compile_to(
    file: str,
    span: DateSpan | None,
    output: str,
    strict: bool,
    color: str,
    ledger: str | None,
    detail: bool,
    jobs: int | None = 1,
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
        outcome, held = compile_file(file, span, ledger, refuse, jobs)
    except ScheduleError as fault:
        return refused(fault, color, NOTHING_WRITTEN)
    files = _made(outcome, strict, color, detail)
    if files is None:
        return EXIT_FINDINGS

    from photoperiod.formats.folder import write_folder

    if ledger is None:
        write_folder(Path(output), files)
    else:
        from photoperiod.formats.atomic import written_beside
        from photoperiod.formats.ledger_json import render_ledger

        with written_beside(Path(ledger), render_ledger(outcome.program, held)):
            write_folder(Path(output), files)
    _tell(outcome, files, output, ledger, detail)
    return 0


def _made(outcome: Compiled, strict: bool, color: str, detail: bool) -> Mapping[str, bytes] | None:
    """Print the findings, and return the files to write; None if there are to be none."""
    print_report(outcome, sys.stderr, color, detail=detail)
    if exit_code(outcome.report, strict):
        click.echo(NOTHING_WRITTEN, err=True)
        return None

    from photoperiod.formats.folder import render_all

    return render_all(outcome.program, outcome.report.sorted())


def _tell(
    outcome: Compiled, files: Mapping[str, bytes], output: str, ledger: str | None, detail: bool
) -> None:
    """Print the summary, and what was written."""
    from photoperiod.formats.cautions import CAUTIONS
    from photoperiod.report.summary import render_summary
    from photoperiod.text import safe, wrapped

    room = room_of(sys.stdout)
    if room is not None:
        click.echo(err=True)  # between the findings and the summary
    findings = outcome.report.sorted()
    click.echo(render_summary(outcome.program, findings, detail=detail, room=room))
    told = [safe(f"wrote {', '.join(files)} to {output}")]
    if ledger is not None:
        told.append(safe(f"brought {ledger} up to {outcome.program.span.last}"))  # type: ignore[union-attr]
    told.append(f"Before you load it: {CAUTIONS[0]} {CAUTIONS[-1]}")
    for line in told:
        click.echo(wrapped(line, room))
    print_picture(outcome.program, sys.stdout)
