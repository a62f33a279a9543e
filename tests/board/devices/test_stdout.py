"""Levels as lines of text."""

from __future__ import annotations

import io

from photoperiod.board.devices.stdout import StdoutOutput
from tests.board.devices.settings import setting


def test_a_line_for_each_change() -> None:
    stream = io.StringIO()
    StdoutOutput(stream).write(setting(2048))
    assert stream.getvalue() == (
        "2027-03-02T12:00:00Z blue count=80 code=2048 volts=5.0000 level_percent=50.00 relay=closed\n"
    )
