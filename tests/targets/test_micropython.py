"""The exported module gives the integers of the reference, in MicroPython and in CPython."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings

from photoperiod.formats.image import Image, encode
from tests.conftest import drawn
from tests.targets.images import HARD, about, days, expected, expected_day, images, moments
from tests.targets.players import Moment, module_folder, module_of, on_micropython, output_dtype

#: Images of which every second of a day is played; of others every 97th.
WHOLE_DAYS = ("sixteen-bits-overflow", "wide-down")

SAMPLE_STEP_S = 97


def imported(made: Image, *, loads: bool = False) -> ModuleType:
    module = ModuleType("photoperiod_table")
    exec(module_of(made, about(made), loads=loads).decode(), module.__dict__)
    return module


@pytest.mark.parametrize("name", HARD)
def test_hard_images(name: str, tmp_path: Path) -> None:
    made = HARD[name]
    folder = module_folder(tmp_path, module_of(made, about(made)))
    day, step = days(made)[1], 1 if name in WHOLE_DAYS else SAMPLE_STEP_S
    asked = [*moments(made), Moment(day, 86_399, since_start_s=0)]
    raw = on_micropython(folder, asked, [(day, step)])
    played = np.frombuffer(raw, dtype=output_dtype(len(made.channels)))
    wanted = np.concatenate([expected(made, asked), expected_day(made, day)[::step]])
    assert np.array_equal(played, wanted)


@settings(max_examples=drawn(60))
@given(made=images())
def test_drawn_images_in_cpython(made: Image) -> None:
    module = imported(made, loads=True)
    play = module.load()
    for moment, wanted in zip(moments(made), expected(made, moments(made)), strict=True):
        status, outputs = play(
            moment.day, moment.second, moment.clock_valid, moment.stopped, moment.since_start_s
        )
        assert (status, outputs) == (
            wanted["status"],
            [tuple(o) for o in wanted["outputs"].tolist()],
        )


def test_what_is_refused_plays_dark_and_safe() -> None:
    made = HARD["soft-start"]
    module = imported(made, loads=True)
    for raw in (b"", b"PHTP", encode(made)[:-1], encode(made)[:-1] + b"\0"):
        assert module.load(raw)(0, 0) == (module.SAFE, [(0, 0, False)])
    assert module.load()(0, 86_400) == (module.SAFE, [(1000, made.code_of(1000), True)])
    assert module.player(module.IMAGE, 2)(0, hour_s(7))[1] == [
        (1000, made.code_of(1000), True),
        (0, 0, False),
    ]


def hour_s(hours: int) -> int:
    return hours * 3600
