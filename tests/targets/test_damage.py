"""Damaged images are refused by every player, and never read beyond their end."""

from __future__ import annotations

import os
import random
import struct
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from photoperiod.formats.image import ImageFault, decode, encode
from tests.targets.images import HARD, about, expected, with_checksum
from tests.targets.players import (
    Moment,
    load_order,
    module_folder,
    module_of,
    on_micropython,
    output_dtype,
    play_order,
)
from tests.targets.test_micropython import imported
from tests.targets.tools import run

#: Bits of a byte that are turned over.
PATTERNS = (0x01, 0x10, 0x80, 0xFF)

FINE, TOO_WIDE = 0, 6

#: How many images with damage that fits its checksum are looked through.
DAMAGED = 20_000 if os.environ.get("CI") else 4_000

#: Where an accepted image is played.
MOMENTS = [
    *(Moment(day, second) for day in (-1, 9_951, 70_000) for second in (0, 7, 43_217, 86_399)),
    Moment(9_951, 43_217, since_start_s=77),
    Moment(9_951, 43_217, stopped=True),
]


def changed_images() -> list[bytes]:
    """Return images with one byte changed each, cut off, or with a byte too many."""
    found = []
    for name in ("dated-and-shared", "listed-codes"):
        raw = encode(HARD[name])
        for at in range(len(raw)):
            for pattern in PATTERNS:
                changed = bytearray(raw)
                changed[at] ^= pattern
                found.append(bytes(changed))
        found += [raw[:length] for length in range(len(raw))]
        found += [raw + b"\0", raw + raw]
    return found


def damaged_images(seed: int) -> Iterator[bytes]:
    """Yield images whose parts were changed and whose checksum fits."""
    draw = random.Random(seed)
    sound = [encode(made) for made in HARD.values()]
    for _ in range(DAMAGED):
        body = bytearray(draw.choice(sound)[:-4])
        for _ in range(draw.choice((1, 1, 1, 2, 3, 8))):
            kind = draw.randrange(6)
            at = draw.randrange(4, len(body)) if draw.random() < 0.6 else draw.randrange(4, 40)
            if kind == 0:
                body[at] = draw.randrange(256)
            elif kind == 1:
                body[at] ^= 1 << draw.randrange(8)
            elif kind == 2:
                value = draw.choice((0, 1, 255, 256, 0x7FFF, 0x8000, 0xFFFF, draw.randrange(2**16)))
                body[at : at + 2] = struct.pack("<H", value)
            elif kind == 3:
                value = draw.choice((0, 1, 2**31 - 1, 2**31, 2**32 - 1, draw.randrange(2**32)))
                body[at : at + 4] = struct.pack("<I", value)
            elif kind == 4 and len(body) > 80:
                del body[draw.randrange(max(72, len(body) - 40), len(body)) :]
            elif kind == 5:
                body += draw.randbytes(draw.choice((1, 2, 4, 5, 6, 12)))
        if draw.random() < 0.9:
            body[36:40] = struct.pack("<I", len(body) + 4)
        yield with_checksum(bytes(body))


def systematic_images(name: str) -> list[bytes]:
    """Return an image with each bit turned over and cut at each byte, its length and checksum fit."""
    body = encode(HARD[name])[:-4]
    found = []
    for bit in range(8 * 4, 8 * len(body)):
        changed = bytearray(body)
        changed[bit // 8] ^= 1 << bit % 8
        found.append(with_checksum(bytes(changed)))
    for size in range(40, len(body)):
        length = struct.pack("<I", size + 4)
        found.append(with_checksum(body[:36] + length + body[40:size]))
        # With as many sets as there can be, no table is refused for naming one too many.
        found.append(with_checksum(body[:24] + b"\xff\xff" + body[26:36] + length + body[40:size]))
    return found


def headers(name: str) -> list[bytes]:
    """Return an image with each value in each byte of its header."""
    body = encode(HARD[name])[:-4]
    return [
        with_checksum(body[:at] + bytes([value]) + body[at + 1 :])
        for at in range(4, 40)
        for value in range(256)
    ]


#: Images of which every bit is turned over: dated tables, listed codes, far levels and codes.
SYSTEMATIC = ("dated-and-shared", "listed-codes", "nearly-wide", "wide-codes", "stays")


def is_accepted(raw: bytes) -> bool:
    try:
        decode(raw)
    except ImageFault:
        return False
    return True


def verdicts_on_host(program: Path, images: list[bytes]) -> list[int]:
    raw = run([program], stdin=b"".join(load_order(image) for image in images))
    assert len(raw) == 2 * len(images)
    return list(raw[::2])


def test_every_change_of_a_byte_is_refused(host: Path, host_wide: Path) -> None:
    images = changed_images()
    assert not any(map(is_accepted, images))
    for program in (host, host_wide):
        assert FINE not in verdicts_on_host(program, images)


@pytest.mark.parametrize("loads", [False, True], ids=["own", "loads"])
def test_every_change_of_a_byte_is_refused_by_micropython(loads: bool, tmp_path: Path) -> None:
    made = HARD["listed-codes"]
    images = changed_images()
    folder = module_folder(
        tmp_path, module_of(made, about(made), loads=loads), [*images, encode(made)]
    )
    assert on_micropython(folder) == bytes(len(images)) + b"\1"


def test_c_refuses_what_the_reference_refuses_and_plays_the_rest(
    host: Path, host_wide: Path
) -> None:
    images = list(damaged_images(1))
    images += [raw for name in SYSTEMATIC for raw in systematic_images(name)]
    images += headers("stays")
    accepted = [is_accepted(raw) for raw in images]
    assert 0.05 < sum(accepted) / len(images) < 0.6, (
        "the damage should be neither harmless nor gross"
    )
    assert [v == FINE for v in verdicts_on_host(host_wide, images)] == accepted
    narrow = verdicts_on_host(host, images)
    assert [v in (FINE, TOO_WIDE) for v in narrow] == accepted
    for raw, is_played, verdict in zip(images, accepted, narrow, strict=True):
        if is_played:
            assert (verdict == TOO_WIDE) == decode(raw).is_wide

    orders, wanted = [], []
    for raw, is_played in zip(images, accepted, strict=True):
        outputs = raw[9] if is_played and len(raw) > 9 else 1
        orders += [load_order(raw), *(play_order(moment, outputs) for moment in MOMENTS)]
        if is_played:
            wanted.append(bytes([FINE, outputs]) + expected(decode(raw), MOMENTS).tobytes())
        else:
            wanted.append(b"\1" + bytes(output_dtype(1).itemsize - 1))
    found = run([host_wide], stdin=b"".join(orders))
    at = 0
    for text, is_played in zip(wanted, accepted, strict=True):
        if is_played:
            assert found[at : at + len(text)] == text
            at += len(text)
        else:
            assert found[at] != FINE and found[at + 1] == 0
            assert found[at + 2 : at + 2 + len(MOMENTS) * len(text)] == text * len(MOMENTS)
            at += 2 + len(MOMENTS) * len(text)
    assert at == len(found)


def test_python_refuses_what_the_reference_refuses(tmp_path: Path) -> None:
    images = list(damaged_images(2))[:1500]
    images += [raw for name in SYSTEMATIC[:4] for raw in systematic_images(name)]
    accepted = [is_accepted(raw) for raw in images]
    made = HARD["ties"]
    folder = module_folder(tmp_path, module_of(made, about(made), loads=True), images)
    assert list(on_micropython(folder)) == accepted
    module = imported(made, loads=True)
    assert [module.is_whole(raw) and module.is_playable(raw) for raw in images] == accepted


def test_moments_reach_dates_and_midnight() -> None:
    made = HARD["dated-and-shared"]
    statuses = set(np.unique(expected(made, MOMENTS)["status"]))
    assert statuses == {0, 1, 2, 4}
