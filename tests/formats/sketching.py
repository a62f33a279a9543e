"""Tables and wirings that tests of sketches share."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from photoperiod.drive.converter import Converter
from photoperiod.formats.about import About
from photoperiod.formats.image import Image, ImageFault
from photoperiod.formats.sketch import Sketch, render
from photoperiod.formats.wiring import Board, LevelOutput, SketchFault, TimeSource, Wiring
from tests.targets.images import about, channel, image

BOARDS = ("atmega328p", "esp32", "rp2040")


def wiring(board: str, time: str = "ds3231", levels: str = "mcp4728") -> Wiring:
    return Wiring(Board(board), TimeSource(time), LevelOutput(levels))


def of_bits(told: About, bits: int) -> About:
    controller = replace(told.controller, converter=Converter.nominal(bits, 10.0, 10.0))
    return replace(told, controller=controller)


def many(channels: int, **changes: Any) -> tuple[Image, About]:
    made = image(*[[(0, n + 1)] for n in range(channels)], **changes)
    names = {f"lamp-{n}": channel(f"Lamp {n}") for n in range(channels)}
    return made, replace(about(made), channels=names)


def refused(to: Wiring, made: Image, told: About) -> str:
    with pytest.raises(SketchFault) as caught:
        render(to, made, told)
    assert isinstance(caught.value, ImageFault)
    return str(caught.value)


def text(sketch: Sketch) -> str:
    return sketch.made[sketch.main].decode()
