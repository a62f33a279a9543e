"""The folder that `compile` writes: which files are in it, and which folders it may replace."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.errors import OutsideWorldError
from photoperiod.formats import manifest, summary_json, table_csv, table_json, typing_sheet
from photoperiod.formats.atomic import replace_folder
from photoperiod.program.model import Program


class OutputFile(NamedTuple):
    """A file of the folder: its name, and the function that makes its bytes."""

    name: str
    render: Callable[[Program, Sequence[Diagnostic]], bytes]


#: The files that a folder always holds beside typing sheets and manifest, in this order.
REGISTRY: tuple[OutputFile, ...] = (
    OutputFile(table_csv.FILE_NAME, table_csv.render),
    OutputFile(table_json.FILE_NAME, table_json.render),
    OutputFile(summary_json.FILE_NAME, summary_json.render),
)


def render_all(program: Program, findings: Sequence[Diagnostic]) -> dict[str, bytes]:
    """Return every file by its name; the manifest, which holds their digests, is last."""
    files = {output.name: output.render(program, findings) for output in REGISTRY}
    files |= typing_sheet.render_files(program, findings)
    files[manifest.FILE_NAME] = manifest.render(program, findings, files)
    return files


def write_folder(target: Path, files: Mapping[str, bytes]) -> None:
    """Put files into a folder that replaces the one of that name as a whole.

    Raises
    ------
    OutsideWorldError
        PHO502 if it can't be written, PHO503 if the folder holds files that are not ours.
    """
    replace_folder(target, files, _refuse_foreign)


def refuse_folder(target: Path) -> None:
    """Raise if it can be seen already that a folder may not be replaced, before long work for it begins.

    Raises
    ------
    OutsideWorldError
        PHO502 if something else stands there, PHO503 if it holds files that are not ours.
    """
    with contextlib.suppress(OSError):  # what can't be looked at is told when it is written
        _refuse_foreign(Path(os.path.realpath(target)))


def _refuse_foreign(target: Path) -> None:
    """Raise if something stands at the target that `compile` did not write."""
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise OutsideWorldError(
            "PHO502", f"'{target}' is not a folder", "name a folder that may be replaced as a whole"
        )
    if not target.exists():
        return
    ours = _ours(target)
    foreign = sorted(entry.name for entry in target.iterdir() if entry.name not in ours)
    if foreign:
        shown = ", ".join(foreign[:5]) + (", …" if len(foreign) > 5 else "")
        raise OutsideWorldError(
            "PHO503",
            f"'{target}' holds files that were not written by compile: {shown}",
            "choose another folder, or move these files; the folder is replaced as a whole",
        )


def _ours(target: Path) -> frozenset[str]:
    """Return the names that an earlier run wrote; none if there is no readable manifest."""
    try:
        return manifest.listed_files((target / manifest.FILE_NAME).read_bytes())
    except OSError:
        return frozenset()
