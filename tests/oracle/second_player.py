"""A second player, written from docs/player.md alone, in plain Python.

It shares nothing with the package: it takes the bytes of an image, and imports nothing of ours. Each step
names the part of the page that it follows, so that whoever changes the page finds what hangs on it. It is
slow, and looks for rows and tables from the front, as the words of the page do.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

SAFE, EARLY, EXPIRED, SOFT = 1, 2, 4, 8
MOST = 2_147_483_647

ZERO = "the byte at 27, the last byte of each output"

#: What an output is given: count, code, whether the relay is closed.
Given = tuple[int, int, bool]


class RefusedImage(Exception):
    """An image that the page says to refuse; the text is the row of its table."""


@dataclass
class Bytes:
    """Numbers of an image, little-endian; nothing at or beyond ``end`` is read."""

    raw: bytes
    end: int

    def number(self, at: int, size: int, *, signed: bool = False) -> int:
        must(at + size <= self.end, "outputs, tables, sets, rows, codes, length of the text")
        return int.from_bytes(self.raw[at : at + size], "little", signed=signed)


@dataclass
class OutputPart:
    snap_from: int
    snap_to: int
    on: int
    safe: int
    soft: int
    safe_relay: int


@dataclass
class RowPart:
    second: int
    closed: bool
    count: int


@dataclass
class TablePart:
    first_day: int
    sets: list[int]


def must(holds: bool, row: str) -> None:
    if not holds:
        raise RefusedImage(row)


class SecondPlayer:
    """The image that some bytes hold.

    Raises
    ------
    RefusedImage
        If the page says so.
    """

    def __init__(self, raw: bytes) -> None:
        must(raw[:4] == b"PHTP" and raw[4:5] == b"\x01", "beginning, version")
        must(len(raw) >= 76, "length")
        end = len(raw) - 4
        must(int.from_bytes(raw[36:40], "little") == len(raw), "length")
        must(int.from_bytes(raw[end:], "little") == zlib.crc32(raw[:end]), "checksum")
        self.bytes = Bytes(raw, end)
        self._read_header()
        at = self._read_outputs(72)
        at = self._read_tables(at)
        at = self._read_sets(at)
        at = self._read_codes(at)
        must(at + 4 + self.bytes.number(at, 4) == end, "text")
        must((self.flags & 8 != 0) == self._is_wide(), "flags")

    def _read_header(self) -> None:
        number = self.bytes.number
        self.flags = number(5, 1)
        must(self.flags <= 15, "flags")
        self.holds, self.stays = self.flags & 1 != 0, self.flags & 2 != 0
        self.dated = self.flags & 4 != 0
        self.relay, self.rounding = number(6, 1), number(7, 1)
        must(max(self.relay, self.rounding, number(8, 1)) <= 2, "relay, rounding, clock")
        self.how_many, self.every = number(9, 1), number(10, 2)
        self.top, self.full_code = number(12, 2), number(14, 2)
        self.soft_s = 60 * number(16, 2)
        self.first_day, self.last_day = number(18, 2), number(20, 2)
        self.how_many_tables, self.how_many_sets = number(22, 2), number(24, 2)
        must(
            min(self.how_many, self.how_many_tables, self.how_many_sets) >= 1,
            "outputs, tables, sets",
        )
        must(self.every >= 1 and 86_400 % self.every == 0, "every seconds")
        if not self.dated:
            must(self.how_many_tables == 1, "without dates")
            must(self.first_day == self.last_day == 0, "without dates")
        must(self.first_day <= self.last_day, "first day, last day")
        self.shift = number(26, 1)
        must(number(27, 1) == 0, ZERO)
        self.factor, self.addend = number(28, 4, signed=True), number(32, 4, signed=True)
        must(self.shift <= 24 or self.shift == 255, "shift")
        must(self.factor >= 0, "factor")
        if self.shift == 255:
            must(self.factor == self.addend == 0, "factor")

    def _read_outputs(self, at: int) -> int:
        self.outputs = []
        for _ in range(self.how_many):
            numbers = [self.bytes.number(at + 2 * n, 2) for n in range(5)]
            part = OutputPart(*numbers, self.bytes.number(at + 10, 1))
            must(part.snap_from <= part.snap_to <= self.top, "each output")
            must(part.safe <= self.top and part.soft <= self.top, "each output")
            must(part.safe_relay <= 1, "each output")
            must(self.bytes.number(at + 11, 1) == 0, ZERO)
            self.outputs.append(part)
            at += 12
        return at

    def _read_tables(self, at: int) -> int:
        self.tables: list[TablePart] = []
        for _ in range(self.how_many_tables):
            day = self.bytes.number(at, 2)
            sets = [self.bytes.number(at + 2 + 2 * n, 2) for n in range(self.how_many)]
            if self.tables:
                must(day > self.tables[-1].first_day, "other tables")
            else:
                must(day == self.first_day, "first table")
            must(all(number < self.how_many_sets for number in sets), "number of a set in a table")
            self.tables.append(TablePart(day, sets))
            at += 2 + 2 * self.how_many
        must(self.tables[-1].first_day <= self.last_day, "last table")
        return at

    def _read_sets(self, at: int) -> int:
        sizes: list[int] = []
        for _ in range(self.how_many_sets):
            must(self.bytes.number(at, 4) == sum(sizes), "each set")
            sizes.append(self.bytes.number(at + 4, 2))
            must(sizes[-1] >= 1, "each set")
            at += 6
        self.sets = []
        for size in sizes:
            rows: list[RowPart] = []
            for _ in range(size):
                third = self.bytes.number(at + 2, 1)
                must(third <= 3, "each row")
                second = self.bytes.number(at, 2) + (65_536 if third & 1 else 0)
                row = RowPart(second, third & 2 != 0, self.bytes.number(at + 3, 2))
                must(second < 86_400 and row.count <= self.top, "each row")
                must(not rows or second > rows[-1].second, "each row")
                rows.append(row)
                at += 5
            self.sets.append(rows)
        return at

    def _read_codes(self, at: int) -> int:
        self.codes: list[int] = []
        if self.shift == 255:
            for _ in range(self.top + 1):
                self.codes.append(self.bytes.number(at, 2))
                must(self.codes[-1] <= self.full_code, "listed codes")
                at += 2
        return at

    def _is_wide(self) -> bool:
        """How wide."""
        if self.shift != 255 and self.top * self.factor + max(self.addend, 0) > MOST:
            return True
        for rows in self.sets:
            for n, row in enumerate(rows):
                is_last = n == len(rows) - 1
                if is_last and self.stays:
                    continue
                following = rows[0] if is_last else rows[n + 1]
                length = following.second - row.second + (86_400 if is_last else 0)
                if 2 * abs(following.count - row.count) * length + length > MOST:
                    return True
        return False

    def play(
        self, day: int, second: int, clock_valid: bool, stopped: bool, since_start: int
    ) -> tuple[int, list[Given]]:
        """The rules."""
        if stopped or not clock_valid or not 0 <= second <= 86_399:  # rule 1
            return SAFE, [self._opened(o.safe, o.safe_relay == 1) for o in self.outputs]
        status = 0
        if self.dated and day < self.first_day:
            status += EARLY
        if self.dated and day > self.last_day:
            status += EXPIRED
        table = self.tables[0]  # rule 2
        if self.dated:
            for other in self.tables:
                if other.first_day <= day:
                    table = other
        now = second - second % self.every  # rule 3
        found, is_soft = [], False
        for part, number in zip(self.outputs, table.sets, strict=True):
            count, row = self._level(self.sets[number], now)
            if since_start < self.soft_s:  # rule 6
                most = part.soft + (self.top - part.soft) * since_start // self.soft_s
                if count > most:
                    count, is_soft = most, True
            closed = (True, row.closed, count >= part.on)[self.relay]  # rule 7
            if closed and part.snap_from <= count < part.snap_to:  # rule 8
                count = part.snap_to
            found.append(self._opened(count, closed))
        return status + (SOFT if is_soft else 0), found

    def _opened(self, count: int, closed: bool) -> Given:
        """Rule 8, the open relay, and rule 9, the code."""
        if not closed:
            count = 0
        if self.shift == 255:
            return count, self.codes[count], closed
        total = count * self.factor + self.addend
        return count, 0 if total < 0 else min(total >> self.shift, self.full_code), closed

    def _level(self, rows: list[RowPart], now: int) -> tuple[int, RowPart]:
        """Rules 4 and 5."""
        begun = [row for row in rows if row.second <= now]
        row = begun[-1] if begun else rows[0] if self.stays else rows[-1]
        if self.holds:
            return row.count, row
        if self.stays and (row is rows[-1] or now < rows[0].second):
            return row.count, row
        following = rows[0] if row is rows[-1] else rows[rows.index(row) + 1]
        t = now - row.second
        if t < 0:
            t += 86_400
        length = following.second - row.second
        if length <= 0:
            length += 86_400
        p = (following.count - row.count) * t
        if self.rounding == 0:
            half_up = (2 * p + length) // (2 * length)
            moved = half_up if p >= 0 else -((-2 * p + length - 1) // (2 * length))
        elif self.rounding == 1:
            moved = p // length if p >= 0 else -((-p + length - 1) // length)
        else:
            moved = p // length if p >= 0 else -(-p // length)
        return row.count + moved, row
