"""The exported module on the firmware of a Cortex-M0 board: 16 KiB of RAM, 32-bit floats."""

from __future__ import annotations

import pytest

from photoperiod.formats.image import encode
from tests.targets.images import HARD, about, expected, image, moments
from tests.targets.players import board, module_of

#: What must be left for the program that drives the outputs. [bytes]
ROOM_BYTES = 4096


#: What docs/targets.md says such a board holds. [bytes]
HELD_BYTES = 700

NAMES = ("sixteen-bits-overflow", "dated-and-shared", "soft-start", "wide-down")


@pytest.mark.parametrize("name", NAMES)
def test_hard_images(name: str) -> None:
    made = HARD[name]
    asked = moments(made)
    asked = asked[:: max(1, len(asked) // 40)] + asked[-9:]
    with board() as b:
        b.put("photoperiod_table.py", module_of(made, about(made)))
        b.restart()
        b.run("from photoperiod_table import *")
        assert b.run("print(1e9 + 1 - 1e9)").strip() == "0.0"  # floats are short here
        assert int(b.run("print(len(IMAGE))")) == len(encode(made))
        b.run("play=load()")
        for moment, wanted in zip(asked, expected(made, asked), strict=True):
            status, outputs = b.play(moment)
            assert status == wanted["status"]
            assert outputs == [tuple(one) for one in wanted["outputs"].tolist()]
        assert b.free_bytes() > ROOM_BYTES


def test_a_table_as_large_as_the_page_says() -> None:
    made = image([(60 * minute, minute * 37 % 1000) for minute in range(120)])
    assert HELD_BYTES <= len(encode(made)) < HELD_BYTES + 10
    asked = moments(made)[::10]
    with board() as b:
        b.put("photoperiod_table.py", module_of(made, about(made)))
        b.restart()
        b.run("from photoperiod_table import *")
        b.run("play=load()")
        for moment, wanted in zip(asked, expected(made, asked), strict=True):
            assert b.play(moment) == (wanted["status"], [tuple(wanted["outputs"].tolist()[0])])
