"""The image that docs/player.md lays out byte by byte, put to every player with the answers of the page."""

from __future__ import annotations

import re
import zlib
from pathlib import Path

import numpy as np

from photoperiod.formats.image import decode, encode
from tests.player.test_reference import PAGE
from tests.targets.images import about, expected
from tests.targets.players import (
    Moment,
    load_order,
    module_folder,
    module_of,
    on_avr,
    on_host,
    on_micropython,
    output_dtype,
)

Answer = tuple[int, list[tuple[int, int, bool]]]


def _lines() -> list[tuple[int, bytes]]:
    """Return place and bytes of each line of the page's image."""
    _, _, rest = PAGE.partition("## One image, byte by byte")
    block = rest.split("```")[1]
    found = re.findall(r"^ *(\d+)  ((?:[0-9a-f]{2} )*[0-9a-f]{2})\b", block, re.MULTILINE)
    return [(int(at), bytes.fromhex(text)) for at, text in found]


def _answers() -> list[tuple[Moment, Answer]]:
    """Return the moments of the page with status and outputs."""
    _, _, rest = PAGE.partition("What it plays.")
    found = []
    for line in rest.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) != 9 or not cells[5].isdigit():
            continue
        day, second, clock, stopped, since, status, *outputs, _ = cells
        moment = Moment(
            int(day.replace("−", "-")),
            int(second),
            clock_valid=clock == "valid",
            stopped=stopped == "yes",
            since_start_s=None if since == "long" else int(since),
        )
        given = [output.split() for output in outputs]
        found.append(
            (moment, (int(status), [(int(n), int(code), r == "closed") for n, code, r in given]))
        )
    return found


IMAGE = b"".join(raw for _, raw in _lines())
ANSWERS = _answers()


def played(outputs: int) -> np.ndarray[tuple[int], np.dtype[np.void]]:
    return np.array([answer for _, answer in ANSWERS], dtype=output_dtype(outputs))


def test_the_page_shows_a_whole_image() -> None:
    at = 0
    for place, raw in _lines():
        assert place == at
        at += len(raw)
    assert at == len(IMAGE) == 181
    assert zlib.crc32(IMAGE[:-4]) == int.from_bytes(IMAGE[-4:], "little")
    assert encode(decode(IMAGE)) == IMAGE
    assert f"{zlib.crc32(b'123456789'):08X}" == "CBF43926" and "0xCBF43926" in PAGE


def test_answers_of_every_kind() -> None:
    assert len(ANSWERS) == 15
    assert {status for _, (status, _) in ANSWERS} == {0, 1, 2, 4, 8, 12}


def test_reference() -> None:
    found = expected(decode(IMAGE), [moment for moment, _ in ANSWERS])
    for (moment, answer), one in zip(ANSWERS, found, strict=True):
        assert (int(one["status"]), [tuple(o) for o in one["outputs"].tolist()]) == answer, moment


def test_c_on_the_host(host: Path) -> None:
    verdict, outputs, found = on_host(host, load_order(IMAGE), 2, [m for m, _ in ANSWERS])
    assert (verdict, outputs) == (0, 2)
    assert np.array_equal(found, played(2))


def test_c_on_an_atmega328p(tmp_path: Path) -> None:
    made = decode(IMAGE)
    fault, _, found, _ = on_avr(tmp_path, made, about(made), [m for m, _ in ANSWERS], 9948, 43_200)
    assert fault == 0
    assert np.array_equal(found, played(2))


def test_micropython(tmp_path: Path) -> None:
    made = decode(IMAGE)
    folder = module_folder(tmp_path, module_of(made, about(made)))
    raw = on_micropython(folder, [m for m, _ in ANSWERS])
    assert np.array_equal(np.frombuffer(raw, dtype=output_dtype(2)), played(2))
