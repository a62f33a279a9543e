"""A C header: the tables and the player that plays them, for controllers programmed in C or C++."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence

from photoperiod.formats.about import About
from photoperiod.formats.code_line import CodeLine
from photoperiod.formats.image import Image, date_of
from photoperiod.formats.source_text import (
    bare_image,
    cautions,
    comment,
    constant_of,
    player_source,
    row_text,
    story,
    wrapped,
)

FILE_NAME = "photoperiod.h"

#: No header holds more; a larger image is loaded at run time instead. [bytes]
MOST_BYTES = 2**20

#: What avr-gcc puts into one object at most. [bytes]
MOST_BYTES_AVR = 32_767

#: Columns of text in a comment.
_WIDTH = 92

_HEADER_BYTES, _OUTPUT_BYTES, _SET_BYTES, _ROW_BYTES = 72, 12, 6, 5

_USE = """\
How to use it. Include it in one source file; all that changes is kept by the caller.

    #include "photoperiod.h"

    static photoperiod_table table;    (at start: all zeros, which plays as the safe state)
    static uint32_t lit_since_s;       (seconds since the lamps came from the dark)

    at start, once; before it, open the relays, which is what they do without power:
        photoperiod_check(&table, photoperiod_image, PHOTOPERIOD_IMAGE_LENGTH);

    every second:
        photoperiod_moment moment;
        photoperiod_output outputs[PHOTOPERIOD_OUTPUTS];
        moment.day = photoperiod_day(year, month, day);
        moment.second = 3600ul * hour + 60u * minute + second;
        moment.clock_valid = the clock's battery never failed and its time was read without error;
        moment.stopped = a person has stopped the lamps;
        moment.since_start_s = lit_since_s;
        status = photoperiod_play(&table, &moment, outputs, PHOTOPERIOD_OUTPUTS);
        if (status & PHOTOPERIOD_SAFE) lit_since_s = 0; else lit_since_s++;
        for each output: if its relay is 0, open the relay; then set the converter to its code;
        then, if its relay is 1, close the relay.

A relay that opens does so before its converter changes, and one that closes does so after. The clock
is the caller's word: a board without a battery clock starts in the past, and until its time was set
clock_valid must be 0. Early and expired are alarms to show, never a reason to go dark."""


def render(image: Image, about: About) -> bytes:
    """Return a header with tables, player, and what people must know of both.

    Parameters
    ----------
    image : Image
        The tables. Its text for people stays out: flash is scarce.
    about : About
        What a table file tells beside its rows.

    Raises
    ------
    ImageFault
        If the tables do not fit, or ``about`` is of others.
    """
    raw = bare_image(image, about, MOST_BYTES)
    lines = [
        *_block([*story(image, about), "", *cautions(about), ""], raw=_USE),
        *_opening(image, about, raw),
        "",
        player_source("player.h").rstrip("\n"),
        "",
        *_array(image, about, raw),
        "",
        "#endif",
    ]
    return ("\n".join(lines) + "\n").encode()


def _block(lines: Sequence[str], raw: str) -> Iterator[str]:
    yield "/*"
    for line in (*wrapped(lines, _WIDTH), *raw.split("\n")):
        yield f" * {line}".rstrip()
    yield " */"


def _opening(image: Image, about: About, raw: bytes) -> Iterator[str]:
    """Yield the guard, which tells a second table from the same once more, and the names."""
    crc = f"0x{zlib.crc32(raw[:-4]):08X}ul"
    yield "#ifdef PHOTOPERIOD_IMAGE_CRC32"
    yield f"#if PHOTOPERIOD_IMAGE_CRC32 != {crc}"
    yield '#error "two tables in one source file: include one header in each"'
    yield "#endif"
    yield "#else"
    yield f"#define PHOTOPERIOD_IMAGE_CRC32 {crc}"
    yield ""
    if image.is_wide:
        yield "/* Levels and times of this table need 64 bits. */"
        yield "#ifndef PHOTOPERIOD_WIDE"
        yield "#define PHOTOPERIOD_WIDE"
        yield "#endif"
        yield ""
    yield "/* Outputs: their place in what photoperiod_play fills in. */"
    yield f"#define PHOTOPERIOD_OUTPUTS {len(image.channels)}"
    for at, (id, channel) in enumerate(about.channels.items()):
        yield f"#define PHOTOPERIOD_CHANNEL_{constant_of(id)} {at} /* {comment(channel.label)} */"
    yield "#define PHOTOPERIOD_CHANNELS " + ", ".join(f'"{id}"' for id in about.channels)
    yield ""
    yield f"#define PHOTOPERIOD_IMAGE_LENGTH {len(raw)}ul"
    if len(raw) > MOST_BYTES_AVR:
        yield "#if defined(__AVR__)"
        yield f'#error "the table has {len(raw)} bytes; this controller holds {MOST_BYTES_AVR}"'
        yield "#endif"


def _array(image: Image, about: About, raw: bytes) -> Iterator[str]:
    """Yield the image byte by byte, with what the bytes mean."""
    yield "/* The image, after docs/player.md. */"
    yield "static const uint8_t photoperiod_image[] PHOTOPERIOD_KEPT = {"
    at = 0
    for size, text in _pieces(image, about):
        if text:
            yield f"    /* {text} */"
        for start in range(at, at + size, 16):
            part = raw[start : min(start + 16, at + size)]
            yield "    " + " ".join(f"0x{byte:02X}," for byte in part)
        at += size
    assert at == len(raw)
    yield "};"


def _pieces(image: Image, about: About) -> Iterator[tuple[int, str]]:
    """Yield how many bytes belong together, and what to say of them."""
    ids = list(about.channels)
    yield _HEADER_BYTES, "header"
    for id in ids:
        yield _OUTPUT_BYTES, f"output {id}: snap from, to; on, safe, soft count; safe relay"
    for table in image.tables:
        when = "every day" if image.span is None else f"from {date_of(table.first_day)}"
        sets = ", ".join(f"{id} set {set}" for id, set in zip(ids, table.sets, strict=True))
        yield 2 + 2 * len(ids), f"{when}: {sets}"
    for number, rows in enumerate(image.sets):
        yield _SET_BYTES, f"set {number}: first row, how many ({len(rows)})"
    for number, rows in enumerate(image.sets):
        for row in rows:
            yield _ROW_BYTES, f"set {number}, {comment(row_text(image, about, row))}"
    if not isinstance(image.codes, CodeLine):
        yield 2 * len(image.codes), "the converter's code of each count"
    yield 4, "no text"
    yield 4, "CRC-32"
