"""Sketches in C: each channel of the table has its pins."""

from __future__ import annotations

import re

from photoperiod.formats.image import encode
from photoperiod.formats.sketch import render
from tests.formats.sketching import many, refused, text, wiring
from tests.targets.images import about, image


def defined(pins: str) -> dict[str, str]:
    return dict(re.findall(r"^#define (\w+) (.+)$", pins, re.MULTILINE))


def test_each_channel_has_its_pins() -> None:
    values = defined(render(wiring("atmega328p"), *many(2)).pins[1].decode())
    assert values["RELAY_LAMP_0"] == "PIN(D, 4)" and values["RELAY_LAMP_1"] == "PIN(D, 5)"
    assert (values["LEVEL_LAMP_0"], values["LEVEL_LAMP_1"]) == ("0", "1")
    assert values["CONVERTER_ADDRESS"] == "0x60" and "STOP_SWITCH" not in values
    values = defined(render(wiring("atmega328p", levels="mcp4725"), *many(8)).pins[1].decode())
    relays = [value for name, value in values.items() if name.startswith("RELAY_LAMP")]
    levels = [value for name, value in values.items() if name.startswith("LEVEL_LAMP")]
    assert len(set(relays)) == len(set(levels)) == 8
    # The bus, the serial port, the alarm light and the stop switch are on none of them.
    taken = ("PIN(C, 4)", "PIN(C, 5)", "PIN(D, 0)", "PIN(D, 1)", "PIN(B, 5)", "PIN(C, 3)")
    assert not set(relays) & set(taken)


def test_what_is_missing_in_the_pins_stops_the_compiler() -> None:
    main = text(render(wiring("atmega328p", levels="pwm"), *many(2)))
    for kind in ("RELAY", "LEVEL"):
        assert f'#error "pins.h does not say {kind}_LAMP_1, for the channel lamp-1"\n' in main
    assert '#error "pins.h: LEVEL_LAMP_0 is 1 (pin B1) or 2 (pin B2)"\n' in main


def test_tables_that_flash_does_not_hold_are_refused() -> None:
    """By hand: 72 + 12 + 4 + 6 + 5 R + 4 + 4 bytes for R rows: 4,179 rows take 20,997, one more 21,002."""
    for rows, fits in ((4179, True), (4180, False)):
        made = image([(row * 19, row % 1000) for row in range(rows)])
        assert len(encode(made)) == 102 + 5 * rows
        if fits:
            render(wiring("atmega328p"), made, about(made))
        else:
            why = refused(wiring("atmega328p"), made, about(made))
            assert "its tables take 21,002 bytes" in why and "--flash-bytes 21000" in why
            render(wiring("rp2040"), made, about(made))
