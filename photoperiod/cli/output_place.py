"""Where a command may put its file: never in the place of what it reads."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from photoperiod.source.hand_written import HAND_WRITTEN

if TYPE_CHECKING:
    from collections.abc import Iterable

    from photoperiod.schedule.model import Schedule

#: How files begin that can't be made again, and what they are: a ledger, and those that people write.
_KEPT = (
    (re.compile(rb'"format": *"photoperiod-ledger"'), "a ledger"),
    *(
        (re.compile(rb"^%b: *[0-9]+ *(#|$)" % key.encode(), re.MULTILINE), kind.name)
        for key, kind in HAND_WRITTEN.items()
    ),
)

#: What a file is stands in its first bytes: behind comments, if there are any.
_HEAD_BYTES = 65_536


def refuse_output(output: str, file: str, ledger: str | None = None) -> None:
    """Raise, before long work begins, if no file can be written to `output`; '-' always can.

    Raises
    ------
    click.UsageError
        Where `output` is the schedule or the ledger, or another file of a person or another ledger.
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
    _refuse_kept(output)


def _refuse_kept(output: str) -> None:
    """Raise if a file is there that can't be made again."""
    try:
        with Path(output).open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except OSError:  # it is not there yet, or nobody may read it: what writes it will tell
        return
    for form, what in _KEPT:
        if form.search(head):
            raise click.UsageError(
                f"-o names {what}, '{output}': name another file, or move it away"
            )


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
        (HAND_WRITTEN["parts"].name, schedule.parts_digests),
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
