"""The disk of a simulated world: the real code in a folder of memory, and what happens to cards."""

from __future__ import annotations

import errno
import os
import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from photoperiod.board.disk import Entry, LocalDisk

Result = TypeVar("Result")


class DiskState(StrEnum):
    """What a disk does with what it is asked."""

    FINE = "fine"
    FULL = "full"
    READ_ONLY = "read-only"
    BROKEN = "broken"
    HANGS = "hangs"


_NUMBERS = {
    DiskState.FULL: errno.ENOSPC,
    DiskState.READ_ONLY: errno.EROFS,
    DiskState.BROKEN: errno.EIO,
    DiskState.HANGS: errno.ETIMEDOUT,
}


@dataclass(slots=True)
class Card:
    """What outlives a process: what was synced of each log, and when each file was written by the clock."""

    chance: random.Random
    state: DiskState = DiskState.FINE
    synced: dict[Path, int] = field(default_factory=dict)
    written_ns: dict[Path, int] = field(default_factory=dict)


class WorldDisk:
    """A disk whose every method is one effect; see `photoperiod.board.disk.Disk`.

    Parameters
    ----------
    card : Card
        What is written to.
    effect : callable
        Told of each effect before it happens; a power cut or the end of the process is raised from there.
    clock : callable
        Gives the time that is shown. [Unix seconds]
    logged : callable
        Told what was appended to which file.
    """

    def __init__(
        self,
        card: Card,
        effect: Callable[[str], None],
        clock: Callable[[], float],
        logged: Callable[[Path, bytes], None],
    ) -> None:
        self.card, self._effect, self._clock, self._logged = card, effect, clock, logged
        self.local = LocalDisk()

    def _state(self, path: Path) -> DiskState:
        """Return the state of the disk on which a path is: the runtime folder is memory."""
        return DiskState.FINE if "run" in path.parts[-2:] else self.card.state

    def _do(
        self, what: str, path: Path, act: Callable[[], Result], *, writes: bool = True
    ) -> Result:
        if writes:
            self._effect(f"{what} {path.name}")
        state = self._state(path)
        refuses = state in (DiskState.BROKEN, DiskState.HANGS) or (
            writes and state is not DiskState.FINE
        )
        if refuses:
            raise _error(state, path)
        return act()

    def look(self, path: Path) -> Entry | None:
        found = self._do("look", path, lambda: self.local.look(path), writes=False)
        if found is not None and path in self.card.written_ns:
            return replace(found, mtime_ns=self.card.written_ns[path])
        return found

    def names(self, path: Path) -> list[str]:
        return self._do("names", path, lambda: self.local.names(path), writes=False)

    def read(self, path: Path, most_bytes: int) -> bytes:
        return self._do("read", path, lambda: self.local.read(path, most_bytes), writes=False)

    def replace(self, path: Path, raw: bytes) -> None:
        self._do("replace", path, lambda: self.local.replace(path, raw))
        self.card.written_ns[path] = int(self._clock() * 1e9)

    def append(self, path: Path, lines: bytes, head: bytes) -> None:
        self._do("append", path, lambda: self.local.append(path, lines, head))
        self.card.synced.setdefault(path, 0)
        self._logged(path, lines)

    def sync(self, path: Path) -> None:
        self._do("sync", path, lambda: self.local.sync(path))
        if path.exists():
            self.card.synced[path] = path.stat().st_size

    def touch(self, path: Path) -> None:
        if self._state(path) is DiskState.FULL:  # a name often still has room
            self.local.touch(path)
            return
        self._do("touch", path, lambda: self.local.touch(path))

    def remove(self, path: Path) -> None:
        if self._state(path) is DiskState.FULL:
            self.local.remove(path)
            return
        self._do("remove", path, lambda: self.local.remove(path))

    def make_folder(self, path: Path) -> None:
        state = self._state(path)
        if state is DiskState.READ_ONLY and path.is_dir():
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        if state is DiskState.FULL and path.is_dir():
            return
        self._do("make", path, lambda: self.local.make_folder(path))

    def lock(self, path: Path) -> bool:
        state = self._state(path)
        if state in (DiskState.READ_ONLY, DiskState.BROKEN):
            raise _error(state, path)
        return self.local.lock(path)

    def is_locked(self, path: Path) -> bool:
        return self.local.is_locked(path)

    def end(self) -> None:
        """The process is gone: its locks end."""
        for file in self.local._locks.values():
            os.close(file)
        self.local._locks.clear()


def lose_power(card: Card) -> None:
    """Take away what was not synced: a log ends anywhere behind its last sync, and zeros may stand there."""
    for path, synced in card.synced.items():
        if not path.is_file():
            continue
        size = path.stat().st_size
        kept = card.chance.randint(min(synced, size), size)
        if kept == size:
            continue
        zeros = card.chance.choice((0, 0, card.chance.randint(1, 600)))
        with path.open("r+b") as file:
            file.truncate(kept)
            file.seek(kept)
            file.write(b"\0" * min(zeros, size - kept))


def leave_torn_file(path: Path, raw: bytes, chance: random.Random) -> None:
    """Leave what a copy that was broken off leaves."""
    path.write_bytes(raw[: chance.randrange(len(raw))])


def _error(state: DiskState, path: Path) -> OSError:
    number = _NUMBERS[state]
    if state is DiskState.HANGS:
        return TimeoutError(number, "It hangs: no answer within 2 s")
    return OSError(number, os.strerror(number), str(path))
