"""Ctrl-C and SIGTERM wait while something must not be left half done."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType

#: What may end a run at any moment.
_ENDING = (signal.SIGINT, signal.SIGTERM)


@contextlib.contextmanager
def interrupts_wait() -> Iterator[None]:
    """Let signals that end a run wait until the end. Whichever thread gets one, the main thread answers."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    waiting: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        waiting.append(number)

    before = {number: signal.signal(number, note) for number in _ENDING}
    try:
        yield
    finally:
        for number, answer in before.items():
            signal.signal(number, answer or signal.SIG_DFL)
        if waiting:
            signal.raise_signal(waiting[0])
