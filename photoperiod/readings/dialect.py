"""The text of a CSV file → cells (RFC 4180), with separator and decimal mark recognised, never guessed.

Commas, semicolons and tabs separate; decimals have a point or a comma; a byte order mark is allowed.
Where a file can be read in two ways, a finding shows both and nothing is read.
"""

from __future__ import annotations

import csv
import functools
import hashlib
import io
import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from photoperiod.diagnostics.model import SourceRange
from photoperiod.readings.faults import Faults
from photoperiod.text import no_utf8_text, short

#: Largest file that is read: a quarter of a million rows.
MAX_BYTES = 16_777_216

#: Longest cell; a longer one is a quote that is never closed.
MAX_CELL = 10_000

#: The header of a map by zones: with it, `measure map` asks for no further column.
HEADER = "zone,channel,level_percent,immersion_applied,ppfd_umol_m2_s"

#: What to do about a file without readings.
ROW_UNDER_HEADER = f"write a header, such as `{HEADER}`, and a row for each reading"

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}

#: A number with one mark that may stand before decimals or between thousands: 1.234 or 12,500.
_TWO_WAYS = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")

#: A number with points or commas, whatever they mean.
_NUMBER_WITH_MARK = re.compile(r"[+-]?\d*[.,][\d.,]*")


def reads_two_ways(number: str) -> bool:
    """Return whether the mark in a number may stand before decimals or between thousands.

    Examples
    --------
    >>> [reads_two_ways(each) for each in ("12,500", "1.234", "0,234", "1,23", "1234,567")]
    [True, True, False, False, False]
    """
    return _TWO_WAYS.fullmatch(number) is not None


@dataclass(frozen=True, slots=True)
class CsvText:
    """A CSV file as cells of text.

    Parameters
    ----------
    name, sha256 : str
        What the file is called in messages, and the digest of its bytes, hexadecimal.
    text : str
        The whole text, without a byte order mark.
    separator : str
        What stands between cells.
    header : tuple of str
        Names of the columns, without blanks around them.
    records : tuple of list of str
        The cells of each record that is not blank, as they are written.
    first_lines : tuple of int
        The line in which each record begins, from 1.
    """

    name: str
    sha256: str
    text: str
    separator: str
    header: tuple[str, ...]
    records: tuple[list[str], ...] = field(repr=False)
    first_lines: tuple[int, ...] = field(repr=False)

    @property
    def lines(self) -> list[str]:
        """The lines of the text, for excerpts."""
        return _lines(self.text)

    def place(self, record: int, column: int) -> SourceRange:
        """Return where a cell stands; record −1 is the header."""
        line = 1 if record < 0 else self.first_lines[record]
        return _cell_range(_lines(self.text), line, self.separator, column)

    def line(self, record: int) -> int:
        """Return the line in which a record begins."""
        return self.first_lines[record]


@functools.lru_cache(maxsize=4)  # each finding on a file asks for its lines
def _lines(text: str) -> list[str]:
    return re.split(r"\r\n|\n|\r", text)


def _cell_range(lines: list[str], line: int, separator: str, column: int) -> SourceRange:
    """Return the place of a cell of the record that begins in a line; quotes are not part of it."""
    row, start, at, quoted, found = line - 1, 0, 0, False, 0
    while True:
        text = lines[row]
        if at < len(text):
            character = text[at]
            if character == '"':
                quoted = not quoted
            elif character == separator and not quoted:
                if found == column:
                    break
                found, start = found + 1, at + 1
            at += 1
        elif quoted and row + 1 < len(lines):
            row, at, start = row + 1, 0, 0
        else:
            break
    if found < column:  # the record has no such cell
        return SourceRange(row + 1, len(text) + 1, row + 1, len(text) + 2)
    return SourceRange(row + 1, start + 1, row + 1, max(at, start + 1) + 1)


def read_csv(name: str, raw: bytes, columns: Collection[str]) -> tuple[CsvText | None, Faults]:
    """Return the cells of a file, None if it can't be read, and what is wrong with it.

    Parameters
    ----------
    name : str
        What to call the file in messages.
    raw : bytes
        The whole file.
    columns : collection of str
        Names that a column can have: a header holds at least one.
    """
    faults = Faults()
    text = _decoded(raw, faults)
    if text is None:
        return None, faults
    first = _lines(text[:MAX_CELL])[0] if text else ""
    separator = _separator(first, columns, faults)
    if separator is None:
        return None, faults
    csv.field_size_limit(MAX_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    records: list[list[str]] = []
    try:
        records.extend(reader)
    except csv.Error as error:
        line = _first_lines(text, separator, len(records) + 1)[-1] - 1
        at = SourceRange(line + 1, 1, line + 1, 2)
        faults.add(
            "PHO904",
            at,
            f"a record begins here that is no CSV: {error}",
            "a quote is doubled within quotes, and quotes stand around a whole cell (RFC 4180)",
        )
        return None, faults
    starts: Sequence[int] = range(1, len(records) + 1)
    if reader.line_num != len(records):  # a record goes on over line ends within quotes
        starts = _first_lines(text, separator, len(records))
    kept = [index for index in range(1, len(records)) if any(records[index])]
    if not kept:
        faults.add("PHO903", None, "the file holds no readings", ROW_UNDER_HEADER)
        return None, faults
    return CsvText(
        name=name,
        sha256=hashlib.sha256(raw).hexdigest(),
        text=text,
        separator=separator,
        header=tuple(cell.strip() for cell in records[0]),
        records=tuple(records[index] for index in kept),
        first_lines=tuple(starts[index] for index in kept),
    ), faults


def _first_lines(text: str, separator: str, count: int) -> list[int]:
    """Return the line in which each of so many records begins, the last of which may be no CSV."""
    starts = [1]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    while len(starts) < count:
        next(reader)
        starts.append(reader.line_num + 1)
    return starts


def _decoded(raw: bytes, faults: Faults) -> str | None:
    """Return the text of a file, None if it is none."""
    if len(raw) > MAX_BYTES:
        faults.add(
            "PHO901",
            None,
            f"the file has more than {MAX_BYTES:,} bytes",
            "a file of readings is small: is it another file?",
        )
        return None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        told, help = no_utf8_text(raw, error.start)
        faults.add("PHO901", SourceRange(line, 1, line, 2), told, help)
        return None
    if "\x00" in text:
        faults.add("PHO901", None, "it is no text", "give a CSV file")
        return None
    if not text.strip():
        faults.add("PHO903", None, "the file is empty", ROW_UNDER_HEADER)
        return None
    return text


def _separator(first: str, columns: Collection[str], faults: Faults) -> str | None:
    """Return what separates the cells of a header; a finding where none or two can."""
    cells = {mark: _split(first, mark) for mark in SEPARATORS}
    known = {mark: sum(name in columns for name in names) for mark, names in cells.items()}
    able = [mark for mark, names in cells.items() if len(names) > 1 and known[mark]]
    if len(able) == 1:
        return able[0]
    if len(able) > 1:
        ways = " or ".join(
            f"{len(cells[mark])} columns by {SEPARATORS[mark]} ({short(' | '.join(cells[mark]))})"
            for mark in able
        )
        faults.add(
            "PHO902", None, f"the header can be read in two ways: {ways}", "use one separator"
        )
        return None
    if known[","]:
        return ","  # one column, which nothing separates
    faults.add(
        "PHO903",
        None,
        f"the first line names no column of readings: '{short(first)}'",
        f"begin with a header, such as `{HEADER}`",
    )
    return None


def _split(line: str, separator: str) -> list[str]:
    """Return the cells of one line, without blanks around them."""
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error:
        return [line]


def decimal_mark(table: CsvText, columns: Iterable[int], faults: Faults) -> str | None:
    """Return the mark before decimals in some columns, a point or a comma.

    None, and a finding, if the file has both, or if its numbers can be read in two ways: ``12,500`` is
    12.5 or 12500. Where commas separate cells, ``12.500`` can only be 12.5.
    """
    listed = list(columns)
    try:
        joined = "\n".join(["\n".join([record[c] for record in table.records]) for c in listed])
    except IndexError:  # a record is too short, which is told elsewhere
        joined = "\n".join(record[c] for c in listed for record in table.records if c < len(record))
    if "," not in joined and (table.separator == "," or "." not in joined):
        return "."
    first, is_clear = _first_of_marks(table, listed, has_both={".", ","} <= set(joined))
    if len(first) == 2:
        before, after = sorted(first.values(), key=lambda cell: (cell.record, cell.column))
        both = dict.fromkeys(f"'{short(cell.text)}'" for cell in (before, after))
        faults.add(
            "PHO902",
            table.place(after.record, after.column),
            f"numbers have points and commas: {' and '.join(both)}",
            "write decimals in one way, and nothing between thousands",
        )
        return None
    if not first:
        return "."
    ((mark, cell),) = first.items()
    if is_clear or (mark == "." and table.separator == ","):
        return mark
    decimals, thousands = cell.text.replace(",", "."), cell.text.replace(mark, "")
    faults.add(
        "PHO902",
        table.place(cell.record, cell.column),
        f"'{cell.text}' can be read in two ways: {decimals} or {thousands}",
        f"write {cell.text}0, or {thousands}",
    )
    return None


def _first_of_marks(
    table: CsvText, columns: list[int], *, has_both: bool
) -> tuple[dict[str, _Cell], bool]:
    """Return the first number with each mark, and whether some number can be read in one way only.

    The search ends where more numbers would change nothing: ``has_both`` tells whether both marks may come.
    """
    first: dict[str, _Cell] = {}
    is_clear = False
    for cell in _marked(table, columns):
        for mark in ".,":
            if mark in cell.text:
                first.setdefault(mark, cell)
        is_clear = is_clear or not (reads_two_ways(cell.text) or set(".,") <= set(cell.text))
        if len(first) == 2 or (is_clear and not has_both):
            break
    return first, is_clear


@dataclass(frozen=True, slots=True)
class _Cell:
    record: int
    column: int
    text: str


def _marked(table: CsvText, columns: list[int]) -> Iterator[_Cell]:
    """Yield the numbers in some columns that hold a point or a comma."""
    for record, cells in enumerate(table.records):
        for column in columns:
            text = cells[column].strip() if column < len(cells) else ""
            if _NUMBER_WITH_MARK.fullmatch(text):
                yield _Cell(record, column, text)
