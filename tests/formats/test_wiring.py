"""What fits a board, and what is told of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.formats.sketch import render
from tests.formats.sketching import BOARDS, many, of_bits, refused, text, wiring


def test_channels_that_do_not_fit_are_refused_with_a_way_out() -> None:
    assert "take a converter: --levels mcp4728" in refused(
        wiring("atmega328p", levels="pwm"), *many(3)
    )
    assert "--levels mcp4725" in refused(wiring("atmega328p"), *many(5))
    assert "let two boards share" in refused(wiring("atmega328p", levels="mcp4725"), *many(9))
    assert "pins for 6 relays" in refused(wiring("esp32", levels="mcp4725"), *many(7))
    for to, channels in (
        (wiring("atmega328p"), 4),
        (wiring("atmega328p", levels="mcp4725"), 8),
        (wiring("rp2040", levels="mcp4725"), 6),
        (wiring("esp32", levels="pwm"), 6),
    ):
        render(to, *many(channels))


def test_codes_of_other_bits_than_the_converters_are_refused() -> None:
    made, told = many(1)
    why = refused(wiring("rp2040"), made, of_bits(told, 10))
    assert "its codes have 10 bits, and an MCP4728 has 12; write `bits: 12`" in why
    render(wiring("rp2040", levels="pwm"), made, of_bits(told, 10))


def test_a_network_needs_to_know_the_zone() -> None:
    made, told = many(1)
    away = replace(told, time_zone=None)
    assert "write `place` with its time_zone" in refused(wiring("esp32", "network"), made, away)
    utc, told_utc = many(1, clock="utc")
    render(wiring("esp32", "network"), utc, replace(told_utc, time_zone=None))


@pytest.mark.parametrize(
    "board, bits, hertz, filter_ms",
    [
        # docs/walk.md: 2^bits / (4 f) for a ripple of one step; 16 MHz / 2^bits where that is slower
        ("atmega328p", 8, "15,625", "4.1"),
        ("atmega328p", 10, "15,625", "16.4"),
        ("atmega328p", 12, "3,906", "262.2"),
        ("esp32", 12, "15,625", "65.5"),  # 80 MHz / 15,625 = 5,120 parts
        ("esp32", 14, "4,882", "839"),
        ("rp2040", 12, "15,625", "65.5"),  # 125 MHz / 15,625 = 8,000 parts
        ("rp2040", 13, "15,258", "134.2"),
    ],
)
def test_the_pulses_that_the_board_can_count(
    board: str, bits: int, hertz: str, filter_ms: str
) -> None:
    made, told = many(1)
    sketch = render(wiring(board, levels="pwm"), made, of_bits(told, bits))
    assert sketch.told[0].startswith(
        f"levels are pulses of {hertz} Hz with {2**bits:,} steps ({bits} bits"
    )
    assert f"R·C of at least {filter_ms} ms" in sketch.told[0]
    assert (len(sketch.told) == 2) == (int(hertz.replace(",", "")) < 7812)
    if board == "atmega328p":
        assert f"#define TIMER_BITS {max(bits, 10)}\n" in text(sketch)
    else:
        assert f"\nPULSES_HZ = {hertz.replace(',', '')}\n" in text(sketch)


def test_a_table_without_relays_says_what_that_means() -> None:
    made, told = many(2, relay="none")
    for board in BOARDS:
        sketch = render(wiring(board), made, told)
        assert sketch.told[-1].startswith("the table switches no relay: an open pair")
    assert "#define HAS_RELAYS 0\n" in text(render(wiring("atmega328p"), made, told))
    pins = render(wiring("esp32"), made, told).pins[1].decode()
    assert "RELAYS = {\n}\n" in pins
    assert "RELAY_LAMP" not in render(wiring("atmega328p"), made, told).pins[1].decode()
