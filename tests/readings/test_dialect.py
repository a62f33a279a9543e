"""Separators and decimal marks are recognised, never guessed; cells know their places (RFC 4180)."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.readings.columns import COLUMNS
from photoperiod.readings.dialect import MAX_BYTES, CsvText, decimal_mark, read_csv
from photoperiod.readings.faults import Faults
from tests.conftest import drawn
from tests.readings.bench import told


def read(raw: bytes) -> CsvText:
    table, faults = read_csv("x.csv", raw, COLUMNS)
    assert table is not None, faults
    return table


def mark(raw: bytes, *columns: int) -> tuple[str | None, list[tuple[str, int, str]]]:
    table, faults = read(raw), Faults()
    return decimal_mark(table, columns, faults), told(faults, raw)


@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
@pytest.mark.parametrize("separator", [b",", b";", b"\t"])
def test_three_separators_two_line_ends_with_and_without_a_byte_order_mark(
    bom: bytes, end: bytes, separator: bytes
) -> None:
    raw = bom + separator.join([b"zone", b"volts"]) + end + separator.join([b"crest", b"7"]) + end
    table = read(raw)
    assert table.header == ("zone", "volts")
    assert table.records == (["crest", "7"],)
    assert table.separator == separator.decode()


def test_quotes_are_those_of_rfc_4180() -> None:
    # RFC 4180, section 2, rules 5 to 7: quoted fields may hold separators, line ends and doubled quotes.
    table = read(b'zone,note\r\n"a,b","he said ""no"""\r\n"two\r\nlines",x\r\nc,d\r\n')
    assert table.records == (["a,b", 'he said "no"'], ["two\r\nlines", "x"], ["c", "d"])
    assert table.first_lines == (2, 3, 5)
    assert table.place(1, 1) == (4, 8, 4, 9)  # after the line end within quotes
    assert table.place(2, 1) == (5, 3, 5, 4)


def test_a_header_that_two_separators_split_is_shown_both_ways() -> None:
    raw = b"x_cm;y_cm,depth_cm\n1,2,3\n"
    table, faults = read_csv("x.csv", raw, COLUMNS)
    assert table is None
    assert [each.code for each in faults] == ["PHO902"]
    assert "2 columns by commas (x_cm;y_cm | depth_cm)" in faults[0].message
    assert "2 columns by semicolons (x_cm | y_cm,depth_cm)" in faults[0].message


def test_a_file_that_is_utf_16_is_named_so() -> None:
    _, faults = read_csv("x.csv", "zone,volts\ncrest,1\n".encode("utf-16"), COLUMNS)
    (fault,) = faults
    assert fault.message == "byte 0xff is not UTF-8: the file is UTF-16"
    assert "PowerShell" in fault.help


@pytest.mark.parametrize(
    ("raw", "code", "line"),
    [
        (b"", "PHO903", 1),
        (b" \n", "PHO903", 1),
        (b"zone,volts\n", "PHO903", 1),
        (b"zone,volts\n,\n", "PHO903", 1),
        (b"hello\nworld\n", "PHO903", 1),
        (b"zone,volts\ncrest,\xff\n", "PHO901", 2),
        ("zone,volts\n".encode("utf-16"), "PHO901", 1),
        (b"zone,volts\n\x00,1\n", "PHO901", 1),
        (b" " * (MAX_BYTES + 1), "PHO901", 1),
        (b'zone,volts\na,1\n"b,2\n', "PHO904", 3),
        (b'zone,volts\n"a"b,1\n', "PHO904", 2),
    ],
)
def test_what_is_no_csv_is_one_finding(raw: bytes, code: str, line: int) -> None:
    table, faults = read_csv("x.csv", raw, COLUMNS)
    assert table is None
    (fault,) = faults
    assert fault.source_range is not None
    assert (fault.code, fault.source_range.line) == (code, line)


@pytest.mark.parametrize(
    ("cells", "separator", "expected"),
    [
        (["12", "3"], ",", "."),
        (["12.5"], ",", "."),
        (["12.500"], ",", "."),  # commas separate cells, so no thousands have points
        (['"12,5"'], ",", ","),
        (["12,5", "1,234"], ";", ","),  # the first says what the second means
        (["1,234", "12,5"], ";", ","),
        (["12.5", "1.234"], ";", "."),
        (["0,125"], ";", ","),  # no thousands begin with 0
        (["1,2345"], ";", ","),
        ([",5"], ";", ","),
    ],
)
def test_the_decimal_mark_follows_from_the_file(
    cells: list[str], separator: str, expected: str
) -> None:
    raw = f"zone{separator}volts\n" + "".join(f"a{separator}{cell}\n" for cell in cells)
    assert mark(raw.encode(), 1) == (expected, [])


@pytest.mark.parametrize(
    ("cells", "separator", "marked", "message"),
    [
        (["12,500"], ";", "12,500", "'12,500' can be read in two ways: 12.500 or 12500"),
        (["12.500"], ";", "12.500", "'12.500' can be read in two ways: 12.500 or 12500"),
        (['"1,234"'], ",", '"1,234"', "'1,234' can be read in two ways: 1.234 or 1234"),
        (["12.5", "12,5"], ";", "12,5", "numbers have points and commas: '12.5' and '12,5'"),
        (["1.234,5"], ";", "1.234,5", "numbers have points and commas: '1.234,5'"),
    ],
)
def test_numbers_that_can_be_read_in_two_ways_are_shown_both_ways(
    cells: list[str], separator: str, marked: str, message: str
) -> None:
    raw = f"zone{separator}volts\n" + "".join(f"a{separator}{cell}\n" for cell in cells)
    table, faults = read(raw.encode()), Faults()
    assert decimal_mark(table, [1], faults) is None
    assert faults[0].message == message
    assert told(faults, raw.encode()) == [("PHO902", 1 + len(cells), marked)]


def test_words_with_points_are_no_decimals() -> None:
    assert mark(b"zone;volts\nn.a.;1\nn.a.;1,5\n", 0, 1) == (",", [])


CELL = st.text(alphabet='ab1.5 ,;"\n', max_size=6)


@given(
    st.lists(st.lists(CELL, min_size=2, max_size=4), min_size=1, max_size=5), st.sampled_from(",;")
)
def test_every_cell_stands_where_its_place_says(rows: list[list[str]], separator: str) -> None:
    # Python's csv module writes, our places are read back from the text.
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=separator, lineterminator="\n")
    writer.writerow(["zone", "volts"])
    writer.writerows(rows)
    table, _ = read_csv("x.csv", stream.getvalue().encode(), COLUMNS)
    if table is None:
        assert not any(cell.strip() for row in rows for cell in row)
        return
    for record, cells in enumerate(table.records):
        for column, cell in enumerate(cells):
            at = table.place(record, column)
            shown = table.lines[at.line - 1][at.column - 1 : at.end_column - 1]
            if cell and "\n" not in cell:
                quoted = '"' + cell.replace('"', '""') + '"'
                assert shown in (cell, quoted)
            assert at.line == at.end_line


@given(st.binary(max_size=200))
def test_no_bytes_raise(raw: bytes) -> None:
    table, faults = read_csv("x.csv", raw, COLUMNS)
    assert (table is None) == bool(faults)


#: How the same file can be written: separator, decimal mark, line end, and what it begins with.
WAYS = st.tuples(
    st.sampled_from([(",", "."), (";", ","), (";", "."), ("\t", ","), ("\t", ".")]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from([b"", b"\xef\xbb\xbf"]),
)


@settings(max_examples=drawn(60))
@given(st.lists(st.integers(1, 99_999), min_size=1, max_size=8), WAYS)
def test_a_file_is_the_same_however_it_is_written(hundredths: list[int], way: Any) -> None:
    (separator, point), end, begin = way
    numbers = [
        f"{each // 100}.{each % 100:02d}" for each in hundredths
    ]  # two decimals: never in doubt
    rows = [f"zone{separator}volts"] + [
        f"a{separator}{each.replace('.', point)}" for each in numbers
    ]
    raw = begin + end.join(rows).encode()
    table = read(raw)
    faults = Faults()
    found = decimal_mark(table, [1], faults)
    assert (table.separator, found, faults) == (separator, point, [])
    assert [cells[1].replace(point, ".") for cells in table.records] == numbers
