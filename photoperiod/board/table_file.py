"""The table that a player plays: read, checked against the board, watched, and copied.

A newer table that is broken is refused as a whole, and the last good table goes on. The copy makes
that possible after a restart too.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

from photoperiod.board.config import BoardConfig, clock_of
from photoperiod.board.state_store import StateStore
from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.atomic import replace_file
from photoperiod.formats.table import MAX_BYTES, PlayableTable, read_table
from photoperiod.sky.clock import Clock

Stamp = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class LoadedTable:
    """A table that can be played on a board: its bytes, its content, and the controller's clock."""

    raw: bytes
    table: PlayableTable
    clock: Clock


class TableFile:
    """The file from which tables are read.

    Parameters
    ----------
    path : Path
        The file.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._handled: Stamp | None = None
        self._looked: Stamp | None = None

    @property
    def mtime_s(self) -> float | None:
        """When the file was written last; None if it is not there. [Unix seconds]"""
        try:
            return self.path.stat().st_mtime
        except OSError:
            return None

    def has_changed(self) -> bool:
        """Return True if the file differs from the one that was read last, and has come to rest.

        It has come to rest when two looks in a row find the same size and time: a file is not read
        while it is being copied.
        """
        before, self._looked = self._looked, self._stamp()
        if self._looked is None:
            self._handled = None  # if the same file comes back it is read again
        return self._looked not in (None, self._handled) and self._looked == before

    def is_there(self) -> bool:
        """Return True if there is a file."""
        return self._stamp() is not None

    def _stamp(self) -> Stamp | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino

    def write(self, raw: bytes) -> None:
        """Replace the file by another table, which is not read again; raises OSError if that fails."""
        replace_file(self.path, raw)
        self._handled = self._looked = self._stamp()

    def load(self, config: BoardConfig) -> LoadedTable:
        """Return the table in the file.

        Raises
        ------
        OutsideWorldError
            PHO501 if it can't be read, PHO505 if it is no table, PHO506 if it does not fit the board.
        """
        self._handled = self._looked = self._stamp()
        return load_table(self.path, config)

    def read(self) -> PlayableTable:
        """Return the table even if it does not fit the board; raises PHO501 and PHO505 as `load` does."""
        return read_table(str(self.path), _bytes(self.path))


def load_table(path: Path, config: BoardConfig) -> LoadedTable:
    """Return the table in a file; see `TableFile.load`."""
    return table_from_bytes(str(path), _bytes(path), config)


def table_from_bytes(name: str, raw: bytes, config: BoardConfig) -> LoadedTable:
    """Return the table in the bytes of a file; raises PHO505 and PHO506 as `TableFile.load` does."""
    table = read_table(name, raw)
    return LoadedTable(raw, table, clock_of(config, table))


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = os_reason(error)
        raise OutsideWorldError(
            "PHO501", f"can't read '{path}': {reason}", "copy the table there"
        ) from error


def keep_good_table(store: StateStore, loaded: LoadedTable) -> None:
    """Keep a copy of a table that can be played; raises OSError if the disk refuses it."""
    with contextlib.suppress(OSError):
        if store.good_table.read_bytes() == loaded.raw:
            return
    replace_file(store.good_table, loaded.raw)
