"""A pseudo-terminal in which a command runs, as a person sees it."""

from __future__ import annotations

import os
import select
import sys
import time
from pathlib import Path

#: A command that says nothing for longer hangs. [s]
PATIENCE_S = 30.0

CTRL_C, CTRL_D = b"\x03", b"\x04"


class Terminal:
    """A command in a terminal of 80 columns: what it shows, and what is typed."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        import pty

        self.shown = ""
        self._pid, self._terminal = pty.fork()
        if self._pid == 0:
            os.chdir(folder)
            os.environ |= {"COLUMNS": "80", "NO_COLOR": "1", "PYTHONUTF8": "1"}
            os.execv(sys.executable, [sys.executable, "-m", "photoperiod", *arguments])

    def type(self, keys: str | bytes) -> None:
        """Type a line, or bytes as they are."""
        os.write(self._terminal, f"{keys}\n".encode() if isinstance(keys, str) else keys)

    def until_prompt(self) -> str:
        """Return what is shown up to the next prompt, or to the end of the command."""
        fresh = ""
        deadline = time.monotonic() + PATIENCE_S
        while not fresh.endswith(": "):
            ready, _, _ = select.select([self._terminal], [], [], deadline - time.monotonic())
            assert ready, f"no prompt after {fresh[-300:]!r}"
            try:
                read = os.read(self._terminal, 65_536)
            except OSError:  # Linux ends a terminal so
                read = b""
            if not read:
                break
            fresh += read.decode()
        self.shown += fresh
        return fresh.replace("\r\n", "\n")

    def ask(self, keys: str | bytes) -> str:
        """Type something, and return what is shown up to the next prompt."""
        self.type(keys)
        return self.until_prompt()

    def interrupt(self) -> int:
        """Press Ctrl-C, as a person does: again where nothing happens. Return the exit code.

        Python's input() can miss it: it looks for signals before it waits for keys, and waits on if one
        comes between the two.
        """
        for _ in range(int(PATIENCE_S)):
            self.type(CTRL_C)
            ready, _, _ = select.select([self._terminal], [], [], 1.0)
            while ready:
                try:
                    read = os.read(self._terminal, 65_536)
                except OSError:
                    read = b""
                if not read:
                    return self._reaped()
                self.shown += read.decode()
                ready, _, _ = select.select([self._terminal], [], [], 1.0)
        raise AssertionError(f"Ctrl-C is not heard; shown: {self.shown[-300:]!r}")

    def exit_code(self) -> int:
        """Wait for the end, and return the exit code."""
        self.until_prompt()
        return self._reaped()

    def _reaped(self) -> int:
        os.close(self._terminal)
        return os.waitstatus_to_exitcode(os.waitpid(self._pid, 0)[1])
