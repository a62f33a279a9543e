"""Images as bytes: what is cut off, changed or cannot be played is refused."""

from __future__ import annotations

import datetime as dt
import random
import struct
import zlib
from dataclasses import replace

import pytest

from photoperiod.drive.grid import Row
from photoperiod.formats.code_line import CodeLine
from photoperiod.formats.image import (
    ChannelImage,
    DatedTable,
    Image,
    ImageFault,
    date_of,
    day_number,
    decode,
    encode,
)
from tests.player.test_reference import image

TWO = image(
    sets=((Row(0, 10, True), Row(70_000, 20, False)), (Row(3600, 7, True),)),
    tables=(DatedTable(9922, (0, 1)), DatedTable(9930, (1, 1))),
    channels=(ChannelImage(safe_count=3), ChannelImage(snap_from=2, snap_to=4)),
    span=(9922, 9999),
    about=b'{"a":1}',
)


def test_crc_is_that_of_the_catalogues() -> None:
    """CRC-32/ISO-HDLC, check value of "123456789" (as in the catalogues of CRCs): 0xCBF43926."""
    assert zlib.crc32(b"123456789") == 0xCBF43926


def test_the_layout_is_that_of_the_page() -> None:
    """Offsets by docs/player.md, read with struct alone."""
    raw = encode(TWO)
    assert raw[:5] == b"PHTP\x01"
    assert struct.unpack_from("<H", raw, 12) == (1000,)  # top count
    assert struct.unpack_from("<HH", raw, 18) == (9922, 9999)  # days
    assert struct.unpack_from("<HH", raw, 22) == (2, 2)  # tables, sets
    assert struct.unpack_from("<I", raw, 36) == (len(raw),)
    assert struct.unpack_from("<HHH", raw, 72 + 12) == (2, 4, 0)  # the second output's snap
    tables = 72 + 2 * 12
    assert struct.unpack_from("<HHHHHH", raw, tables) == (9922, 0, 1, 9930, 1, 1)
    sets = tables + 2 * 6
    assert struct.unpack_from("<IHIH", raw, sets) == (0, 2, 2, 1)
    rows = sets + 2 * 6
    # 70,000 = 65,536 + 4,464, relay open; 3,600, relay closed
    assert struct.unpack_from("<HBHHBHHBH", raw, rows) == (0, 2, 10, 4464, 1, 20, 3600, 2, 7)
    assert struct.unpack_from("<I", raw, rows + 15) == (7,)
    assert raw[rows + 19 : -4] == b'{"a":1}'
    assert struct.unpack("<I", raw[-4:]) == (zlib.crc32(raw[:-4]),)
    assert decode(raw) == TWO


def test_every_changed_byte_and_every_cut_is_refused() -> None:
    raw = encode(TWO)
    for at in range(len(raw)):
        for change in (0x01, 0x80, 0xFF):
            with pytest.raises(ImageFault):
                decode(raw[:at] + bytes([raw[at] ^ change]) + raw[at + 1 :])
        with pytest.raises(ImageFault):
            decode(raw[:at])
    with pytest.raises(ImageFault):
        decode(raw + b"\0")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"sets": ((Row(5, 1), Row(5, 2)),), "tables": (DatedTable(9922, (0, 0)),)}, "not in order"),
        ({"sets": ((Row(5, 1001),),), "tables": (DatedTable(9922, (0, 0)),)}, "can't be played"),
        ({"tables": (DatedTable(9922, (0, 2)),)}, "not there"),
        ({"tables": (DatedTable(9922, (0, 1)), DatedTable(9922, (0, 1)))}, "not in order"),
        ({"tables": (DatedTable(9923, (0, 1)),)}, "first day"),
        ({"span": (9922, 9925)}, "after its last day"),
        ({"span": (9999, 9922)}, "run backwards"),
        ({"span": None}, "says that it has no dates"),
        ({"every_seconds": 7}, "does not divide a day"),
        ({"channels": (ChannelImage(safe_count=1001), ChannelImage())}, "above the top"),
        ({"channels": (ChannelImage(snap_from=9, snap_to=8), ChannelImage())}, "above the top"),
        ({"codes": CodeLine(-1, 0, 0)}, "can't be computed"),
        ({"codes": CodeLine(1, 0, 25)}, "can't be computed"),
        ({"codes": tuple(range(1001)), "full_code": 999}, "above the top permitted"),
        ({"sets": ((), (Row(0, 0),))}, "not in order"),
    ],
)  # fmt: skip
def test_what_can_not_be_played_is_refused_though_its_checksum_fits(
    change: dict[str, object], why: str
) -> None:
    hostile: Image = replace(TWO, **change)  # type: ignore[arg-type]
    with pytest.raises(ImageFault, match=why):
        decode(encode_as_is(hostile))


def encode_as_is(hostile: Image) -> bytes:
    """Return an image's bytes where reckoning its width may fail on a set without rows."""
    if all(hostile.sets):
        return encode(hostile)
    whole = encode(replace(hostile, sets=tuple(rows or (Row(0, 0),) for rows in hostile.sets)))
    at = 72 + 12 * len(hostile.channels) + 6 * len(hostile.tables) + 4
    raw = whole[:at] + b"\0\0" + whole[at + 2 : -4]
    return raw + struct.pack("<I", zlib.crc32(raw))


def test_any_bytes_are_refused_or_played() -> None:
    draw = random.Random(7)
    raw = encode(TWO)
    played = 0
    for _ in range(5_000):
        hostile = bytearray(raw[:-4])
        for _ in range(draw.randint(1, 3)):
            hostile[draw.randrange(4, len(hostile))] = draw.choice((0, 1, 2, 127, 128, 255))
        try:
            decode(bytes(hostile) + struct.pack("<I", zlib.crc32(bytes(hostile))))
            played += 1
        except ImageFault:
            pass
    assert 0 < played < 5_000


def test_what_is_too_large_is_no_image() -> None:
    with pytest.raises(ImageFault, match="do not fit"):
        encode(image(Row(0, 70_000)))
    with pytest.raises(
        ImageFault, match="its dates, 1999-12-31 to 2000-01-06, are not from 2000-01-01"
    ):
        encode(replace(TWO, span=(-1, 5)))
    with pytest.raises(ImageFault, match="100,000 levels are more"):
        encode(replace(TWO, top_count=100_000))


def test_days_are_counted_from_2000() -> None:
    # 27 years and 61 days on: 27 · 365 + 7 leap days (2000 … 2024) + 31 + 28 + 1 = 9,922
    assert day_number(dt.date(2027, 3, 2)) == 9_922
    assert date_of(9_922) == dt.date(2027, 3, 2)
