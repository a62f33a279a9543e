"""SIGTERM ends a command as Ctrl-C does: tidied up. Whoever waits for it sees that the signal ended it."""

from __future__ import annotations

import atexit
import contextlib
import functools
import os
import signal
import sys
import threading
from collections.abc import Iterator
from types import FrameType

#: Whether this process was told to end.
_is_told = False


@contextlib.contextmanager
def tidied_when_terminated() -> Iterator[None]:
    """Let SIGTERM interrupt the body of the `with`, and end this process at its exit.

    A command with an answer of its own to SIGTERM, such as a player, gives it. Windows ends a process at
    once.
    """
    if (
        sys.platform == "win32"
        or threading.current_thread() is not threading.main_thread()
        or signal.getsignal(signal.SIGTERM) is not signal.SIG_DFL
    ):
        yield
        return
    _end_at_exit()
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        yield
    finally:
        if not _is_told:
            signal.signal(signal.SIGTERM, signal.SIG_DFL)


@functools.cache
def _end_at_exit() -> None:
    """Have `_end` called once, at the exit; functions that libraries register later are called before it."""
    atexit.register(_end)


def _interrupt(_number: int, _frame: FrameType | None) -> None:
    global _is_told
    _is_told = True
    # `timeout` tells the process, and then its group: that must not cut tidying up short.
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    raise KeyboardInterrupt  # not by SIGINT, which the shell lets processes in the background ignore


def _end() -> None:
    if not _is_told:
        return
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError, AttributeError):  # closed, or nobody reads it
            stream.flush()
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    os.kill(os.getpid(), signal.SIGTERM)
