"""The files that a command names, and those that a schedule names beside itself: their bytes, or why not."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.source.document import MAX_BYTES, read_text

if TYPE_CHECKING:
    from photoperiod.schedule.readings_files import FileBytes


def bytes_of(
    path: str | os.PathLike[str], most_bytes: int, way_out: str = "check the name"
) -> bytes:
    """Return the bytes of a file, no more of them than are looked at.

    Raises
    ------
    OutsideWorldError
        PHO501 if it can't be read; ``way_out`` then says what to do.
    """
    try:
        with Path(path).open("rb") as stream:
            return stream.read(most_bytes)
    except (OSError, ValueError) as error:
        raise OutsideWorldError(
            "PHO501",
            f"can't read '{os.fspath(path)}': {os_reason(error)}",
            "check who may read it" if isinstance(error, PermissionError) else way_out,
        ) from error


def bytes_beside(folder: str | os.PathLike[str] | None, name: str, most_bytes: int) -> FileBytes:
    """Return the bytes of a file that a schedule names, no more than asked for, or why it can't be read.

    Parameters
    ----------
    folder : str, path or None
        The folder of the schedule; None for one that comes from no file.
    name : str
        The path of the file from there.
    most_bytes : int
        How many bytes are looked at.
    """
    if folder is None:
        return "the schedule comes from no file, so there is no folder to look in"
    path = Path(folder, name)
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            return "it is a pipe or a device, not a file"  # reading it might wait for ever
        with path.open("rb") as stream:
            return stream.read(most_bytes)
    except (OSError, ValueError) as error:
        return os_reason(error)


def files_of(raw: bytes, folder: str | os.PathLike[str] | None) -> dict[str, FileBytes]:
    """Return all files that are read for the text of a schedule, those that its parts name included.

    Each has its bytes by its path from the folder of the schedule, or why it can't be read.
    """
    from photoperiod.schedule.parts import HOLDS, files_beside, parts_named, readings_of_parts

    data = read_text("", raw).data
    parts = parts_named(data)
    found: dict[str, FileBytes] = {}
    names = files_beside(data)
    if parts is not None:
        content = found[parts] = bytes_beside(folder, parts, MAX_BYTES + 1)
        if isinstance(content, bytes):
            names += readings_of_parts(parts, read_text(parts, content, HOLDS).data)
    return {each: bytes_beside(folder, each, most_of_readings()) for each in names} | found


def most_of_readings() -> int:
    """Return how many bytes of a file of readings are looked at."""
    from photoperiod.readings.dialect import MAX_BYTES as MOST_BYTES

    return MOST_BYTES + 1
