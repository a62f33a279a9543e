"""``photoperiod export``: one file for one kind of player."""

from __future__ import annotations

import sys
from dataclasses import replace
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
    print_report,
    progress,
    refused,
    source_of,
)
from photoperiod.cli.options import (
    WholeNumber,
    cluster_options,
    colour_option,
    date_options,
    jobs_option,
)
from photoperiod.cli.sketch import put_sketch, sketch_options
from photoperiod.cli.streams import write_bytes
from photoperiod.errors import ExportRefused
from photoperiod.text import safe

if TYPE_CHECKING:
    from collections.abc import Callable

    from photoperiod.api import Compiled
    from photoperiod.cli.cluster import Made
    from photoperiod.formats.wiring import Wiring
    from photoperiod.program.dates import DateSpan
    from photoperiod.program.model import Program
    from photoperiod.schedule.model import Schedule

#: What each kind is called on disk.
SUFFIXES = {"c": ".h", "micropython": ".py", "binary": ".bin", "csv": ".csv", "json": ".json"}

#: Kinds that a controller keeps in its memory without what people want to know.
_BARE = ("c", "micropython")


@click.command("export")
@click.argument("kind", type=click.Choice(list(SUFFIXES)))
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@date_options
@click.option(
    "-o",
    "--output",
    required=True,
    metavar="OUT",
    help="File to write, '-' for standard output; one that is there is replaced, unless it is a ledger"
    " or such a file as people write for photoperiod. With several FILEs, or with --board, a folder.",
)
@click.option(
    "--flash-bytes",
    type=WholeNumber(min=1),
    metavar="N",
    help="Take the best tables that fit into N bytes (of a C or MicroPython export: the tables"
    " alone, without the player).",
)
@click.option("--strict", is_flag=True, help="Write nothing if there are warnings.")
@click.option(
    "--ledger",
    metavar="FILE",
    help="What tubes had burned and owed before the dates; export only reads it.",
)
@sketch_options
@jobs_option
@cluster_options
@colour_option
def export_command(
    kind: str,
    files: tuple[str, ...],
    span: DateSpan | None,
    output: str,
    flash_bytes: int | None,
    strict: bool,
    color: str,
    ledger: str | None,
    wiring: Wiring | None,
    jobs: int | None,
    cluster: str | None,
    cluster_wait: float,
) -> int:
    """Compile FILE into one file of a KIND: what a controller, a board or a program reads.

    `c` is a C99 header with its player, `micropython` a module with its player, `binary` the image
    that `replay`, `compare` and `run` read, `csv` and `json` the same as text. With --board, --clock and
    --levels, `c` and `micropython` write a folder with a whole program for a board.
    """
    if ledger is not None and (len(files) > 1 or flash_bytes is not None):
        raise click.UsageError("--ledger is for one FILE, and without --flash-bytes")
    if cluster is not None:
        from photoperiod.cli.cluster import refuse_with_cluster

        more = (flash_bytes, strict, color)
        refuse_with_cluster(cluster, ledger=ledger, board=wiring, jobs=jobs)
        code = _on_cluster(kind, files, span, output, more, cluster, cluster_wait)
    elif len(files) == 1:
        code = _export(
            kind, files[0], span, output, flash_bytes, strict, color, ledger, wiring, jobs
        )
    else:
        code = _export_many(kind, files, span, output, flash_bytes, strict, color, jobs)
    if code == 0:
        from photoperiod.formats.cautions import CAUTIONS

        click.echo(f"Before you load it: {CAUTIONS[0]} {CAUTIONS[-1]}", err=True)
    return code


def _export_many(
    kind: str,
    files: tuple[str, ...],
    span: DateSpan | None,
    output: str,
    flash_bytes: int | None,
    strict: bool,
    color: str,
    jobs: int | None,
) -> int:
    from photoperiod.cli.parallel import make_folder, run_all, targets_of

    targets = targets_of(files, output, SUFFIXES[kind])
    make_folder(output)
    return run_all(
        _export,
        [
            (kind, file, span, target, flash_bytes, strict, color)
            for file, target in zip(files, targets, strict=True)
        ],
        files,
        jobs,
    )


def _on_cluster(
    kind: str,
    files: tuple[str, ...],
    span: DateSpan | None,
    output: str,
    more: tuple[Any, ...],
    cluster: str,
    wait_s: float,
) -> int:
    """Let a cluster compile files, and write what it made here."""
    from photoperiod.cli.cluster import Job, run_on_cluster
    from photoperiod.cli.output_place import refuse_beside, refuse_output
    from photoperiod.cli.parallel import make_folder, targets_of

    targets = [output] if len(files) == 1 else targets_of(files, output, SUFFIXES[kind])
    if len(files) > 1:
        make_folder(output)

    def prepare(file: str, target: str) -> tuple[Any, ...]:
        refuse_output(target, file)
        source = source_of(file)
        refuse_beside(target, file, source.beside)
        return (kind, source, span, target, *more)

    jobs = [
        Job(file, partial(prepare, file, target), partial(_put, target))
        for file, target in zip(files, targets, strict=True)
    ]
    return run_on_cluster(_export_away, jobs, cluster, wait_s)


def _export_away(
    kind: str,
    source: Source,
    span: DateSpan | None,
    output: str,
    flash_bytes: int | None,
    strict: bool,
    color: str,
) -> int | Made:
    """Compile on a worker what another machine has read and will write; tell of it as if it were there."""
    from photoperiod.api import ScheduleError
    from photoperiod.cli.cluster import Made

    try:
        outcome, _ = compile_file(source, span, None, jobs=1)
    except ScheduleError as fault:
        return refused(fault, color, NOTHING_WRITTEN)
    fitted = _in_flash(kind, outcome, span, source.name, flash_bytes)
    found = None if fitted is None else _accepted(kind, fitted, strict, color)
    if found is None:
        return EXIT_FINDINGS
    content = _render(kind, found.program, found)
    return Made(content, f"{_told(kind, found, content, output)}\n")


def _export(
    kind: str,
    file: str,
    span: DateSpan | None,
    output: str,
    flash_bytes: int | None,
    strict: bool,
    color: str,
    ledger: str | None = None,
    wiring: Wiring | None = None,
    jobs: int | None = 1,
) -> int:
    from photoperiod.api import ScheduleError
    from photoperiod.cli.output_place import refuse_named, refuse_output

    if wiring is None:
        refuse_output(output, file, ledger)
    try:
        outcome, _ = compile_file(file, span, ledger, jobs=jobs)
    except ScheduleError as fault:
        return refused(fault, color, NOTHING_WRITTEN)
    refuse_named(output, file, outcome.program.schedule)
    fitted = _in_flash(kind, outcome, span, file, flash_bytes)
    found = None if fitted is None else _accepted(kind, fitted, strict, color)
    if found is None:
        return EXIT_FINDINGS
    if wiring is not None:
        put_sketch(wiring, found, output)
        return 0
    content = _render(kind, found.program, found)
    _put(output, content)
    click.echo(_told(kind, found, content, output), err=True)
    return 0


def _in_flash(
    kind: str, outcome: Compiled, span: DateSpan | None, file: str, flash_bytes: int | None
) -> Compiled | None:
    """Return the best tables that fit into so many bytes; None, and say so, if none do."""
    size_of = _size_of(kind, outcome)
    if flash_bytes and size_of(outcome.program) > flash_bytes:
        fitted, smallest = _fitted(outcome, span, size_of, flash_bytes)
        if fitted is None:
            told = "1 byte is" if flash_bytes == 1 else f"{flash_bytes:,} bytes are"
            click.echo(
                f"error: {told} too few: the smallest tables found for"
                f" '{safe(file)}' take {smallest:,}; nothing was written\n"
                "  try: fewer dates, fewer rows (`setpoints_per_channel`), or more bytes",
                err=True,
            )
            return None
        return fitted
    return outcome


def _accepted(kind: str, outcome: Compiled, strict: bool, color: str) -> Compiled | None:
    """Print the findings that count for a kind; None if nothing is to be written."""
    if kind in _BARE:  # our player holds all tables, and nobody types them
        outcome = replace(outcome, report=outcome.report.without("PHO432"))
    print_report(outcome, sys.stderr, color, show_all=False)
    if exit_code(outcome.report, strict):
        click.echo(NOTHING_WRITTEN, err=True)
        return None
    return outcome


def _put(output: str, content: bytes) -> None:
    """Write a file, or to standard output."""
    from photoperiod.formats.atomic import write_file

    if output == "-":
        write_bytes(content)
    else:
        write_file(Path(output), content)


def _fitted(
    compiled: Compiled,
    span: DateSpan | None,
    size_of: Callable[[Program], int],
    flash_bytes: int,
) -> tuple[Compiled | None, int]:
    """Return the program of the most tables that fit, None if none do, and the least size tried."""
    from photoperiod.api import check
    from photoperiod.days.signals import DayFault
    from photoperiod.formats.fit_in_flash import most_tables
    from photoperiod.program.dated_tables import compile_program

    program = compiled.program
    if span is None or not program.schedule.days_differ:
        return None, size_of(program)  # nothing but dates can be given up

    def compile_one(schedule: Schedule) -> Program | None:
        try:
            return compile_program(schedule, span, progress=progress())
        except DayFault:
            return None

    found = most_tables(program, compile_one, size_of, flash_bytes)
    if found.program is None:
        return None, found.smallest_bytes
    return check(compiled.loaded, found.program), found.smallest_bytes


def _size_of(kind: str, outcome: Compiled) -> Callable[[Program], int]:
    """Return what tells the bytes that a kind takes of a controller's memory, or of a disk."""
    if kind not in _BARE:
        return lambda program: len(_render(kind, program, outcome))

    from photoperiod.formats.contents import contents_of
    from photoperiod.formats.image import encode
    from photoperiod.formats.table_image import image_of

    return lambda program: len(encode(image_of(contents_of(program, []))))


def _render(kind: str, program: Program, outcome: Compiled) -> bytes:
    """Return a program as a kind of file; what the kind can't hold is refused."""
    from photoperiod.formats import records_csv, table_image, table_json
    from photoperiod.formats.contents import contents_of
    from photoperiod.formats.image import ImageFault, encode

    contents = contents_of(program, outcome.report.sorted())
    try:
        bare = table_image.image_of(contents)
        encode(bare)  # what no player can hold is not written as text either
        match kind:
            case "json":
                return table_json.write(contents)
            case "csv":
                return records_csv.write(contents)
            case "binary":
                return table_image.write(contents)
            case "c":
                from photoperiod.formats import c_header

                return c_header.render(bare, contents.about)
        from photoperiod.formats import micropython

        return micropython.render(bare, contents.about)
    except ImageFault as fault:
        raise ExportRefused(
            f"can't write this table as {kind}: {fault}; nothing was written"
        ) from fault


def _told(kind: str, outcome: Compiled, content: bytes, output: str) -> str:
    from photoperiod.text import counted

    program, size_of = outcome.program, _size_of(kind, outcome)
    tables = program.controller_tables
    rows = sum(len(c.fit.rows) for table in tables for c in table.channels.values())
    where = "standard output" if output == "-" else safe(output)
    text = f"wrote {len(content):,} bytes to {where}: {counted(len(tables), 'table')}, {rows} rows"
    if program.span is not None:
        text += f", for {program.span.first} to {program.span.last}"
    if kind == "c":
        text += f"\nflash: {size_of(program):,} bytes of tables beside the player; RAM: the caller's alone"
    elif kind == "micropython":
        text += f"\nflash or RAM: {size_of(program):,} bytes of tables beside the player"
    elif kind == "binary":
        from photoperiod.formats.image import decode

        text += (
            f"\n{len(decode(content).about):,} bytes of it are text about the light path; the tables of a C"
            " export take the rest"
        )
    return text
