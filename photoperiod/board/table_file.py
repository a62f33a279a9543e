"""The table that a player plays: read, checked against the board, watched, and copied.

A newer table that is broken is refused as a whole, and the last good table goes on. The copy makes
that possible after a restart too.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

from photoperiod.board.config import BoardConfig
from photoperiod.board.disk import Disk, Entry
from photoperiod.board.state_store import StateStore
from photoperiod.board.table_check import clock_of
from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.table import MAX_BYTES, PlayableTable, read_table
from photoperiod.sky.clock import Clock


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
    disk : Disk
        What reads and writes it.
    """

    def __init__(self, path: Path, disk: Disk) -> None:
        self.path, self.disk = path, disk
        self._handled: Entry | None = None
        self._looked: Entry | None = None

    @property
    def mtime_s(self) -> float | None:
        """When the file was written last; None if it is not there. [Unix seconds]"""
        found = self._look()
        return None if found is None else found.mtime_ns / 1e9

    def has_changed(self) -> bool:
        """Return True if the file differs from the one that was read last, and has come to rest.

        It has come to rest when two looks in a row find the same size and time: a file is not read
        while it is being copied.
        """
        before, self._looked = self._looked, self._look()
        if self._looked is None:
            self._handled = None  # if the same file comes back it is read again
        return self._looked not in (None, self._handled) and self._looked == before

    def is_there(self) -> bool:
        """Return True if there is a file."""
        return self._look() is not None

    def _look(self) -> Entry | None:
        try:
            return self.disk.look(self.path)
        except OSError:
            return None

    def write(self, raw: bytes) -> None:
        """Replace the file by another table, which is not read again; raises OSError if that fails."""
        self.disk.replace(self.path, raw)
        self._handled = self._looked = self._look()

    def load(self, config: BoardConfig) -> LoadedTable:
        """Return the table in the file.

        Raises
        ------
        OutsideWorldError
            PHO501 if it can't be read, PHO505 if it is no table, PHO506 if it does not fit the board.
        """
        self._handled = self._looked = self._look()
        return load_table(self.path, config, self.disk)

    def read(self) -> PlayableTable:
        """Return the table even if it does not fit the board; raises PHO501 and PHO505 as `load` does."""
        return read_table(str(self.path), _bytes(self.path, self.disk))


def load_table(path: Path, config: BoardConfig, disk: Disk) -> LoadedTable:
    """Return the table in a file; see `TableFile.load`."""
    return table_from_bytes(str(path), _bytes(path, disk), config)


def table_from_bytes(name: str, raw: bytes, config: BoardConfig) -> LoadedTable:
    """Return the table in the bytes of a file; raises PHO505 and PHO506 as `TableFile.load` does."""
    table = read_table(name, raw)
    return LoadedTable(raw, table, clock_of(config, table))


def _bytes(path: Path, disk: Disk) -> bytes:
    try:
        return disk.read(path, MAX_BYTES + 1)
    except OSError as error:
        reason = os_reason(error)
        raise OutsideWorldError(
            "PHO501", f"can't read '{path}': {reason}", "copy the table there"
        ) from error


def keep_good_table(store: StateStore, loaded: LoadedTable) -> None:
    """Keep a copy of a table that can be played; raises OSError if the disk refuses it."""
    with contextlib.suppress(OSError):
        if store.disk.read(store.good_table, len(loaded.raw) + 1) == loaded.raw:
            return
    store.disk.replace(store.good_table, loaded.raw)
