"""Levels as lines of text on standard output, to try a table without hardware."""

from __future__ import annotations

from typing import TextIO

from photoperiod.board.devices.base import DeviceFault, Setting
from photoperiod.board.streams import takes_a_line
from photoperiod.drive.converter import Converter

#: So long a line waits for whoever reads them. [s]
LIMIT_S = 0.5


class StdoutOutput:
    """One line for each change."""

    name = "standard output"
    carries_relay = True

    def __init__(self, stream: TextIO | None) -> None:
        self.stream = stream

    def open(self, converter: Converter) -> int | None:
        """Return None: nothing is known about the reader of the lines."""
        return None

    def adapt_to(self, converter: Converter) -> None:
        """Do nothing: a line can show any code."""

    def read_back(self) -> int | None:
        """Return None: nothing is known about the reader of the lines."""
        return None

    def write(self, setting: Setting) -> None:
        """Write the line and flush it: the reader may sit behind a pipe."""
        if self.stream is None:
            raise DeviceFault("standard output is closed")
        if not takes_a_line(self.stream, LIMIT_S):
            raise DeviceFault("nobody reads standard output")
        self.stream.write(setting.as_line() + "\n")
        self.stream.flush()
