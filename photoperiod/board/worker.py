"""A process that touches files for the player, so that a device or disk that hangs does not hang the player.

What a process waits for in the kernel can't be broken off. So each device, and the disk, has a process of its
own that makes one call after the other. The player waits for an answer for a limited time, never for the end
of the process. A call that was given up is still under way: nothing else is asked of this process until its
answer has come, so that a late write is never the last one.
"""

from __future__ import annotations

import contextlib
import errno
import pickle
import socket
import struct
import subprocess
import sys
import time
from collections.abc import Callable
from enum import StrEnum
from typing import Any

#: All waiting for what hangs comes from one store: so much at first [s], refilled by so many seconds a
#: second. A healthy device answers in milliseconds; one that hangs costs the others little. Our choice.
STORE_S, REFILL = 2.0, 0.3

#: Even with an empty store a call waits so long: healthy devices still answer. [s]
LEAST_WAIT_S = 0.05

#: A long call may take longer: a table of megabytes goes to a slow card. [bytes/s]
BYTES_A_SECOND = 2**20

#: How long the first call waits for its process to start [s]: a small board with one core starts many at
#: once.
START_S = 20.0

#: A process that does not answer for so long is killed, and another one is started once it is dead. [s]
KILL_S = 30.0

_HEAD = struct.Struct("!I")

#: What a process runs; its first argument is the path on which the player found its modules.
_PROGRAM = (
    "import sys; sys.path[:] = sys.argv[1].split('\\n');"
    "from photoperiod.board.worker_process import main; main(*sys.argv[2:])"
)


class Side(StrEnum):
    """What a process gives access to."""

    SYSFS = "sysfs"
    LINES = "lines"
    DISK = "disk"


class Patience:
    """The store of time that the player has for what hangs.

    Parameters
    ----------
    clock : callable
        Gives seconds that never go back.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._left_s, self._at_s = STORE_S, clock()

    def left_s(self) -> float:
        """Return how long the next call may take. [s]"""
        now_s = self._clock()
        self._left_s = min(self._left_s + (now_s - self._at_s) * REFILL, STORE_S)
        self._at_s = now_s
        return max(self._left_s, LEAST_WAIT_S)

    def spend(self, seconds: float) -> None:
        """Take away what a call has waited; an answer at once costs nothing. [s]"""
        self._left_s = max(self._left_s - max(seconds - LEAST_WAIT_S, 0.0), 0.0)


class Worker:
    """A process that makes calls for the player.

    Parameters
    ----------
    side : Side
        What it gives access to.
    root : str
        The root of sysfs, or the folder of the chips; empty for the disk.
    name : str
        What it is for; people see it in a list of processes.
    patience : Patience
        What the player shares among all its processes.
    """

    def __init__(self, side: Side, root: str, name: str, patience: Patience) -> None:
        self._arguments, self._patience = (side, root, name), patience
        self._is_first = True
        self._start()

    def _start(self) -> None:
        mine, its = socket.socketpair()
        self._line = mine
        self._awaited_since_s: float | None = (
            time.monotonic()
        )  # its first word: that it has started
        self._received = b""
        path = "\n".join(sys.path)
        self.process = subprocess.Popen(
            [sys.executable, "-S", "-E", "-c", _PROGRAM, path, str(its.fileno()), *self._arguments],
            pass_fds=(its.fileno(),),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,  # Ctrl-C is for the player alone
        )
        its.close()

    def call(self, method: str, *arguments: object) -> Any:
        """Return what a method of the other side returns.

        Raises
        ------
        TimeoutError
            If no answer comes in time, or the answer to an earlier call has not come yet.
        OSError
            As the method does; BrokenPipeError if the process has ended.
        """
        self._settle()
        raw = pickle.dumps((method, arguments))
        began_s = time.monotonic()
        limit_s = self._patience.left_s() + len(raw) / BYTES_A_SECOND
        try:
            self._awaited_since_s = began_s
            self._send(raw, limit_s)
            kind, value = self._answer(began_s + limit_s)
        except TimeoutError as error:
            raise _hangs(f"no answer within {limit_s:.2g} s") from error
        except OSError as error:
            self._end()
            raise BrokenPipeError(
                errno.EPIPE, "Its writer has ended, and is started again"
            ) from error
        finally:
            self._patience.spend(time.monotonic() - began_s)
        if kind == "error":
            raise OSError(*value)
        return value

    def _settle(self) -> None:
        """Return if the process can take a call; take in an answer that comes late."""
        if self.process.poll() is not None:
            self._line.close()
            self._start()
        if self._awaited_since_s is None:
            return
        now_s = time.monotonic()
        wait_s = START_S if self._is_first else 0.0
        self._is_first = False
        try:
            self._answer(now_s + wait_s)
        except TimeoutError as error:
            if now_s - self._awaited_since_s > KILL_S:
                self.process.kill()
            raise _hangs("an earlier call has not come back") from error
        except OSError:
            self._end()
            raise

    def _end(self) -> None:
        """Have a process that no longer listens end; the next call starts another one."""
        self.process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(LEAST_WAIT_S)

    def _send(self, raw: bytes, limit_s: float) -> None:
        self._line.settimeout(limit_s)
        try:
            self._line.sendall(_HEAD.pack(len(raw)) + raw)
        except TimeoutError:
            self._end()  # it has half of a call: it can't be told anything any more
            raise

    def _answer(self, until_s: float) -> Any:
        """Return the next answer; what has come of it is kept if the rest does not come in time."""
        length = self._read(_HEAD.size, until_s)
        raw = self._read(_HEAD.size + _HEAD.unpack(length)[0], until_s)[_HEAD.size :]
        self._received, self._awaited_since_s = b"", None
        return pickle.loads(raw)

    def _read(self, size: int, until_s: float) -> bytes:
        """Return the first bytes of an answer, once they are there."""
        while len(self._received) < size:
            left_s = until_s - time.monotonic()
            self._line.settimeout(left_s if left_s > 0 else 0.0)
            try:
                got = self._line.recv(2**20)
            except BlockingIOError as error:
                raise TimeoutError from error
            if not got:
                raise BrokenPipeError(errno.EPIPE, "Its writer has ended")
            self._received += got
        return self._received[:size]

    def close(self) -> None:
        """Let the process end by itself; nobody waits for it."""
        self._line.close()


def _hangs(why: str) -> TimeoutError:
    return TimeoutError(errno.ETIMEDOUT, f"It hangs: {why}")
