"""What a process of `photoperiod.board.worker` does: one call after the other, until the player is gone.

Nothing here needs numpy: a small board runs one such process for each device.
"""

from __future__ import annotations

import ctypes
import os
import pickle
import signal
import socket
import struct
from pathlib import Path
from typing import Any

_HEAD = struct.Struct("!I")
_PR_SET_PDEATHSIG = 1  # prctl(2)


def main(line_number: str, side: str, root: str, _name: str) -> None:
    """Answer calls on a socket.

    Parameters
    ----------
    line_number : str
        The number of the open socket.
    side : str
        ``sysfs``, ``lines`` or ``disk``.
    root : str
        The root of sysfs, or the folder of the chips.
    """
    parent = os.getppid()
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        signal.signal(number, signal.SIG_IGN)  # the player still needs it to set the safe state
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)  # never outlive the player
    if os.getppid() != parent:
        return
    with socket.socket(fileno=int(line_number)) as line:
        serve(line, _served(side, root))


def _served(side: str, root: str) -> Any:
    if side == "disk":
        from photoperiod.board.disk import LocalDisk

        return LocalDisk()
    if side == "lines":
        from photoperiod.board.devices.lines import CharLines

        return CharLines(Path(root))
    from photoperiod.board.devices.sysfs import Sysfs

    return Sysfs(Path(root))


def serve(line: socket.socket, served: Any) -> None:
    """Say that it has started, and make one call after the other until the line is closed."""
    _say(line, ("started", None))
    while True:
        head = _receive(line, _HEAD.size)
        raw = _receive(line, _HEAD.unpack(head)[0]) if head else b""
        if not raw:
            return
        method, arguments = pickle.loads(raw)
        try:
            answer: tuple[str, Any] = ("value", getattr(served, method)(*arguments))
        except OSError as error:
            answer = ("error", _told(error))
        except (
            ValueError,
            ImportError,
        ) as error:  # a path with a null byte; a library that is broken
            answer = ("error", (0, str(error), None))
        _say(line, answer)


def _told(error: OSError) -> tuple[int, str, str | None]:
    """Return number, text and file of an error: what makes an equal one."""
    name = error.filename
    return error.errno or 0, error.strerror or str(error), None if name is None else str(name)


def _say(line: socket.socket, what: object) -> None:
    raw = pickle.dumps(what)
    line.sendall(_HEAD.pack(len(raw)) + raw)


def _receive(line: socket.socket, size: int) -> bytes:
    """Return so many bytes; nothing if the line was closed before they came."""
    parts = b""
    while len(parts) < size:
        got = line.recv(min(size - len(parts), 2**20))
        if not got:
            return b""
        parts += got
    return parts
