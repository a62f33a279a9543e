"""The settings of a board."""

from __future__ import annotations

from tests.board.bench import table
from tests.board.test_board_file import GOOD, read, told


def test_channels_that_are_not_named_print_lines_if_the_file_says_so() -> None:
    text = GOOD.replace("channels:\n", "other_channels: stdout\nchannels:\n")
    found = read(text, table((0, 80), channels=("blue", "white", "moon")))
    assert told(found) == [] and found.config is not None
    output, relay = found.config.devices("moon") or (None, None)
    assert output is not None and (output.kind, relay and relay.kind) == ("stdout", "none")
    assert found.config.devices("blue") == found.config.channels["blue"]
    found = read(GOOD, table((0, 80), channels=("blue", "white", "moon")))
    assert [code for code, *_ in told(found)] == ["PHO701"]
