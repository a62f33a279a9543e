"""Stop a run at one of its calls to the operating system: by an interrupt, or for good."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from typing import Any

from photoperiod.formats import atomic

#: What puts bytes and names on a disk, and takes them off.
CALLS: tuple[tuple[Any, str], ...] = (
    *((os, name) for name in ("mkdir", "open", "close", "fsync", "rename", "replace", "link")),
    *((os, name) for name in ("unlink", "rmdir")),
    (io, "open"),
    (atomic, "_exchange"),
)


class Stopper:
    """Call ``stop`` at one call of many, before it is done or after.

    Parameters
    ----------
    stop : callable
        What ends the run.
    at : int
        At which call, counted from 1.
    after : bool
        Whether the call is done first.
    """

    def __init__(self, stop: Callable[[], None], at: int, *, after: bool) -> None:
        self.stop, self.at, self.after = stop, at, after
        self.calls = 0

    def arm(self, put: Callable[[Any, str, Any], None]) -> None:
        """Put a counting call in the place of each; ``put`` is setattr, or undoes it later."""
        for owner, name in CALLS:
            put(owner, name, self._around(getattr(owner, name)))

    def _around(self, call: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*args: Any, **options: Any) -> Any:
            self.calls += 1
            is_mine = self.calls == self.at
            if is_mine and not self.after:
                self.stop()
            done = None
            try:
                done = call(*args, **options)
            finally:
                if is_mine and self.after:
                    if isinstance(done, io.IOBase):
                        done.close()  # nobody else will ever see it
                    self.stop()
            return done

        return counted
