"""The table that a player plays: read, held against the board, watched, and kept in a copy.

A newer one that is broken is refused as a whole, and the last good one goes on, also after a
restart: that is what the copy is for.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

from photoperiod.board.config import Board, clock_of
from photoperiod.board.state_store import StateStore, write_whole
from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.table import MAX_BYTES, PlayableTable, read_table
from photoperiod.sky.clock import Clock

Stamp = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Loaded:
    """A table that can be played on a board: its bytes, what they hold, and the clock it is on."""

    raw: bytes
    table: PlayableTable
    clock: Clock


class TableFile:
    """The file that a table is read from.

    Parameters
    ----------
    path : Path
        Its place.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._handled: Stamp | None = None
        self._looked: Stamp | None = None

    @property
    def mtime_s(self) -> float | None:
        """When it was written last; None if it is not there. [Unix seconds]"""
        try:
            return self.path.stat().st_mtime
        except OSError:
            return None

    def has_changed(self) -> bool:
        """Return whether the file is another than the one read last, and has come to rest.

        It has when two looks one after the other find the same: a file that is just being copied is
        not read.
        """
        before, self._looked = self._looked, self._stamp()
        if self._looked is None:
            self._handled = None  # the same file that comes back is read again
        return self._looked not in (None, self._handled) and self._looked == before

    def is_there(self) -> bool:
        """Return whether there is a file at all."""
        return self._stamp() is not None

    def _stamp(self) -> Stamp | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino

    def write(self, raw: bytes) -> None:
        """Put another table in its place, which needs not be read again; OSError if the disk says no."""
        write_whole(self.path, raw)
        self._handled = self._looked = self._stamp()

    def load(self, board: Board) -> Loaded:
        """Return the table, or raise why it can't be played.

        Raises
        ------
        OutsideWorldError
            PHO501 if it can't be read, PHO505 if it is no table, PHO506 if it does not fit the board.
        """
        self._handled = self._looked = self._stamp()
        return load(self.path, board)

    def read(self) -> PlayableTable:
        """Return the table whether or not it fits a board; raises as `load` does."""
        return read_table(str(self.path), _bytes(self.path))


def load(path: Path, board: Board) -> Loaded:
    """Return the table in a file; see `TableFile.load`."""
    return loaded_of(str(path), _bytes(path), board)


def loaded_of(name: str, raw: bytes, board: Board) -> Loaded:
    """Return the table in some bytes; raises PHO505 or PHO506 as `TableFile.load` does."""
    table = read_table(name, raw)
    return Loaded(raw, table, clock_of(board, table))


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = os_reason(error)
        raise OutsideWorldError(
            "PHO501", f"can't read '{path}': {reason}", "copy the table there"
        ) from error


def keep_copy(keep: StateStore, loaded: Loaded) -> None:
    """Keep a copy of a table that can be played; raises OSError if the disk says no."""
    with contextlib.suppress(OSError):
        if keep.good_table.read_bytes() == loaded.raw:
            return
    write_whole(keep.good_table, loaded.raw)
