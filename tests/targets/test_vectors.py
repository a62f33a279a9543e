"""The vectors of docs/player.md, put to the players of every target."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from photoperiod.formats.image import Image, encode
from tests.player.test_reference import VECTORS, image, rows_of, vector
from tests.targets.images import about, expected
from tests.targets.players import (
    Moment,
    board,
    load_order,
    module_folder,
    module_of,
    on_host,
    on_micropython,
    output_dtype,
    simulated,
    since,
)
from tests.targets.test_micropython import imported
from tests.targets.tools import PLAYERS, WARNINGS, run, tool

#: An image, a moment of it, and what the page says: count, relay and whether a soft start holds.
Case = tuple[Image, Moment, int, bool, bool]


def case(cells: list[str]) -> Case:
    rows, said, second, count, relay, how = cells
    changes, output, since_start_s = vector(said)
    made = image(*rows_of(rows), channels=(output,), **changes)
    moment = Moment(0, int(second), since_start_s=since_start_s)
    return made, moment, int(count), relay == "closed", how.endswith("; soft")


CASES = [case(cells) for cells in VECTORS]
EACH = pytest.mark.parametrize("given", CASES, ids=[" ".join(cells[:3]) for cells in VECTORS])


def test_there_are_vectors_of_every_kind() -> None:
    assert len(CASES) >= 20
    assert {made.is_wide for made, *_ in CASES} == {False, True}


@EACH
def test_c_on_the_host(given: Case, host: Path, host_wide: Path) -> None:
    made, moment, count, relay, soft = given
    for program in (host_wide,) if made.is_wide else (host, host_wide):
        verdict, _, played = on_host(program, load_order(encode(made)), 1, [moment])
        assert verdict == 0
        assert played["outputs"]["count"].item() == count
        assert played["outputs"]["relay"].item() == relay
        assert (played["status"].item() == 8) == soft


@EACH
def test_python(given: Case, tmp_path: Path) -> None:
    made, moment, count, relay, soft = given
    play = imported(made).load()
    status, [(found, _, closed)] = play(0, moment.second, since_start_s=moment.since_start_s)
    assert (found, closed, status == 8) == (count, relay, soft)
    folder = module_folder(tmp_path, module_of(made, about(made)))
    played = np.frombuffer(on_micropython(folder, [moment]), dtype=output_dtype(1))
    assert played["outputs"]["count"].item() == count
    assert played["outputs"]["relay"].item() == relay
    assert (played["status"].item() == 8) == soft


AVR = r"""
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#define PHOTOPERIOD_WIDE
#include "player.h"
static void tell(uint32_t value)
{
    uint8_t digits;
    for (digits = 8; digits > 0; digits--) {
        const uint8_t digit = (uint8_t)(value >> (4 * (digits - 1))) & 15u;
        while ((UCSR0A & _BV(UDRE0)) == 0) {
        }
        UDR0 = (uint8_t)(digit < 10u ? '0' + digit : 'a' + digit - 10);
    }
}
static void play(const uint8_t *image, uint32_t length, uint32_t second, uint32_t since_start_s)
{
    photoperiod_table table;
    photoperiod_moment moment = {0, 0, 0, 1, 0};
    photoperiod_output output;
    moment.second = second;
    moment.since_start_s = since_start_s;
    tell(photoperiod_check(&table, image, length));
    tell(photoperiod_play(&table, &moment, &output, 1));
    tell(output.count);
    tell(output.relay);
    while ((UCSR0A & _BV(UDRE0)) == 0) {
    }
    UDR0 = '\n';
}
@IMAGES@
int main(void)
{
    UCSR0B = _BV(TXEN0);
@PLAYS@
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
"""


def test_c_on_an_atmega328p(tmp_path: Path) -> None:
    images, plays = [], []
    for at, (made, moment, *_) in enumerate(CASES):
        raw = encode(made)
        numbers = ", ".join(map(str, raw))
        images.append(f"static const uint8_t image_{at}[] PROGMEM = {{{numbers}}};")
        plays.append(f"    play(image_{at}, {len(raw)}ul, {moment.second}ul, {since(moment)}ul);")
    text = AVR.replace("@IMAGES@", "\n".join(images)).replace("@PLAYS@", "\n".join(plays))
    (tmp_path / "vectors.c").write_text(text)
    command = [tool("avr-gcc"), "-mmcu=atmega328p", "-std=c99", "-Os", *WARNINGS, f"-I{PLAYERS}"]
    run([*command, tmp_path / "vectors.c", "-o", tmp_path / "vectors.elf"])
    lines = simulated(tmp_path / "vectors.elf")
    found = [[int(line[at : at + 8], 16) for at in range(0, 32, 8)] for line in lines]
    assert found == [[0, 8 * soft, count, relay] for _, _, count, relay, soft in CASES]


def test_micropython_on_a_cortex_m0() -> None:
    plain = CASES[0][0]
    with board() as b:
        b.put("photoperiod_table.py", module_of(plain, about(plain)))
        b.restart()
        b.run("from photoperiod_table import *")
        for made, moment, count, relay, soft in CASES:
            b.put("i", encode(made))
            b.free_bytes()  # collects what the transfer left
            b.run("f=open('i','rb')")
            b.run("play=player(f.read(),1)")
            b.run("f.close()")
            status, [(found, _, closed)] = b.play(moment)
            assert (found, closed, status == 8) == (count, relay, soft)


def test_codes_of_the_page_are_counts() -> None:
    for made, moment, count, *_ in CASES:
        assert expected(made, [moment])["outputs"]["code"].item() == count
