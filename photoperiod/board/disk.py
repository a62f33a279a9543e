"""All that a player does with its own files: table, state, hold and log.

A simulated disk has the same methods. Nothing here waits for a pipe or a device that somebody put in the
place of a file.
"""

from __future__ import annotations

import errno
import fcntl
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Protocol

from photoperiod.formats.atomic import replace_file, sync_folder

LINE_END = b"\r\n"

_IS_LINK = "It is a link, and a player writes through none: remove it"

#: A line that was cut off is no longer than this. [bytes]
MAX_TORN_BYTES = 4096


class EntryKind(StrEnum):
    """What stands under a name."""

    FILE = "file"
    FOLDER = "folder"
    OTHER = "pipe or device"


@dataclass(frozen=True, slots=True)
class Entry:
    """What stands under a name; two that are equal are the same file, unchanged.

    Parameters
    ----------
    kind : EntryKind
        File, folder, or something that is neither.
    mtime_ns, size_bytes, inode : int
        When it was written last [ns since 1970], its size and its number.
    """

    kind: EntryKind
    mtime_ns: int
    size_bytes: int
    inode: int


class Disk(Protocol):
    """Files and folders by path. Every method raises OSError on failure, and does all or nothing."""

    def look(self, path: Path) -> Entry | None:
        """Return what stands under a name; None if there is nothing."""

    def names(self, path: Path) -> list[str]:
        """Return the names in a folder, sorted; none if there is no folder."""

    def read(self, path: Path, most_bytes: int) -> bytes:
        """Return the first bytes of a file; anything but a file is refused."""

    def replace(self, path: Path, raw: bytes) -> None:
        """Put a file in its place, whole or not at all, also if the power fails meanwhile."""

    def append(self, path: Path, lines: bytes, head: bytes) -> None:
        """Append whole lines to a file, with a head if it is new; a torn last line is cut off first."""

    def sync(self, path: Path) -> None:
        """Bring a file to the disk; nothing happens if it is not there any more."""

    def touch(self, path: Path) -> None:
        """Make an empty file, if nothing stands there."""

    def remove(self, path: Path) -> None:
        """Remove a file, or an empty folder."""

    def make_folder(self, path: Path) -> None:
        """Make a folder that can be written, with all above it."""

    def lock(self, path: Path) -> bool:
        """Lock a file until this process ends; False if another process has it locked."""

    def is_locked(self, path: Path) -> bool:
        """Return True if a process has a file locked; False too if that cannot be seen."""


class LocalDisk:
    """The disk of this machine."""

    def __init__(self) -> None:
        self._locks: dict[Path, int] = {}  # open files: a lock ends when the process closes it

    def look(self, path: Path) -> Entry | None:
        """Return what stands under a name; None if there is nothing."""
        try:
            found = path.stat()
        except (FileNotFoundError, NotADirectoryError):
            return None
        return Entry(_kind(found.st_mode), found.st_mtime_ns, found.st_size, found.st_ino)

    def names(self, path: Path) -> list[str]:
        """Return the names in a folder, sorted; none if there is no folder."""
        try:
            return sorted(entry.name for entry in path.iterdir())
        except (FileNotFoundError, NotADirectoryError):
            return []

    def read(self, path: Path, most_bytes: int) -> bytes:
        """Return the first bytes of a file; anything but a file is refused."""
        with _open(path, os.O_RDONLY) as source:
            parts, left = [], most_bytes
            while left > 0 and (part := os.read(source, min(left, 2**20))):
                parts.append(part)
                left -= len(part)
        return b"".join(parts)

    def replace(self, path: Path, raw: bytes) -> None:
        """Put a file in its place, whole or not at all, also if the power fails meanwhile."""
        replace_file(path, raw)

    def append(self, path: Path, lines: bytes, head: bytes) -> None:
        """Append whole lines to a file, with a head if it is new; a torn last line is cut off first."""
        path.parent.mkdir(parents=True, exist_ok=True)
        with _open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_NOFOLLOW) as target:
            _cut_torn_line(target, head)
            size = os.fstat(target).st_size
            _append(target, lines if size else head + lines)

    def sync(self, path: Path) -> None:
        """Bring a file to the disk; nothing happens if it is not there any more."""
        try:
            with _open(path, os.O_RDONLY | os.O_NOFOLLOW) as target:
                os.fsync(target)
        except FileNotFoundError:
            return

    def touch(self, path: Path) -> None:
        """Make an empty file, if nothing stands there."""
        path.touch()

    def remove(self, path: Path) -> None:
        """Remove a file, or an empty folder."""
        if path.is_dir() and not path.is_symlink():
            path.rmdir()
        else:
            path.unlink()
        sync_folder(path.parent)

    def make_folder(self, path: Path) -> None:
        """Make a folder that can be written, with all above it."""
        path.mkdir(parents=True, exist_ok=True)
        if not os.access(path, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))

    def lock(self, path: Path) -> bool:
        """Lock a file until this process ends; False if another process has it locked."""
        flags = os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK
        held = os.open(path, flags, 0o644)
        if not flock(held, fcntl.LOCK_EX):
            os.close(held)
            return False
        try:
            os.ftruncate(held, 0)
            os.write(held, f"{os.getpid()}\n".encode())
        except OSError:
            pass  # a full disk: the lock holds all the same
        self._locks[path] = held
        return True

    def is_locked(self, path: Path) -> bool:
        """Return True if a process has a file locked; False too if that cannot be seen."""
        try:
            seen = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
        except OSError:
            return False
        try:
            return not flock(seen, fcntl.LOCK_SH)
        finally:
            os.close(seen)


def flock(file: int, kind: int) -> bool:
    """Lock an open file (`fcntl.LOCK_EX`, `LOCK_SH`) without waiting; False if another holder has it."""
    try:
        fcntl.flock(file, kind | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _kind(mode: int) -> EntryKind:
    if stat.S_ISREG(mode):
        return EntryKind.FILE
    return EntryKind.FOLDER if stat.S_ISDIR(mode) else EntryKind.OTHER


@contextmanager
def _open(path: Path, flags: int) -> Iterator[int]:
    """Open a file without waiting; a pipe or a device is refused, a folder by the system."""
    try:
        file = os.open(path, flags | os.O_CLOEXEC | os.O_NONBLOCK, 0o644)
    except OSError as error:
        if error.errno == errno.ELOOP and flags & os.O_NOFOLLOW:
            raise OSError(errno.ELOOP, _IS_LINK, str(path)) from error
        raise
    try:
        kind = _kind(os.fstat(file).st_mode)
        if kind is EntryKind.FOLDER:
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
        if kind is not EntryKind.FILE:
            raise OSError(errno.EINVAL, "It is a pipe or a device, not a file", str(path))
        yield file
    except BaseException:
        os.close(file)
        raise
    os.close(file)  # a network disk reports some faults only here


def _cut_torn_line(file: int, head: bytes) -> None:
    """Remove a last line that is not whole: half a number reads like a number."""
    size = os.fstat(file).st_size
    start = max(size - MAX_TORN_BYTES, 0)
    tail = os.pread(file, size - start, start)
    if not tail or tail.endswith(LINE_END):
        return
    whole = tail.rfind(LINE_END)
    if whole >= 0:
        os.ftruncate(file, start + whole + len(LINE_END))
    elif start == 0 and head.startswith(tail.rstrip(b"\0")):  # a head, zeros, or both
        os.ftruncate(file, 0)
    else:  # not our file: cut nothing
        _append(file, LINE_END)


def _append(file: int, text: bytes) -> None:
    """Append all of a text or nothing of it."""
    size = os.fstat(file).st_size
    try:
        done = os.write(file, text)
        while done < len(text):  # a disk that becomes full takes a part, and then raises
            done += os.write(file, text[done:])
    except OSError:
        os.ftruncate(file, size)
        raise
