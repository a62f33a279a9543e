"""Vectors that were worked out by hand after docs/player.md, put to every player.

Nothing expected here comes from a program of ours; the first image is laid out byte by byte.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from photoperiod.formats.code_line import CodeLine
from photoperiod.formats.image import (
    ChannelImage,
    DatedTable,
    Image,
    decode,
    encode,
)
from tests.targets.images import DIGEST, about, expected, image
from tests.targets.players import (
    Moment,
    board,
    load_order,
    module_folder,
    module_of,
    on_avr,
    on_host,
    on_micropython,
    output_dtype,
)
from tests.targets.test_micropython import imported


def at(text: str) -> int:
    hours, minutes, seconds = (int(part) for part in text.split(":"))
    return 3600 * hours + 60 * minutes + seconds


#: Levels of 1 %; the output moves every minute; below 3 % the ballast is in its standby.
DAY = image(
    [
        (at("06:00:00"), 0),
        (at("10:00:00"), 85),
        (at("20:00:00"), 85),
        (at("22:00:00"), 0, 0),
    ],
    top_count=100,
    every_seconds=60,
    codes=CodeLine(1310, 16, 5),
    soft_start_minutes=30,
    channels=(ChannelImage(snap_from=1, snap_to=3, soft_count=10),),
)

#: Rows a few seconds apart, so that roundings differ; codes are listed; a table from 1 April on.
#: 1 January 2027 is day 27·365 + 7 = 9862, so that 28 March is 9862 + 31 + 28 + 27 = 9948.
RAMP = image(
    [(5, 0), (12, 3)],
    [(0, 7)],
    top_count=7,
    full_code=77,
    codes=(0, 11, 22, 33, 44, 55, 66, 77),
    relay="follows-level",
    channels=(ChannelImage(on_count=1, safe_count=1, safe_relay=True),),
    tables=(DatedTable(9948, (0,)), DatedTable(9952, (1,))),
    span=(9948, 9981),
)

#: A burn-in day: full from 10:00 to 21:00. Its safe state names a level, which no open relay may have.
NIGHT = image(
    [(at("10:00:00"), 100), (at("20:59:00"), 100), (at("21:00:00"), 0, 0)],
    top_count=100,
    codes=CodeLine(1310, 16, 5),
    channels=(ChannelImage(safe_count=5),),
)

WIDE = image(
    [(0, 65_535), (at("10:00:00"), 0)],
    top_count=65_535,
    full_code=4095,
    codes=CodeLine(1, 8, 4),
    relay="none",
)

Vector = tuple[Moment, int, tuple[int, int, bool]]

VECTORS: dict[str, tuple[Image, list[Vector]]] = {
    "day": (
        DAY,
        [
            # Between the last row of the evening and the first: level 0, relay of the last.
            (Moment(0, at("05:59:59")), 0, (0, 0, False)),
            (Moment(0, at("06:00:00")), 0, (0, 0, True)),
            # 120 s: p = 10,200; (20,400 + 14,400) / 28,800 = 1.2 → 1, which snaps to 3;
            # code (3,930 + 16) / 32 = 123.3
            (Moment(0, at("06:02:00")), 0, (3, 123, True)),
            # 300 s: p = 25,500; 65,400 / 28,800 = 2.27 → 2 → 3
            (Moment(0, at("06:05:00")), 0, (3, 123, True)),
            # 600 s: p = 51,000; 116,400 / 28,800 = 4.04 → 4; (5,240 + 16) / 32 = 164.25
            (Moment(0, at("06:10:00")), 0, (4, 164, True)),
            # 9,540 s: p = 810,900; 1,636,200 / 28,800 = 56.8 → 56; 73,376 / 32 = 2,293
            (Moment(0, at("08:39:00")), 0, (56, 2293, True)),
            (Moment(0, at("08:39:59")), 0, (56, 2293, True)),
            # 111,366 / 32 = 3,480.2
            (Moment(0, at("12:00:00")), 0, (85, 3480, True)),
            # Falling: 42.5, and the upper of two levels as near is 43; 56,346 / 32 = 1,760.8
            (Moment(0, at("21:00:00")), 0, (43, 1760, True)),
            (Moment(0, at("22:00:00")), 0, (0, 0, False)),
            # A soft start of 1,800 s from 10: after 900 s 10 + 90/2 = 55; 72,066 / 32 = 2,252.1
            (Moment(0, at("12:00:00"), since_start_s=900), 8, (55, 2252, True)),
            # 10 + 90 · 1,499/1,800 = 84.95 → 84; 110,056 / 32 = 3,439.25
            (Moment(0, at("12:00:00"), since_start_s=1499), 8, (84, 3439, True)),
            # 10 + 75 = 85 lowers nothing
            (Moment(0, at("12:00:00"), since_start_s=1500), 0, (85, 3480, True)),
            # At its beginning 10; (13,100 + 16) / 32 = 409.9
            (Moment(0, at("12:00:00"), since_start_s=0), 8, (10, 409, True)),
            # At night it holds nothing down.
            (Moment(0, at("23:00:00"), since_start_s=0), 0, (0, 0, False)),
            (Moment(0, at("12:00:00"), clock_valid=False), 1, (0, 0, False)),
            (Moment(0, at("12:00:00"), stopped=True, since_start_s=0), 1, (0, 0, False)),
        ],
    ),
    "ramp-half-up": (
        RAMP,
        [
            (Moment(9947, 8), 2, (1, 11, True)),  # (18 + 7) / 14 = 1.8, the day before the first
            (Moment(9948, 8), 0, (1, 11, True)),
            (Moment(9948, 11), 0, (3, 33, True)),  # (36 + 7) / 14 = 3.07
            (Moment(9948, 13), 0, (3, 33, True)),  # 3 − ⌊(6 + 86,392) / 172,786⌋ = 3 − 0
            (Moment(9948, 43_212), 0, (1, 11, True)),  # 3 − ⌊345,592 / 172,786⌋ = 3 − 2
            (Moment(9951, 4), 0, (0, 0, False)),  # 3 − ⌊604,744 / 172,786⌋ = 3 − 3
            (Moment(9952, 4), 0, (7, 77, True)),  # one row: the same all day
            (Moment(9981, 86_399), 0, (7, 77, True)),
            (Moment(9982, 0), 4, (7, 77, True)),
            (Moment(9982, 0, clock_valid=False), 1, (1, 11, True)),
        ],
    ),
    "ramp-down": (
        replace(RAMP, rounding="down"),
        [
            (Moment(9948, 8), 0, (1, 11, True)),  # 9 / 7
            (Moment(9948, 11), 0, (2, 22, True)),  # 18 / 7
            (Moment(9948, 13), 0, (2, 22, True)),  # 3 − ⌊(3 + 86,392) / 86,393⌋ = 3 − 1
            (Moment(9948, 43_212), 0, (1, 11, True)),  # 3 − ⌊215,992 / 86,393⌋ = 3 − 2
            (Moment(9948, 4), 0, (0, 0, False)),  # 3 − ⌊345,568 / 86,393⌋ = 3 − 3
        ],
    ),
    "ramp-toward-last-row": (
        replace(RAMP, rounding="toward-last-row"),
        [
            (Moment(9948, 11), 0, (2, 22, True)),  # 18 / 7
            (Moment(9948, 13), 0, (3, 33, True)),  # 3 − ⌊3 / 86,393⌋
            (Moment(9948, 43_212), 0, (2, 22, True)),  # 3 − ⌊129,600 / 86,393⌋ = 3 − 1
            (Moment(9948, 4), 0, (1, 11, True)),  # 3 − ⌊259,176 / 86,393⌋ = 3 − 2
        ],
    ),
    "open": (
        NIGHT,
        [
            # From 21:00 the line rises for 13 h from 0 to 100: after 6 h it is at 46, behind an open
            # relay. With a welded one the lamp would give that; so level 0, code 16 / 32.
            (Moment(0, at("03:00:00")), 0, (0, 0, False)),
            (Moment(0, at("09:59:59")), 0, (0, 0, False)),
            # 131,016 / 32 = 4,094.25
            (Moment(0, at("10:00:00")), 0, (100, 4094, True)),
            # A safe state that names a level beside an open relay
            (Moment(0, at("12:00:00"), stopped=True), 1, (0, 0, False)),
        ],
    ),
    "wide": (
        WIDE,
        [
            # 65,535 − ⌊(2·65,535·18,001 + 35,999) / 72,000⌋ = 65,535 − 32,769; 32,774 / 16 = 2,048.4
            (Moment(0, at("05:00:01")), 0, (32_766, 2048, True)),
            # Half of 65,535 is a tie: 3,303,014,400 / 100,800 = 32,768; 32,776 / 16 = 2,048.5
            (Moment(0, at("17:00:00")), 0, (32_768, 2048, True)),
            # (65,535 + 8) / 16 = 4,096.4, and 4,095 is the top permitted code
            (Moment(0, 0), 0, (65_535, 4095, True)),
        ],
    ),
}

CASES = pytest.mark.parametrize("name", VECTORS)


def wanted(vectors: list[Vector]) -> np.ndarray[tuple[int], np.dtype[np.void]]:
    return np.array([(status, [output]) for _, status, output in vectors], dtype=output_dtype(1))


def test_bytes_of_an_image_laid_out_by_hand() -> None:
    rows = b"".join(
        struct.pack("<HBH", *row)
        for row in (
            (21_600, 2, 0),  # 06:00, closed
            (36_000, 2, 85),  # 10:00
            (72_000 - 65_536, 2 + 1, 85),  # 20:00 needs a 17th bit
            (79_200 - 65_536, 0 + 1, 0),  # 22:00, open
        )
    )
    body = (
        b"PHTP\x01"  # version
        b"\x00"  # lines between rows, across midnight, no dates
        b"\x01\x00\x00\x01"  # relay column, half-up, standard time, one output
        b"\x3c\x00\x64\x00\xff\x0f\x1e\x00"  # every 60 s, top 100, full code 4095, soft 30 min
        b"\x00\x00\x00\x00"  # first and last day
        b"\x01\x00\x01\x00"  # a table, a set
        b"\x05\x00\x1e\x05\x00\x00\x10\x00\x00\x00"  # shift 5, factor 1310, addend 16
        b"\x7a\x00\x00\x00" + DIGEST + b"\x01\x00\x03\x00\x00\x00\x00\x00\x0a\x00\x00\x00"  # output
        b"\x00\x00\x00\x00"  # table: day 0, set 0
        b"\x00\x00\x00\x00\x04\x00" + rows + b"\x00\x00\x00\x00"  # set: from row 0 four; no text
    )
    assert len(body) + 4 == 72 + 12 + 4 + 6 + 20 + 4 + 4 == 0x7A
    raw = body + struct.pack("<I", zlib.crc32(body))
    assert decode(raw) == DAY
    assert encode(DAY) == raw


@CASES
def test_reference(name: str) -> None:
    made, vectors = VECTORS[name]
    found = expected(made, [moment for moment, _, _ in vectors])
    assert np.array_equal(found, wanted(vectors))


@CASES
def test_c_on_the_host(name: str, host: Path, host_wide: Path) -> None:
    made, vectors = VECTORS[name]
    for program in (host_wide,) if made.is_wide else (host, host_wide):
        verdict, _, played = on_host(program, load_order(encode(made)), 1, [v[0] for v in vectors])
        assert verdict == 0
        assert np.array_equal(played, wanted(vectors))


@CASES
def test_c_on_an_atmega328p(name: str, tmp_path: Path) -> None:
    made, vectors = VECTORS[name]
    fault, _, played, _ = on_avr(tmp_path, made, about(made), [v[0] for v in vectors], 0, 43_200)
    assert fault == 0
    assert np.array_equal(played, wanted(vectors))


@CASES
def test_micropython(name: str, tmp_path: Path) -> None:
    made, vectors = VECTORS[name]
    folder = module_folder(tmp_path, module_of(made, about(made)))
    raw = on_micropython(folder, [v[0] for v in vectors])
    assert np.array_equal(np.frombuffer(raw, dtype=output_dtype(1)), wanted(vectors))


@CASES
def test_the_module_in_cpython(name: str) -> None:
    made, vectors = VECTORS[name]
    play = imported(made).load()
    for m, status, output in vectors:
        found = play(m.day, m.second, m.clock_valid, m.stopped, m.since_start_s)
        assert found == (status, [output])


@CASES
def test_micropython_on_a_cortex_m0(name: str) -> None:
    made, vectors = VECTORS[name]
    with board() as b:
        b.put("photoperiod_table.py", module_of(made, about(made)))
        b.restart()
        b.run("from photoperiod_table import *")
        b.run("play=load()")
        for moment, status, output in vectors:
            assert b.play(moment) == (status, [output])
