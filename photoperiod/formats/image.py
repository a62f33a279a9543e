"""The image: tables as the few bytes that every player reads. ``docs/player.md`` specifies it.

A controller, a board and this package read the same bytes. So all of them play, or refuse, the same
images.
"""

from __future__ import annotations

import datetime as dt
import itertools
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from photoperiod.drive.grid import RelayKind, Rounding, Row
from photoperiod.formats.code_line import MOST_INT32, MOST_SHIFT, CodeLine
from photoperiod.formats.integrity import FileFault, has_its_crc32, version_fault, with_crc32
from photoperiod.sky.clock import ClockKind
from photoperiod.units import SECONDS_PER_DAY

MAGIC = b"PHTP"
VERSION = 1

#: Days are counted from here; 65,535 of them end in 2179.
FIRST_DAY = dt.date(2000, 1, 1)

#: The place of a kind in these tuples is its code in an image.
ROUNDINGS = (Rounding.HALF_UP, Rounding.DOWN, Rounding.TOWARD_LAST_ROW)
RELAYS = (RelayKind.NONE, RelayKind.COLUMN, RelayKind.FOLLOWS_LEVEL)
CLOCKS = (ClockKind.STANDARD, ClockKind.CIVIL, ClockKind.UTC)

_HOLDS, _STAYS, _DATED, _WIDE = 1, 2, 4, 8

_HEADER = struct.Struct("<4sBBBBBBHHHHHHHHBBiiI32s")
_CHANNEL = struct.Struct("<HHHHHBB")  # ends in the relay of the safe state and a zero
_SET = struct.Struct("<IH")  # first row and how many
_ROW = struct.Struct("<HBH")  # second, low 16 bits; bit 0: its 17th bit, bit 1: relay; count
_U16, _U32 = struct.Struct("<H"), struct.Struct("<I")

#: This shift says that codes are listed, not computed.
_LISTED = 255

#: The largest level, and the last day, that an image holds.
MOST_COUNT = 65_535

#: Reasons that more than one place gives.
_NOT_ZERO = "a part that must be zero is not"
_DATES_AND_NONE = "it says that it has no dates, but has days or several tables"
_ROWS_NOT_IN_ORDER = "its rows are not in order"
_NO_ROW = "a row can't be played"


class ImageFault(FileFault):
    """The bytes are no image that can be played, or tables do not fit into one; the text says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelImage:
    """What a player must know of an output. All counts are levels.

    Parameters
    ----------
    snap_from, snap_to : int
        In place of counts from ``snap_from`` to below ``snap_to``, ``snap_to`` is put out: between
        them the light of a standby ballast is undefined.
    on_count : int
        A relay that follows the level is closed from this count on.
    safe_count, safe_relay : int, bool
        Level of the safe state, and whether the relay is closed in it.
    soft_count : int
        Where a soft start begins.
    """

    snap_from: int = 0
    snap_to: int = 0
    on_count: int = 0
    safe_count: int = 0
    safe_relay: bool = False
    soft_count: int = 0


@dataclass(frozen=True, slots=True)
class DatedTable:
    """The day from which a table is played [days from `FIRST_DAY`], and each channel's set of rows."""

    first_day: int
    sets: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Image:
    """Tables for a player, all in integers.

    Parameters
    ----------
    holds, stays : bool
        A level stays until the next row; after the last row it stays until midnight.
    relay : RelayKind
        How the mains is switched.
    rounding : Rounding
        How levels between rows become whole counts.
    clock : ClockKind
        What the controller's clock shows.
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
    relay: RelayKind
    rounding: Rounding
    clock: ClockKind
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
        """True if a player needs more than 32 bits, for levels between rows or for codes."""
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
    return with_crc32(header + body)


class _Header(NamedTuple):
    """The fields of the header, in their order."""

    magic: bytes
    version: int
    flags: int
    relay: int
    rounding: int
    clock: int
    channels: int
    every_seconds: int
    top_count: int
    full_code: int
    soft_start_minutes: int
    first_day: int
    last_day: int
    tables: int
    sets: int
    shift: int
    reserved: int
    factor: int
    addend: int
    length: int
    digest: bytes


def _header(image: Image, length: int) -> bytes:
    line = image.codes if isinstance(image.codes, CodeLine) else CodeLine(0, 0, _LISTED)
    first_day, last_day = image.span or (0, 0)
    header = _Header(
        magic=MAGIC,
        version=VERSION,
        flags=_HOLDS * image.holds
        | _STAYS * image.stays
        | _DATED * (image.span is not None)
        | _WIDE * image.is_wide,
        relay=RELAYS.index(image.relay),
        rounding=ROUNDINGS.index(image.rounding),
        clock=CLOCKS.index(image.clock),
        channels=len(image.channels),
        every_seconds=image.every_seconds,
        top_count=image.top_count,
        full_code=image.full_code,
        soft_start_minutes=image.soft_start_minutes,
        first_day=first_day,
        last_day=last_day,
        tables=len(image.tables),
        sets=len(image.sets),
        shift=line.shift,
        reserved=0,
        factor=line.factor,
        addend=line.addend,
        length=length,
        digest=image.digest,
    )
    return _HEADER.pack(*header)


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
    header = _read_header(raw)
    reader = _Reader(raw[:-4], _HEADER.size)
    channels = tuple(_read_output(reader) for _ in range(header.channels))
    tables = tuple(_read_table(reader, header.channels) for _ in range(header.tables))
    sets = _read_sets(reader, header.sets)
    codes = _read_codes(reader, header)
    about = _read_about(reader)
    image = Image(
        holds=bool(header.flags & _HOLDS),
        stays=bool(header.flags & _STAYS),
        relay=RELAYS[header.relay],
        rounding=ROUNDINGS[header.rounding],
        clock=CLOCKS[header.clock],
        every_seconds=header.every_seconds,
        top_count=header.top_count,
        full_code=header.full_code,
        codes=codes,
        soft_start_minutes=header.soft_start_minutes,
        digest=header.digest,
        channels=channels,
        sets=sets,
        tables=tables,
        span=(header.first_day, header.last_day) if header.flags & _DATED else None,
        about=about,
    )
    refuse_unplayable(image)
    is_wide = bool(header.flags & _WIDE)
    _insist(image.is_wide == is_wide, "it is wrong about whether a player needs 64 bits")
    return image


def _read_header(raw: bytes) -> _Header:
    """Return the header of bytes that are an image, whole and unchanged."""
    _insist(raw[:4] == MAGIC, "it does not begin as an image does")
    _insist(len(raw) >= _HEADER.size + _U32.size, "it is cut off")
    header = _Header._make(_HEADER.unpack_from(raw))
    _insist(
        header.version == VERSION,
        version_fault(header.version, VERSION),
    )
    _insist(
        header.length == len(raw), f"it says it has {header.length:,} bytes and has {len(raw):,}"
    )
    _insist(has_its_crc32(raw), "its checksum does not fit: it was changed or damaged")
    _insist(header.flags < 16 and header.reserved == 0, _NOT_ZERO)
    _insist(
        header.relay < len(RELAYS)
        and header.rounding < len(ROUNDINGS)
        and header.clock < len(CLOCKS),
        "it uses a kind that this program does not know",
    )
    has_days = header.first_day != 0 or header.last_day != 0
    _insist(bool(header.flags & _DATED) or not has_days, _DATES_AND_NONE)
    return header


def _read_output(reader: _Reader) -> ChannelImage:
    snap_from, snap_to, on_count, safe_count, soft_count, safe_relay, zero = reader.take(_CHANNEL)
    _insist(zero == 0 and safe_relay < 2, _NOT_ZERO)
    return ChannelImage(
        snap_from=snap_from,
        snap_to=snap_to,
        on_count=on_count,
        safe_count=safe_count,
        safe_relay=bool(safe_relay),
        soft_count=soft_count,
    )


def _read_table(reader: _Reader, channels: int) -> DatedTable:
    day, *indices = (reader.take(_U16)[0] for _ in range(channels + 1))
    return DatedTable(day, tuple(indices))


def _read_sets(reader: _Reader, sets: int) -> tuple[tuple[Row, ...], ...]:
    total, counts = 0, []
    for start, count in [reader.take(_SET) for _ in range(sets)]:
        _insist(start == total, _ROWS_NOT_IN_ORDER)
        counts.append(count)
        total += count
    return tuple(tuple(_read_row(reader) for _ in range(count)) for count in counts)


def _read_row(reader: _Reader) -> Row:
    low, high, count = reader.take(_ROW)
    second = low | (high & 1) << 16
    _insist(high < 4 and second < SECONDS_PER_DAY, _NO_ROW)
    return Row(second, count, bool(high & 2))


def _read_codes(reader: _Reader, header: _Header) -> CodeLine | tuple[int, ...]:
    if header.shift != _LISTED:
        return CodeLine(header.factor, header.addend, header.shift)
    _insist(header.factor == header.addend == 0, _NOT_ZERO)
    return tuple(reader.take(_U16)[0] for _ in range(header.top_count + 1))


def _read_about(reader: _Reader) -> bytes:
    (length,) = reader.take(_U32)
    about = reader.raw[reader.at :]
    _insist(length == len(about), "the length of its text is not the one it gives")
    return about


def _insist(holds: bool, why_not: str) -> None:
    if not holds:
        raise ImageFault(why_not)


def refuse_unplayable(image: Image) -> None:
    """Raise if no player could play an image, though its bytes could be read.

    Raises
    ------
    ImageFault
        If parts of the image contradict each other.
    """
    for fault in _consistency_faults(image):
        raise ImageFault(fault)


def _consistency_faults(image: Image) -> Iterator[str]:
    """Yield why no player could play an image.

    The first fault is the one to show. Later checks assume that earlier ones found nothing.
    """
    if not (image.channels and image.tables and image.sets):
        yield "it holds no channel or no table"
    if image.every_seconds <= 0 or SECONDS_PER_DAY % image.every_seconds != 0:
        yield "the time between two moves of its outputs does not divide a day"
    if isinstance(image.codes, CodeLine) and not 0 <= image.codes.shift <= MOST_SHIFT:
        yield "its converter codes can't be computed"
    if image.span is None and len(image.tables) != 1:
        yield _DATES_AND_NONE
    first_day, last_day = image.span or (0, 0)
    if first_day > last_day:
        yield "its dates run backwards"
    for c in image.channels:
        if c.snap_from > c.snap_to or max(c.snap_to, c.safe_count, c.soft_count) > image.top_count:
            yield "an output has a level above the top"
    yield from _table_faults(image, first_day, last_day)
    yield from _row_faults(image)
    if isinstance(image.codes, CodeLine):
        if image.codes.factor < 0:
            yield "its converter codes can't be computed"
    elif max(image.codes) > image.full_code:
        yield "a code is above the top permitted one"


def _table_faults(image: Image, first_day: int, last_day: int) -> Iterator[str]:
    for table in image.tables:
        if len(table.sets) != len(image.channels):
            yield "a table has other channels than there are outputs"
        if any(index >= len(image.sets) for index in table.sets):
            yield "a table names rows that are not there"
    if any(a.first_day >= b.first_day for a, b in itertools.pairwise(image.tables)):
        yield "its tables are not in order"
    if image.tables[0].first_day != first_day:
        yield "its first table is not that of its first day"
    if image.tables[-1].first_day > last_day:
        yield "its last table begins after its last day"


def _row_faults(image: Image) -> Iterator[str]:
    for rows in image.sets:
        if not rows or any(a.second >= b.second for a, b in itertools.pairwise(rows)):
            yield _ROWS_NOT_IN_ORDER
        if any(row.count > image.top_count for row in rows):
            yield _NO_ROW
