"""A second player, written from docs/player.md alone by somebody who had not seen the code, in plain Python.

It takes the bytes of an image, and imports nothing of ours. Comments name the part of the page that a step
follows.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass
from itertools import pairwise

# "What goes in, what comes out": the bits of the status.
SAFE, EARLY, EXPIRED, SOFT = 1, 2, 4, 8

DAY_SECONDS = 86_400
MOST_31_BITS = 2_147_483_647  # "How wide"

# "The image": the values of the bytes at 6 and 7, the shift that says "codes are listed".
RELAY_COLUMN, RELAY_FOLLOWS_LEVEL = 1, 2  # 0 is none
HALF_UP, DOWN = 0, 1  # 2 is toward-last-row
LISTED = 255

# "The image": the places of the first 72 bytes, in order: magic, version, flags, relay, rounding, clock,
# outputs, every, top, full code, soft minutes, first day, last day, tables, sets, shift, byte 27, factor,
# addend, length.
HEADER = struct.Struct("<4sBBBBBBHHHHHHHHBBiiI32s")
SMALLEST = 76  # "What is refused", length

# "What is refused": the row of everything that has to lie before *end*.
ENDS = "outputs, tables, sets, rows, codes, length of the text"


class RefusedImage(Exception):
    """The image is not played; the text is the first cell of a row of "What is refused"."""


@dataclass(frozen=True)
class Output:
    """12 bytes of an output ("The image", at 72)."""

    snap_from: int
    snap_to: int
    on_count: int
    safe_count: int
    soft: int
    safe_relay: int
    zero: int


@dataclass(frozen=True)
class Row:
    """A time of day with a count and a relay state."""

    second: int
    closed: bool
    count: int


def must(true: bool, what: str) -> None:
    """Refuse the image for the row *what* of "What is refused", unless it is *true*."""
    if not true:
        raise RefusedImage(what)


class Reader:
    """Takes one part of the image after the other, none of them beyond *end*."""

    def __init__(self, raw: bytes, at: int, end: int) -> None:
        self.raw, self.at, self.end = raw, at, end

    def take(self, layout: str) -> tuple[int, ...]:
        """The next numbers. "The image": little-endian, without gaps."""
        size = struct.calcsize("<" + layout)
        # "What is refused": all end at or before *end*.
        must(self.at + size <= self.end, ENDS)
        numbers = struct.unpack_from("<" + layout, self.raw, self.at)
        self.at += size
        return numbers


class SecondPlayer:
    """Plays one image. It has no state: what comes out depends only on what goes in."""

    def __init__(self, raw: bytes) -> None:
        # "What is refused", row by row from the top; only the wide flag comes at the end: it needs all rows.
        must(raw[:4] == b"PHTP" and raw[4:5] == b"\x01", "beginning, version")
        must(len(raw) >= SMALLEST, "length")
        (
            _,
            _,
            flags,
            self.relay,
            self.rounding,
            clock,
            outputs,
            self.every,
            self.top,
            self.full_code,
            self.soft_minutes,
            self.first_day,
            self.last_day,
            tables,
            sets,
            self.shift,
            zero,
            self.factor,
            self.addend,
            length,
            _,
        ) = HEADER.unpack_from(raw, 0)
        must(length == len(raw), "length")

        # "What is refused", checksum; "The image", last 4: that of Ethernet and zip.
        end = length - 4
        must(struct.unpack_from("<I", raw, end)[0] == zlib.crc32(raw[:end]), "checksum")

        # "The image", at 5: the flags.
        must(flags <= 15, "flags")
        self.holds, self.stays = bool(flags & 1), bool(flags & 2)
        self.dates, wide = bool(flags & 4), bool(flags & 8)

        # "What is refused": the rest of the first 72 bytes.
        must(max(self.relay, self.rounding, clock) <= 2, "relay, rounding, clock")
        must(zero == 0, "the byte at 27, the last byte of each output")
        must(min(outputs, tables, sets) >= 1, "outputs, tables, sets")
        must(self.every >= 1 and DAY_SECONDS % self.every == 0, "every seconds")
        if not self.dates:
            must(tables == 1 and self.first_day == 0 and self.last_day == 0, "without dates")
        must(self.first_day <= self.last_day, "first day, last day")

        reader = Reader(raw, HEADER.size, end)
        self.outputs = self._read_outputs(reader, outputs)
        self.tables = self._read_tables(reader, tables, outputs, sets)
        self.sets = self._read_sets(reader, sets)

        # "What is refused": shift, factor.
        must(self.shift <= 24 or self.shift == LISTED, "shift")
        must(
            self.factor == 0 == self.addend if self.shift == LISTED else self.factor >= 0, "factor"
        )

        # "What is refused": listed codes; "The image": only with shift 255.
        self.codes: tuple[int, ...] = ()
        if self.shift == LISTED:
            self.codes = reader.take(f"{self.top + 1}H")  # top count + 1 of them
            must(max(self.codes) <= self.full_code, "listed codes")

        # "What is refused": text; no player reads it.
        (text_length,) = reader.take("I")
        must(reader.at + text_length == end, "text")

        # "What is refused", flags: wide if and only if it is. The row "size" refuses nothing here, as
        # the integers of Python are as wide as they have to be.
        must(wide == self._is_wide(), "flags")

    def _read_outputs(self, reader: Reader, how_many: int) -> list[Output]:
        """The outputs ("The image", at 72) and what is refused of them."""
        outputs = [Output(*reader.take("5HBB")) for _ in range(how_many)]
        # "What is refused": the byte at 27, the last byte of each output.
        must(
            all(output.zero == 0 for output in outputs),
            "the byte at 27, the last byte of each output",
        )
        for output in outputs:
            # "What is refused": each output. The on count may be anything.
            must(output.snap_from <= output.snap_to <= self.top, "each output")
            must(
                max(output.safe_count, output.soft) <= self.top and output.safe_relay <= 1,
                "each output",
            )
        return outputs

    def _read_tables(
        self, reader: Reader, how_many: int, outputs: int, sets: int
    ) -> list[tuple[int, ...]]:
        """The tables ("The image"), each a first day and the sets of the outputs; what is refused of them."""
        tables = [reader.take(f"H{outputs}H") for _ in range(how_many)]
        # "What is refused": first table, other tables, last table, number of a set in a table.
        must(tables[0][0] == self.first_day, "first table")
        must(all(before[0] < later[0] for before, later in pairwise(tables)), "other tables")
        must(tables[-1][0] <= self.last_day, "last table")
        must(all(max(table[1:]) < sets for table in tables), "number of a set in a table")
        return tables

    def _read_sets(self, reader: Reader, how_many: int) -> list[list[Row]]:
        """The sets and their rows ("The image") and what is refused of them."""
        places = [reader.take("IH") for _ in range(how_many)]
        rows_before = 0
        for first_row, rows in places:
            # "What is refused": each set. So R is the sum of all rows.
            must(rows >= 1 and first_row == rows_before, "each set")
            rows_before += rows
        return [self._read_rows(reader, rows) for _, rows in places]

    def _read_rows(self, reader: Reader, how_many: int) -> list[Row]:
        """The rows of one set ("The image") and what is refused of them."""
        rows: list[Row] = []
        for _ in range(how_many):
            low_bits, third, count = reader.take("HBH")
            # "The image": bit 0 of the third byte is the second's bit 16, bit 1 the relay.
            row = Row(low_bits + ((third & 1) << 16), bool(third & 2), count)
            # "What is refused": each row.
            must(third <= 3 and row.second < DAY_SECONDS and row.count <= self.top, "each row")
            must(not rows or rows[-1].second < row.second, "each row")
            rows.append(row)
        return rows

    def _is_wide(self) -> bool:
        """Whether the image has to be marked wide ("How wide")."""
        # "How wide", second point: 0 in the place of a negative addend; no such product with listed codes.
        if self.shift != LISTED and self.top * self.factor + max(self.addend, 0) > MOST_31_BITS:
            return True
        # "How wide", first point: each row and the next of its set, whether or not the table holds.
        for rows in self.sets:
            for index, row in enumerate(rows):
                if self.stays and index == len(rows) - 1:
                    continue  # no way over midnight
                following = rows[(index + 1) % len(rows)]
                seconds = length_between(row, following)
                if 2 * abs(following.count - row.count) * seconds + seconds > MOST_31_BITS:
                    return True
        return False

    def play(
        self, day: int, second: int, clock_valid: bool, stopped: bool, since_start: int
    ) -> tuple[int, list[tuple[int, int, bool]]]:
        """The status, and for each output the count, the code and whether its relay is closed."""
        # "What goes in", second: any other number means that the clock is invalid.
        clock_valid = clock_valid and 0 <= second < DAY_SECONDS

        # Rule 1, stopped or no valid clock: count and relay as they stand in the image; of the other rules
        # only *Open* of rule 8. The code is that of the count which is left.
        if stopped or not clock_valid:
            relays = [output.safe_relay == 1 for output in self.outputs]
            counts = [
                output.safe_count if closed else 0
                for output, closed in zip(self.outputs, relays, strict=True)
            ]
            return SAFE, [
                (count, self._code(count), closed)
                for count, closed in zip(counts, relays, strict=True)
            ]

        # "What goes in, what comes out", early and expired: never without dates.
        status = 0
        if self.dates and day < self.first_day:
            status += EARLY
        if self.dates and day > self.last_day:
            status += EXPIRED

        # Rule 2, table: the last whose first day is not after *day*, else the first one.
        table = self.tables[0]
        if self.dates:
            for later in self.tables:
                if later[0] <= day:
                    table = later

        # Rule 3, moment.
        now = second - second % self.every

        soft = False
        played: list[tuple[int, int, bool]] = []
        for output, number in zip(self.outputs, table[1:], strict=True):
            # Rules 4 and 5, row and level.
            count, row_closed = self._row_and_level(self.sets[number], now)

            # Rule 6, soft start.
            soft_seconds = 60 * self.soft_minutes
            if since_start < soft_seconds:
                # A guess: less than 0, which the page rules out, counts as 0.
                most = output.soft + (self.top - output.soft) * max(since_start, 0) // soft_seconds
                if most < count:
                    count, soft = most, True  # soft even if the relay turns out to be open

            # Rule 7, relay.
            if self.relay == RELAY_COLUMN:
                closed = row_closed
            elif self.relay == RELAY_FOLLOWS_LEVEL:
                closed = count >= output.on_count
            else:
                closed = True  # there is no relay

            # Rule 8, open, snap.
            if not closed:
                count = 0
            elif output.snap_from <= count < output.snap_to:
                count = output.snap_to

            # Rule 9, code.
            played.append((count, self._code(count), closed))

        return status + (SOFT if soft else 0), played

    def _row_and_level(self, rows: list[Row], now: int) -> tuple[int, bool]:
        """Rules 4 and 5: the count at *now*, and the relay of its row."""
        # Rule 4: the last row whose second is not after *now*.
        index = sum(row.second <= now for row in rows) - 1  # seconds rise within a set
        before_the_first = index == -1
        if before_the_first:
            # Rule 4: the last row, as on the day before; if the table stays, the first one.
            index = 0 if self.stays else len(rows) - 1
        row = rows[index]

        # Rule 5: the row's own count, if the table holds, or stays and is outside its rows.
        is_last = index == len(rows) - 1
        if self.holds or (self.stays and (is_last or before_the_first)):
            return row.count, row.closed

        # Rule 5: a line to the next row, after the last one to the first one.
        following = rows[(index + 1) % len(rows)]
        t = now - row.second + (DAY_SECONDS if now < row.second else 0)
        length = length_between(row, following)
        return row.count + self._rounded((following.count - row.count) * t, length), row.closed

    def _rounded(self, p: int, length: int) -> int:
        """The m of rule 5, a line for each cell of its table. No negative number is divided."""
        if self.rounding == HALF_UP:
            if p >= 0:
                return (2 * p + length) // (2 * length)
            return -((-2 * p + length - 1) // (2 * length))
        if p >= 0:
            return p // length
        if self.rounding == DOWN:
            return -((-p + length - 1) // length)
        return -(-p // length)  # toward-last-row; Python takes the sign of p first

    def _code(self, count: int) -> int:
        """Rule 9."""
        if self.shift == LISTED:
            return self.codes[count]
        total = count * self.factor + self.addend
        return 0 if total < 0 else min(total >> self.shift, self.full_code)


def length_between(row: Row, following: Row) -> int:
    """The L of rule 5: seconds from a row to the next one; with one row a whole day."""
    seconds = following.second - row.second
    return seconds if seconds > 0 else seconds + DAY_SECONDS
