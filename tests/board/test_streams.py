"""A reader that reads no more stops nothing."""

from __future__ import annotations

import io
import os
import time
from pathlib import Path

import pytest

from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.devices.stdout import StdoutOutput
from photoperiod.board.streams import takes_a_line
from tests.board.devices.settings import setting


def test_a_pipe_that_is_full_takes_no_line() -> None:
    reader, writer = os.pipe()
    with os.fdopen(reader, "rb"), os.fdopen(writer, "w") as stream:
        assert takes_a_line(stream, 0.0)
        StdoutOutput(stream).write(setting(1))
        os.set_blocking(writer, False)
        with pytest.raises(BlockingIOError):
            while True:
                os.write(writer, b"x" * 4096)
        os.set_blocking(writer, True)  # as a player has it: a write would wait for ever
        began_s = time.monotonic()
        assert not takes_a_line(stream, 0.05)
        with pytest.raises(DeviceFault, match="nobody reads standard output"):
            StdoutOutput(stream).write(setting(2))
        assert time.monotonic() - began_s < 10
        os.read(reader, 2**16)
        assert takes_a_line(stream, 0.05)


def test_what_is_no_file_takes_a_line() -> None:
    assert takes_a_line(io.StringIO(), 0.0)
    with Path(os.devnull).open("w") as closed:
        pass
    assert takes_a_line(closed, 0.0)  # writing to it says what is wrong
