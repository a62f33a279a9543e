"""Device files and the disk, each reached through a process of its own; see `photoperiod.board.worker`."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

from photoperiod.board.devices.lines import FoundLine, Lines, LineUse
from photoperiod.board.devices.sysfs import Files
from photoperiod.board.disk import Entry, LocalDisk
from photoperiod.board.worker import Patience, Side, Worker
from photoperiod.errors import OutsideWorldError
from photoperiod.text import extra_text

#: Where the kernel shows the chips of its GPIO lines.
CHIPS = "/dev"


class ChildFiles:
    """The device files of sysfs, through a process; a call to a device that hangs raises TimeoutError."""

    def __init__(self, worker: Worker) -> None:
        self.worker = worker

    def read(self, name: str) -> str:
        """Return the text of a file, without the line end."""
        return str(self.worker.call("read", name))

    def write(self, name: str, text: str) -> None:
        """Write a file that exists."""
        self.worker.call("write", name, text)

    def names(self, name: str) -> list[str]:
        """Return the names in a folder, sorted."""
        return list(self.worker.call("names", name))

    def exists(self, name: str) -> bool:
        """Return True if there is such a file or folder."""
        return bool(self.worker.call("exists", name))

    def may_write(self, name: str) -> bool:
        """Return True if a file exists and this process may write it."""
        return bool(self.worker.call("may_write", name))

    def lock(self, name: str) -> bool:
        """Keep a device for this player, as long as its process lives."""
        return bool(self.worker.call("lock", name))


class ChildLines:
    """GPIO lines, through a process: the one that it takes is this player's as long as the process lives."""

    def __init__(self, worker: Worker) -> None:
        self.worker = worker

    def find(self) -> list[FoundLine]:
        """Return all lines that have a name, chip by chip."""
        return list(self.worker.call("find"))

    def take(self, chip: str, offset: int, use: LineUse) -> bool:
        """Request a line, unless it is requested already; return True if it is active."""
        return bool(self.worker.call("take", chip, offset, use))

    def get(self) -> bool:
        """Return True if the requested line is active."""
        return bool(self.worker.call("get"))

    def set(self, is_active: bool) -> None:
        """Make the requested line active or inactive."""
        self.worker.call("set", is_active)


class ChildWriters:
    """Gives each device a process of its own.

    Parameters
    ----------
    root : Path
        The root of sysfs.
    patience : Patience
        What the player shares among all its processes.
    """

    def __init__(self, root: Path, patience: Patience) -> None:
        self._root, self._patience = root, patience
        self._workers: dict[tuple[str, Side], Worker] = {}

    def files(self, device: str) -> Files:
        """Return the files for the device of that name; asked again, they are of the same process."""
        return ChildFiles(self._worker(device, Side.SYSFS, str(self._root)))

    def lines(self, device: str) -> Lines:
        """Return the lines for the device of that name; asked again, they are of the same process.

        Raises
        ------
        OutsideWorldError
            PHO508 if the library for them is not installed.
        """
        if importlib.util.find_spec("gpiod") is None:
            raise OutsideWorldError(
                "PHO508",
                "the board has GPIO lines, and the library for them is not installed",
                extra_text("board"),
            )
        return ChildLines(self._worker(device, Side.LINES, CHIPS))

    def _worker(self, device: str, side: Side, root: str) -> Worker:
        if (device, side) not in self._workers:
            self._workers[device, side] = Worker(side, root, device, self._patience)
        return self._workers[device, side]

    def close(self) -> None:
        """Let all processes end; nobody waits for them."""
        for worker in self._workers.values():
            worker.close()


class ChildDisk:
    """The disk of this machine, through a process; the runtime folder through another one.

    A card that hangs must not keep the player from what is in memory: a hold, and what it remembers of
    topics. Locks are taken by the player itself: they must not end with that process.

    Parameters
    ----------
    patience : Patience
        What the player shares among all its processes.
    runtime : Path or None
        The runtime folder.
    """

    def __init__(self, patience: Patience, runtime: Path | None = None) -> None:
        self.worker = Worker(Side.DISK, "", "disk", patience)
        self._runtime = runtime
        self.memory = None
        if runtime is not None:
            self.memory = Worker(Side.DISK, "", "runtime folder", patience)
        self._local = LocalDisk()

    def _call(self, method: str, path: Path, *more: object) -> Any:
        if self.memory is not None and self._runtime in (path, *path.parents):
            return self.memory.call(method, path, *more)
        return self.worker.call(method, path, *more)

    def look(self, path: Path) -> Entry | None:
        """Return what stands under a name; None if there is nothing."""
        found: Entry | None = self._call("look", path)
        return found

    def names(self, path: Path) -> list[str]:
        """Return the names in a folder, sorted; none if there is no folder."""
        return list(self._call("names", path))

    def read(self, path: Path, most_bytes: int) -> bytes:
        """Return the first bytes of a file; anything but a file is refused."""
        return bytes(self._call("read", path, most_bytes))

    def replace(self, path: Path, raw: bytes) -> None:
        """Put a file in its place, whole or not at all."""
        self._call("replace", path, raw)

    def append(self, path: Path, lines: bytes, head: bytes) -> None:
        """Append whole lines to a file, with a head if it is new; a torn last line is cut off first."""
        self._call("append", path, lines, head)

    def sync(self, path: Path) -> None:
        """Bring a file to the disk; nothing happens if it is not there any more."""
        self._call("sync", path)

    def touch(self, path: Path) -> None:
        """Make an empty file, if nothing stands there."""
        self._call("touch", path)

    def remove(self, path: Path) -> None:
        """Remove a file, or an empty folder."""
        self._call("remove", path)

    def make_folder(self, path: Path) -> None:
        """Make a folder that can be written, with all above it."""
        self._call("make_folder", path)

    def lock(self, path: Path) -> bool:
        """Lock a file until this process ends; False if another process has it locked."""
        return self._local.lock(path)

    def is_locked(self, path: Path) -> bool:
        """Return True if a process has a file locked; False too if that cannot be seen."""
        return self._local.is_locked(path)
