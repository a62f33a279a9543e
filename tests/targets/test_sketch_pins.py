"""What a sketch says of pins that are not for its table or its levels."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.targets.sketches import State, at, built_avr, on_world, put, wiring

AVR = wiring("atmega328p", "ds3231", "mcp4728")
PYTHON = wiring("rp2040", "ds3231", "mcp4728")

#: A program for some levels, whose folder still has the pins of others; and what it says of them.
OTHER_LEVELS = [
    ("mcp4725", "mcp4728", "0x60 to 0x67"),
    ("mcp4728", "mcp4725", "0 to 3, for"),
    ("mcp4728", "pwm", "CONVERTER_ADDRESS"),
    ("pwm", "mcp4728", "CONVERTER_ADDRESS is of"),
]


@pytest.mark.parametrize(("levels", "kept", "said"), OTHER_LEVELS)
@pytest.mark.parametrize("board", ["atmega328p", "rp2040"])
def test_pins_of_other_levels_play_nothing(
    board: str, levels: str, kept: str, said: str, tmp_path: Path
) -> None:
    """Such numbers are other outputs, or address 0, from which converters take commands."""
    to, pins = (wiring(board, "ds3231", each) for each in (levels, kept))
    name = "pins.h" if to.is_c else "pins.py"
    put(tmp_path, pins)
    text = (tmp_path / name).read_text(encoding="utf-8")
    put(tmp_path, to)
    (tmp_path / name).write_text(text, encoding="utf-8")
    if to.is_c:
        with pytest.raises(AssertionError, match=f"pins.h.*{said}"):
            built_avr(tmp_path)
        return
    ran = on_world(tmp_path, to, at(13), 8)
    assert {state for _, state in ran.changes} <= {State((0, 0), (False, False))}
    raised = [text for _, text in ran.other if text.startswith("raised ValueError pins.py: ")]
    assert len(raised) == len(ran.other) == 1 and said in raised[0]


def test_a_table_of_other_channels_does_not_compile(tmp_path: Path) -> None:
    put(tmp_path, AVR, pins=(("#define LEVEL_MOON 1\n", ""),))
    with pytest.raises(
        AssertionError, match=r"pins\.h does not say LEVEL_MOON, for the channel moon"
    ):
        built_avr(tmp_path)
    put(tmp_path, wiring("atmega328p", "ds3231", "pwm"), pins=(("LEVEL_MOON 2", "LEVEL_MOON 3"),))
    with pytest.raises(AssertionError, match="LEVEL_MOON is 1"):
        built_avr(tmp_path)


def test_a_table_of_other_channels_leaves_python_dark(tmp_path: Path) -> None:
    put(tmp_path, PYTHON, pins=(('    "moon": 11,\n', ""),))
    ran = on_world(tmp_path, PYTHON, at(13), 8)
    assert all(state.relays == (False, False) for _, state in ran.changes)
    assert ran.other == [(0.0, "raised ValueError pins.py does not say level and relay of 'moon'")]
