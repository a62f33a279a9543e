"""Ctrl-C waits while something must not be left half done."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType


@contextlib.contextmanager
def interrupts_wait() -> Iterator[None]:
    """Let Ctrl-C wait until the end. Whichever thread gets it, Python interrupts its main thread."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    waiting: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        waiting.append(number)

    before = signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before or signal.SIG_DFL)
        if waiting:
            signal.raise_signal(waiting[0])
