"""The CSV for programs: written, read back, refused."""

from __future__ import annotations

import csv
import io
import zlib
from collections.abc import Callable

import pytest
from hypothesis import given, settings

from photoperiod.formats import records_csv
from photoperiod.formats.contents import Contents
from photoperiod.formats.integrity import FileFault
from tests.conftest import SCHEDULE, compiled, drawn
from tests.formats.values import DAMAGES, assert_refused, contents, without_proofs


@settings(max_examples=drawn(25))
@given(contents())
def test_what_is_written_is_read_back(value: Contents) -> None:
    raw = records_csv.write(value)
    assert records_csv.read(raw) == without_proofs(value)
    assert records_csv.write(records_csv.read(raw)) == raw


@settings(max_examples=drawn(25))
@given(contents(), DAMAGES)
def test_a_changed_byte_or_a_cut_is_refused(value: Contents, damage: tuple[float, int]) -> None:
    assert_refused(records_csv.write(value), damage)


@settings(max_examples=drawn(25))
@given(contents())
def test_the_records_are_csv_by_the_standard(value: Contents) -> None:
    """RFC 4180: CRLF, a header, as many fields in each record as there are columns."""
    text = records_csv.write(value).decode("utf-8")
    assert text.endswith("\r\n") and "\n" not in text.replace("\r\n", "")
    records = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert {len(record) for record in records} == {8}
    assert [record[0] for record in records].count("about") == 1
    assert int(records[-1][4]) == len(records) - 2


@pytest.fixture(scope="module")
def small() -> bytes:
    return records_csv.render(compiled(SCHEDULE).program, [])


def test_the_last_record_holds_the_checksum_of_all_before_it(small: bytes) -> None:
    lines = small.decode().split("\r\n")
    body = "\r\n".join(lines[:-2]) + "\r\n"
    # before it stand the line of names and the records
    assert lines[-2] == f"end,,,,{len(lines) - 3},,,{zlib.crc32(body.encode()):08x}"


def test_rows_hold_whole_numbers(small: bytes) -> None:
    records = csv.DictReader(io.StringIO(small.decode(), newline=""))
    rows = [record for record in records if record["record"] == "row"]
    assert {row["channel"] for row in rows} == {"blue"}
    assert {row["from_date"] for row in rows} == {""}
    # 12 bits over 10 V: 1 % is 40.96 codes
    assert all(int(row["converter_code"]) == round(int(row["count"]) * 40.96) for row in rows)
    assert {row["relay"] for row in rows} == {"on", "off"}


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda raw: raw[: raw.rindex(b"end,")], "its last record is not `end`"),
        (lambda raw: raw.replace(b"row,blue", b"row,blau", 1), "its checksum does not fit"),
        (lambda raw: raw + b"end,,,,0,,,00000000\r\n", "its checksum does not fit"),
    ],
)  # fmt: skip
def test_what_was_changed_is_refused_in_words(
    small: bytes, change: Callable[[bytes], bytes], why: str
) -> None:
    with pytest.raises(FileFault, match=why):
        records_csv.read(change(small))
