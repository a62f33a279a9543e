"""The board files of simulated worlds."""

from __future__ import annotations

import functools
from pathlib import Path

from photoperiod.board.board_file import BoardFile, read_board
from tests.world.kernel import CONTACT, LUX

SENSES = f"""
    sense:
      contact: {{file: {CONTACT}}}
      light: {{file: {LUX}, lit_above: 5}}"""

BLUE = """\
board: 1
state_folder: state
runtime_folder: run
log: {folder: log}
sysfs: sys
BROKERchannels:
  blue:
    output: {kind: iio, device: "dac-front", channel: 0}
    relay: {kind: led, name: relay-blue}SENSE
"""

SECOND = {
    "local": """\
  white:
    output: {kind: pwm, chip: 0, channel: 0, period_ns: 1000000}
    relay: {kind: gpio, line: relay-white}
""",
    "remote": """\
  white:
    output: {kind: mqtt}
    relay: {kind: none}
""",
}


@functools.lru_cache(maxsize=4)
def board_of(path: Path, text: str) -> BoardFile:
    file = read_board(str(path), text.encode())
    assert file.config is not None, "the world's own board file has a fault"
    return file
