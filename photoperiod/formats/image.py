"""The image: tables as the few bytes that every player reads. ``docs/player.md`` specifies it.

A controller, a board and this package read the same bytes, so that what one of them refuses all of
them refuse, and what one of them plays all of them play.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from photoperiod.drive.grid import Rounding, Row
from photoperiod.units import SECONDS_PER_DAY

MAGIC = b"PHTP"
VERSION = 1

#: Days are counted from here; 65,535 of them end in 2179.
FIRST_DAY = dt.date(2000, 1, 1)

#: The place of a kind in these tuples is its code in an image.
ROUNDINGS = (Rounding.HALF_UP, Rounding.DOWN, Rounding.TOWARD_LAST_ROW)
RELAYS = ("none", "column", "follows-level")
CLOCKS = ("standard", "civil", "utc")

_HOLDS, _STAYS, _DATED, _WIDE = 1, 2, 4, 8

_HEADER = struct.Struct("<4sBBBBBBHHHHHHHHBBiiI32s")
_CHANNEL = struct.Struct("<HHHHHBB")  # ends in the relay of the safe state and a zero
_SET = struct.Struct("<IH")  # first row and how many
_ROW = struct.Struct("<HBH")  # second, low 16 bits; bit 0: its 17th bit, bit 1: relay; count
_U16, _U32 = struct.Struct("<H"), struct.Struct("<I")

#: The shift that says codes are listed, not reckoned.
_LISTED = 255

#: A line of codes is shifted by no more than this.
MOST_SHIFT = 24

#: The largest level, and the last day, that an image holds.
MOST_COUNT = 65_535

#: The largest number that a 32-bit player reckons with.
MOST_INT32 = 2**31 - 1


class ImageFault(ValueError):
    """The bytes are no image that can be played; the text says why."""


@dataclass(frozen=True, slots=True)
class CodeLine:
    """Converter codes as ``(count × factor + addend) >> shift``, kept within 0 and the full code."""

    factor: int
    addend: int
    shift: int

    def most(self, top_count: int) -> int:
        """Return the largest number that is met on the way."""
        return top_count * self.factor + max(self.addend, 0)

    def code(self, count: int, full_code: int) -> int:
        """Return the code of a count."""
        return min(max((count * self.factor + self.addend) >> self.shift, 0), full_code)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelImage:
    """What a player must know of an output.

    Counts from ``snap_from`` to below ``snap_to`` are put out as ``snap_to``: the band in which a
    standby ballast's light is undefined. A relay that follows the level is closed from ``on_count``
    on. ``soft_count`` is where a soft start begins.
    """

    snap_from: int = 0
    snap_to: int = 0
    on_count: int = 0
    safe_count: int = 0
    safe_relay: bool = False
    soft_count: int = 0


@dataclass(frozen=True, slots=True)
class DatedTable:
    """From when a table holds [days from `FIRST_DAY`], and each channel's set of rows."""

    first_day: int
    sets: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Image:
    """Tables for a player, all in integers.

    Parameters
    ----------
    holds, stays : bool
        A level stays until the next row; after the last row it stays until midnight.
    relay, rounding, clock : str
        One of `RELAYS`, `ROUNDINGS`, `CLOCKS`.
    every_seconds : int
        How often outputs move. [s]
    top_count, full_code : int
        The largest level and the top permitted converter code.
    codes : CodeLine or tuple of int
        Converter code of each count.
    soft_start_minutes : int
        How long a soft start takes from the floor to the top. [min]
    digest : bytes
        SHA-256 of the schedule.
    channels : tuple of ChannelImage
        In the order of the schedule.
    sets : tuple of tuple of Row
        Rows of one channel and one day each, seconds rising.
    tables : tuple of DatedTable
        First days rising. One of first day 0 if the tables are of no date.
    span : (int, int) or None
        First and last day for which the tables were made [days from `FIRST_DAY`].
    about : bytes
        What people and programs may want to know; no player reads it.
    """

    holds: bool
    stays: bool
    relay: str
    rounding: str
    clock: str
    every_seconds: int
    top_count: int
    full_code: int
    codes: CodeLine | tuple[int, ...]
    soft_start_minutes: int
    digest: bytes
    channels: tuple[ChannelImage, ...]
    sets: tuple[tuple[Row, ...], ...]
    tables: tuple[DatedTable, ...]
    span: tuple[int, int] | None = None
    about: bytes = field(default=b"", repr=False)

    @property
    def is_wide(self) -> bool:
        """True if a player must reckon with more than 32 bits, between rows or for codes."""
        line = self.codes
        if isinstance(line, CodeLine) and line.most(self.top_count) > MOST_INT32:
            return True
        return any(
            2 * abs(later.count - row.count) * length + length > MOST_INT32
            for rows in self.sets
            for row, later, length in _stretches(rows, stays=self.stays)
        )

    def table_on(self, day: int) -> DatedTable:
        """Return the table that is played on a day: the last that has begun, else the first."""
        begun = [table for table in self.tables if table.first_day <= day]
        return begun[-1] if begun else self.tables[0]

    def code_of(self, count: int) -> int:
        """Return the converter code of a count."""
        if isinstance(self.codes, CodeLine):
            return self.codes.code(count, self.full_code)
        return self.codes[count]


def _stretches(rows: Sequence[Row], *, stays: bool) -> list[tuple[Row, Row, int]]:
    """Return what lies between rows: two rows and the seconds from one to the other."""
    pairs = [(a, b, b.second - a.second) for a, b in itertools.pairwise(rows)]
    if not stays:
        length = rows[0].second - rows[-1].second + SECONDS_PER_DAY
        pairs.append((rows[-1], rows[0], length))
    return pairs


def day_number(date: dt.date) -> int:
    """Return a date as a player counts it. [days from `FIRST_DAY`]"""
    return (date - FIRST_DAY).days


def date_of(day: int) -> dt.date:
    """Return the date of a day's number."""
    return FIRST_DAY + dt.timedelta(days=day)


def code_line(
    codes: Sequence[int], full_code: int, codes_per_count: float
) -> CodeLine | tuple[int, ...]:
    """Return codes as a line in integers where there is one, else as they are.

    One that 32 bits suffice for is preferred, then that with the least shift. It gives every code
    exactly: for a factor f and a shift s each count c bounds the addend by
    ``code·2^s ≤ c·f + addend < (code + 1)·2^s``.

    Parameters
    ----------
    codes : sequence of int
        The code of each count.
    full_code : int
        The top permitted code, at which codes are cut.
    codes_per_count : float
        The slope of the line that they were rounded from.
    """
    code = np.array(codes, dtype=np.int64)
    count = np.arange(code.size, dtype=np.int64)
    for most in (MOST_INT32, code.size * MOST_INT32):
        for shift in range(MOST_SHIFT + 1):
            exact = codes_per_count * 2**shift
            for factor in sorted({math.floor(exact), math.ceil(exact)}):
                if factor > MOST_INT32:
                    continue
                least = ((code << shift) - count * factor)[code > 0]
                largest = (((code + 1) << shift) - 1 - count * factor)[code < full_code]
                low = max(int(least.max(initial=-MOST_INT32)), -MOST_INT32)
                high = min(
                    int(largest.min(initial=MOST_INT32)), MOST_INT32,
                    most - factor * (code.size - 1),
                )  # fmt: skip
                if low <= high:
                    return CodeLine(factor, min(max(0, low), high), shift)
    return tuple(codes)


def encode(image: Image) -> bytes:
    """Return the bytes of an image.

    Raises
    ------
    ImageFault
        If something is too large for its place.
    """
    if image.top_count > MOST_COUNT:
        raise ImageFault(f"{image.top_count:,} levels are more than the {MOST_COUNT:,} of an image")
    if image.span is not None and not (min(image.span) >= 0 and max(image.span) <= MOST_COUNT):
        raise ImageFault(
            f"its dates, {date_of(image.span[0])} to {date_of(image.span[1])}, are not from {FIRST_DAY} to"
            f" {date_of(MOST_COUNT)}"
        )
    try:
        body = _body(image)
        header = _header(image, _HEADER.size + len(body) + _U32.size)
    except struct.error as error:
        raise ImageFault(f"the tables do not fit into an image: {error}") from error
    return header + body + _U32.pack(zlib.crc32(header + body))


def _header(image: Image, length: int) -> bytes:
    line = image.codes if isinstance(image.codes, CodeLine) else CodeLine(0, 0, _LISTED)
    flags = (
        _HOLDS * image.holds
        | _STAYS * image.stays
        | _DATED * (image.span is not None)
        | _WIDE * image.is_wide
    )
    return _HEADER.pack(
        MAGIC,
        VERSION,
        flags,
        RELAYS.index(image.relay),
        ROUNDINGS.index(image.rounding),
        CLOCKS.index(image.clock),
        len(image.channels),
        image.every_seconds,
        image.top_count,
        image.full_code,
        image.soft_start_minutes,
        *(image.span or (0, 0)),
        len(image.tables),
        len(image.sets),
        line.shift,
        0,
        line.factor,
        line.addend,
        length,
        image.digest,
    )


def _body(image: Image) -> bytes:
    parts = [
        _CHANNEL.pack(
            c.snap_from, c.snap_to, c.on_count, c.safe_count, c.soft_count, c.safe_relay, 0
        )
        for c in image.channels
    ]
    parts += [_U16.pack(n) for table in image.tables for n in (table.first_day, *table.sets)]
    start = 0
    for rows in image.sets:
        parts.append(_SET.pack(start, len(rows)))
        start += len(rows)
    for row in (row for rows in image.sets for row in rows):
        high = row.second >> 16 | (row.relay is not False) << 1
        parts.append(_ROW.pack(row.second & 0xFFFF, high, row.count))
    if not isinstance(image.codes, CodeLine):
        parts += [_U16.pack(code) for code in image.codes]
    return b"".join([*parts, _U32.pack(len(image.about)), image.about])


class _Reader:
    """Take values off bytes one after the other; what is not there is a fault."""

    def __init__(self, raw: bytes, at: int) -> None:
        self.raw, self.at = raw, at

    def take(self, form: struct.Struct) -> tuple[int, ...]:
        if self.at + form.size > len(self.raw):
            raise ImageFault("it ends before its tables do")
        values = form.unpack_from(self.raw, self.at)
        self.at += form.size
        return values


def decode(raw: bytes) -> Image:
    """Return the image that some bytes hold.

    Raises
    ------
    ImageFault
        If they are cut off, changed, of another version, or hold what no player could play.
    """
    if raw[:4] != MAGIC:
        raise ImageFault("it does not begin as an image does")
    if len(raw) < _HEADER.size + _U32.size:
        raise ImageFault("it is cut off")
    if raw[4] != VERSION:
        raise ImageFault(f"it is of version {raw[4]}; this program plays version {VERSION}")
    (_, _, flags, relay, rounding, clock, channels, every_seconds, top_count, full_code,
     soft_start_minutes, first_day, last_day, tables, sets, shift, reserved, factor, addend,
     length, digest) = _HEADER.unpack_from(raw)  # fmt: skip
    if length != len(raw):
        raise ImageFault(f"it says it has {length:,} bytes and has {len(raw):,}")
    if zlib.crc32(raw[:-4]) != _U32.unpack(raw[-4:])[0]:
        raise ImageFault("its checksum does not fit: it was changed or damaged")
    _insist(flags < 16 and reserved == 0, "a part that must be zero is not")
    _insist(relay < 3 and rounding < 3 and clock < 3, "a word it uses is unknown")
    _insist(channels > 0 and tables > 0 and sets > 0, "it holds no channel or no table")
    _insist(every_seconds > 0 and SECONDS_PER_DAY % every_seconds == 0, "its outputs never move")
    _insist(shift in (*range(MOST_SHIFT + 1), _LISTED), "its codes can't be reckoned")
    dated = bool(flags & _DATED)
    _insist(dated or (first_day == last_day == 0 and tables == 1), "it has dates and has none")
    _insist(first_day <= last_day, "its dates run backwards")
    reader = _Reader(raw[:-4], _HEADER.size)
    outputs = []
    for _ in range(channels):
        snap_from, snap_to, on_count, safe_count, soft_count, safe_relay, zero = reader.take(
            _CHANNEL
        )
        _insist(zero == 0 and safe_relay < 2, "a part that must be zero is not")
        _insist(snap_from <= snap_to and max(snap_to, safe_count, soft_count) <= top_count,
                "an output has a level above the top")  # fmt: skip
        outputs.append(
            ChannelImage(
                snap_from=snap_from,
                snap_to=snap_to,
                on_count=on_count,
                safe_count=safe_count,
                safe_relay=bool(safe_relay),
                soft_count=soft_count,
            )
        )
    dated_tables: list[DatedTable] = []
    for _ in range(tables):
        day, *indices = (reader.take(_U16)[0] for _ in range(channels + 1))
        _insist(all(index < sets for index in indices), "a table names rows that are not there")
        _insist(not dated_tables or day > dated_tables[-1].first_day, "its tables are not in order")
        dated_tables.append(DatedTable(day, tuple(indices)))
    _insist(dated_tables[0].first_day == first_day, "its first table is not that of its first day")
    _insist(dated_tables[-1].first_day <= last_day, "its last table begins after its last day")
    spans = [reader.take(_SET) for _ in range(sets)]
    found: list[tuple[Row, ...]] = []
    total = 0
    for start, count in spans:
        _insist(start == total and count > 0, "its rows are not in order")
        total += count
        rows = tuple(_row(reader, top_count) for _ in range(count))
        _insist(
            all(a.second < b.second for a, b in itertools.pairwise(rows)),
            "its rows are not in order",
        )
        found.append(rows)
    codes: CodeLine | tuple[int, ...] = CodeLine(factor, addend, shift)
    if shift == _LISTED:
        codes = tuple(reader.take(_U16)[0] for _ in range(top_count + 1))
        _insist(max(codes) <= full_code, "a code is above the top permitted one")
        _insist(factor == addend == 0, "a part that must be zero is not")
    else:
        _insist(factor >= 0, "its codes can't be reckoned")
    (about_length,) = reader.take(_U32)
    about = raw[reader.at : -4]
    _insist(about_length == len(about), "it holds more or less than it says")
    image = Image(
        holds=bool(flags & _HOLDS),
        stays=bool(flags & _STAYS),
        relay=RELAYS[relay],
        rounding=ROUNDINGS[rounding],
        clock=CLOCKS[clock],
        every_seconds=every_seconds,
        top_count=top_count,
        full_code=full_code,
        codes=codes,
        soft_start_minutes=soft_start_minutes,
        digest=digest,
        channels=tuple(outputs),
        sets=tuple(found),
        tables=tuple(dated_tables),
        span=(first_day, last_day) if dated else None,
        about=about,
    )
    _insist(image.is_wide == bool(flags & _WIDE), "it says wrongly how wide a player must reckon")
    return image


def _row(reader: _Reader, top_count: int) -> Row:
    low, high, count = reader.take(_ROW)
    second = low | (high & 1) << 16
    _insist(high < 4 and second < SECONDS_PER_DAY and count <= top_count, "a row can't be played")
    return Row(second, count, bool(high & 2))


def _insist(holds: bool, why_not: str) -> None:
    if not holds:
        raise ImageFault(why_not)
