"""Standard output and error that a reader may have left full: a line is dropped rather than waited for."""

from __future__ import annotations

import contextlib
import select
from typing import TextIO


def takes_a_line(stream: TextIO, limit_s: float) -> bool:
    """Return True if a stream takes a line without waiting for its reader for longer than a time. [s]

    A pipe that the system calls ready has room for 4096 bytes (PIPE_BUF, pipe(7)). What is no file of
    the system always takes a line.
    """
    with contextlib.suppress(OSError, ValueError):
        number = stream.fileno()
        return bool(select.select([], [number], [], limit_s)[1])
    return True
