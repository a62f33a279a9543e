"""The kernel's device files. Tests put a made-up kernel in their place."""

from __future__ import annotations

import errno
import fcntl
import os
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.devices.lines import Lines
from photoperiod.board.disk import flock

#: No file of a device is longer: the kernel gives a page. [bytes]
MOST_BYTES = 4096

#: Whatever somebody put in the place of a device file, such as a pipe, nobody waits for it.
_NO_WAIT = os.O_CLOEXEC | os.O_NONBLOCK


class Files(Protocol):
    """Small files, named relative to the root of sysfs; every method raises OSError as the kernel does."""

    def read(self, name: str) -> str:
        """Return the text of a file, without the line end."""

    def write(self, name: str, text: str) -> None:
        """Write a file that exists."""

    def names(self, name: str) -> list[str]:
        """Return the names in a folder, sorted; an empty list if there is no such folder."""

    def exists(self, name: str) -> bool:
        """Return True if there is such a file or folder."""

    def may_write(self, name: str) -> bool:
        """Return True if a file exists and this process may write it."""

    def lock(self, name: str) -> bool:
        """Keep a device for whoever asks, until the process ends; False if another player has it.

        The lock is on the device itself, by whatever path or name it was reached.
        """


class Writers(Protocol):
    """Gives each device the files or lines through which it is set.

    A device that hangs must not hang the others: so each has a writer of its own, in a process of its
    own. In a simulated world, and to open relays before a player begins, there is none.
    """

    def files(self, device: str) -> Files:
        """Return the files for the device of that name."""

    def lines(self, device: str) -> Lines:
        """Return the GPIO lines for the device of that name."""


class NoWriters:
    """All devices are set by this process."""

    def __init__(self, files: Files, lines: Callable[[], Lines]) -> None:
        self._files, self._lines = files, lines

    def files(self, device: str) -> Files:
        """Return the same files for each device."""
        return self._files

    def lines(self, device: str) -> Lines:
        """Return lines of its own for each device, since each requests one."""
        return self._lines()


class Sysfs:
    """The real files. None is ever created: a device that vanished must not become a plain file."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._locks: dict[str, int] = {}  # open files: a lock ends when the process closes it

    def read(self, name: str) -> str:
        """Return the text of a file, without the line end."""
        source = os.open(self.root / name, os.O_RDONLY | _NO_WAIT)
        try:
            return os.read(source, MOST_BYTES).decode("utf-8", "replace").strip()
        finally:
            os.close(source)

    def write(self, name: str, text: str) -> None:
        """Write a file that exists, in one call as the kernel demands."""
        target = os.open(self.root / name, os.O_WRONLY | os.O_TRUNC | _NO_WAIT)
        try:
            os.write(target, text.encode())
        finally:
            os.close(target)

    def lock(self, name: str) -> bool:
        """Keep a device for this object, until the process ends; False if another player has it."""
        file = os.open(self.root / name, os.O_RDONLY | _NO_WAIT)
        found, before = os.fstat(file), self._locks.get(name)
        if not stat.S_ISREG(found.st_mode):
            os.close(file)
            raise OSError(errno.EINVAL, "It is not a device file of the kernel", name)
        if before is not None and os.path.samestat(found, os.fstat(before)):
            os.close(file)
            return True
        if not flock(file, fcntl.LOCK_EX):
            os.close(file)
            return False
        if before is not None:
            os.close(before)  # a device that was away is another file now
        self._locks[name] = file
        return True

    def names(self, name: str) -> list[str]:
        """Return the names in a folder, sorted."""
        try:
            return sorted(entry.name for entry in (self.root / name).iterdir())
        except OSError:
            return []

    def exists(self, name: str) -> bool:
        """Return True if there is such a file or folder."""
        return (self.root / name).exists()

    def may_write(self, name: str) -> bool:
        """Return True if a file exists and this process may write it."""
        return os.access(self.root / name, os.W_OK)


def require_writable(files: Files, name: str) -> None:
    """Raise `DeviceFault` unless a file exists and may be written."""
    if not files.exists(name):
        raise DeviceFault(f"'{name}' is not there")
    if not files.may_write(name):
        raise DeviceFault(f"'{name}' may not be written")


def take(files: Files, name: str) -> None:
    """Take a device for this player; raise `DeviceFault` if it can't be written, or another has it."""
    require_writable(files, name)
    if not files.lock(name):
        raise DeviceFault(f"another player drives '{name}': stop one of them")
