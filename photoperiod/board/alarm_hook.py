"""A command of the keeper's that is run when an alarm begins or ends: to send a message, to ring a bell.

It may hang, fail, or not be there: the lamps never wait for it.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
from collections import deque
from collections.abc import Callable, Sequence
from enum import StrEnum

from photoperiod.errors import os_reason
from photoperiod.text import safe

#: So many calls wait at most; the oldest are dropped.
MOST_WAITING = 50


class HookWord(StrEnum):
    """The first argument that the command gets; the second one is the text of the alarm."""

    ALARM = "alarm"
    OVER = "over"


class AlarmHook:
    """Runs a command for each alarm, one after the other, each for a limited time.

    Parameters
    ----------
    command : sequence of str
        The program and its first arguments; no shell reads them.
    limit_s : float
        A command that takes longer is killed. [s]
    say : callable
        Shows people one line of text.
    """

    def __init__(self, command: Sequence[str], limit_s: float, say: Callable[[str], None]) -> None:
        self.command, self.limit_s, self._say = tuple(command), limit_s, say
        self._waiting: deque[tuple[HookWord, str]] = deque(maxlen=MOST_WAITING)
        self._running: subprocess.Popen[bytes] | None = None
        self._since_boot_s = 0.0
        self._is_killed = False

    def tell(self, word: HookWord, text: str) -> None:
        """Have the command run soon."""
        self._waiting.append((word, safe(text)))

    def poll(self, boot_s: float) -> None:
        """Begin what waits, and end what takes too long; it never waits."""
        if self._running is not None:
            code = self._running.poll()
            if code is None:
                if boot_s - self._since_boot_s > self.limit_s and not self._is_killed:
                    self._kill(self._running)
                return
            if code != 0 and not self._is_killed:
                self._say(f"the alarm hook '{self.command[0]}' ended with {code}")
            self._running = None
        if self._waiting:
            self._begin(*self._waiting.popleft(), boot_s)

    def _begin(self, word: HookWord, text: str, boot_s: float) -> None:
        try:
            self._running = subprocess.Popen(
                [*self.command, word, text],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,  # so that it is killed with all that it has started
            )
        except (OSError, ValueError) as error:
            self._say(f"the alarm hook '{self.command[0]}' can't be started: {os_reason(error)}")
            return
        self._since_boot_s, self._is_killed = boot_s, False

    def _kill(self, process: subprocess.Popen[bytes]) -> None:
        self._is_killed = True
        self._say(f"the alarm hook '{self.command[0]}' hangs: killed after {self.limit_s:g} s")
        with contextlib.suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)
