"""Where a command may put its file: never in the place of what it reads."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Iterable

    from photoperiod.schedule.model import Schedule


def refuse_output(output: str, file: str, ledger: str | None = None) -> None:
    """Raise, before long work begins, if no file can be written to `output`; '-' always can.

    Raises
    ------
    click.UsageError
        Where `output` is the schedule or the ledger.
    OutsideWorldError
        PHO502 at a folder, a device or a pipe, or where no folder is to hold the file.
    """
    if output == "-":
        return

    from photoperiod.formats.atomic import refuse_unwritable

    if file != "-" and _is_same(output, Path(file)):
        raise click.UsageError(f"-o names the schedule itself, '{output}'")
    if ledger is not None and _is_same(output, Path(ledger)):
        raise click.UsageError(f"-o names the ledger, '{output}'")
    refuse_unwritable(Path(output))


def refuse_named(output: str, file: str, schedule: Schedule) -> None:
    """Raise if `output` is a file that the schedule names: its parts, or readings.

    Raises
    ------
    click.UsageError
        Where it is.
    """
    if output == "-":
        return
    folder = Path() if file == "-" else Path(file).parent
    for what, names in (
        ("the file of parts", schedule.parts_digests),
        ("a file of readings", schedule.readings_digests),
    ):
        if any(_is_same(output, folder / name) for name in names):
            raise click.UsageError(f"-o names {what}, '{output}'")


def refuse_beside(output: str, file: str, names: Iterable[str]) -> None:
    """Raise if `output` is one of the files that are read for a schedule, by their paths from its folder.

    Raises
    ------
    click.UsageError
        Where it is.
    """
    folder = Path() if file == "-" else Path(file).parent
    if output != "-" and any(_is_same(output, folder / name) for name in names):
        raise click.UsageError(f"-o names a file that the schedule names, '{output}'")


def _is_same(output: str, other: Path) -> bool:
    """Return whether both are one file, by whatever names or links."""
    try:
        return Path(output).samefile(other)
    except OSError:  # one of them is not there yet
        return Path(output).resolve() == other.resolve()
