"""The C player on an ATmega328P, whose int has 16 bits, gives the integers of the reference."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from photoperiod.formats import c_header
from tests.targets.images import HARD, about, days, expected, expected_day, hash_of, moments
from tests.targets.players import on_avr
from tests.targets.tools import WARNINGS, run, tool

#: Images of which every second of a day is played in the long sweeps, for seconds in the simulator.
WHOLE_DAYS = ("sixteen-bits-overflow", "toward-last-row")

#: Of each image so many seconds of a day are passed over.
SAMPLE_STEP_S = 97

#: Flash for moments is scarce.
MOST_MOMENTS = 120


@pytest.mark.parametrize(
    ("name", "step_s"),
    [
        *((name, SAMPLE_STEP_S) for name in HARD),
        *(pytest.param(name, 1, marks=pytest.mark.slow) for name in WHOLE_DAYS),
    ],
)
def test_hard_images(name: str, step_s: int, tmp_path: Path) -> None:
    made = HARD[name]
    asked = moments(made)
    asked = asked[:: max(1, len(asked) // MOST_MOMENTS)] + asked[-12:]
    day = days(made)[1]
    fault, outputs, played, day_hash = on_avr(tmp_path, made, about(made), asked, day, step_s)
    assert (fault, outputs) == (0, len(made.channels))
    assert np.array_equal(played, expected(made, asked))
    assert day_hash == hash_of(expected_day(made, day)[::step_s])


def test_header_is_c_plus_plus_for_it_too(tmp_path: Path) -> None:
    made = HARD["wide"]
    (tmp_path / "photoperiod.h").write_bytes(c_header.render(made, about(made)))
    (tmp_path / "moments.h").write_text(
        "#define DAY 0\n#define DAY_STEP_S 60ul\n"
        "static const uint32_t moments[][5] PROGMEM = {{0, 0, 0, 1, 0}};\n"
    )
    (tmp_path / "play.cpp").write_bytes((Path(__file__).parent / "harness" / "avr.c").read_bytes())
    command = [tool("avr-g++"), "-mmcu=atmega328p", "-std=c++11", "-Os", *WARNINGS]
    run([*command, f"-I{tmp_path}", tmp_path / "play.cpp", "-o", tmp_path / "play.elf"])
