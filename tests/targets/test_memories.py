"""Images that were loaded at run time are played from where they lie."""

from __future__ import annotations

from pathlib import Path

from photoperiod.formats import c_header
from photoperiod.formats.image import encode
from tests.targets.images import HARD, about
from tests.targets.players import simulated
from tests.targets.tools import PLAYERS, WARNINGS, compile_avr, run, tool

FINE, DAMAGED, TOO_LONG, SAFE = 0, 4, 7, 1


def test_flash_and_eeprom_in_one_program(tmp_path: Path) -> None:
    made = HARD["follows-level-and-snaps"]
    assert encode(made)[80] != 0x5A
    moments = "#define DAY 0\n#define DAY_STEP_S 611ul\n"
    program = compile_avr(tmp_path, c_header.render(made, about(made)), moments, source="eeprom.c")
    (line,) = simulated(program)
    # From flash and from EEPROM; alike, and lit; a byte spoiled; too long for 16 bits
    assert line == f"{FINE}{FINE}11{DAMAGED}{TOO_LONG}{SAFE}"


#: A memory that is reached by number, as one on a bus is.
ON_A_BUS = r"""
#include <stdint.h>
#include <stdlib.h>
#include <stdio.h>
static const uint8_t memory[] = {@BYTES@};
static uint8_t read_byte(uint32_t at)
{
    if (at < 0x10000u || at - 0x10000u >= sizeof memory) {
        abort();
    }
    return memory[at - 0x10000u];
}
#define PHOTOPERIOD_ADDRESS uint32_t
#define PHOTOPERIOD_READ(at) read_byte(at)
#include "player.h"
int main(void)
{
    photoperiod_table table;
    photoperiod_moment moment = {0, 43200, PHOTOPERIOD_SOFT_START_OVER, 1, 0};
    photoperiod_output output;
    printf("%d ", photoperiod_check(&table, 0x10000u, sizeof memory));
    printf("%d ", photoperiod_play(&table, &moment, &output, 1));
    printf("%d %d %d\n", output.count, output.code, output.relay);
    return 0;
}
"""


def test_an_image_in_a_memory_reached_by_number(tmp_path: Path) -> None:
    raw = encode(HARD["one-row"])  # 500 counts all day; (500 · 4193 + 512) >> 10 = 2047
    source = ON_A_BUS.replace("@BYTES@", ", ".join(map(str, raw)))
    (tmp_path / "bus.c").write_text(source)
    command = [tool("gcc"), "-std=c99", *WARNINGS, "-fsanitize=undefined,address", f"-I{PLAYERS}"]
    run([*command, tmp_path / "bus.c", "-o", tmp_path / "bus"])
    assert run([tmp_path / "bus"]) == b"0 0 500 2047 1\n"
