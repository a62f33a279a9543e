"""How files tell that they were changed. Checksums are reckoned here by the libraries alone."""

from __future__ import annotations

import hashlib
import json
import zlib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.formats.integrity import (
    FileFault,
    has_its_crc32,
    has_its_digest,
    sha256,
    with_checksum,
    with_crc32,
    with_digest,
    with_end_record,
    without_checksum,
    without_end_record,
)

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)  # fmt: skip
OBJECTS = st.dictionaries(
    st.text(max_size=5).filter(lambda key: key != "crc32"), VALUES, max_size=4
)


def test_check_values_of_the_catalogues() -> None:
    """CRC-32/ISO-HDLC of "123456789" is CBF43926; SHA-256 of "abc" is that of FIPS 180-4."""
    assert with_crc32(b"123456789")[-4:].hex() == "2639f4cb"  # lowest byte first
    assert with_end_record(b"123456789", 0).endswith(b",,,cbf43926\r\n")
    assert sha256(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


# ---- the key crc32


@given(OBJECTS)
def test_data_come_back_without_their_checksum(data: dict[str, Any]) -> None:
    raw = with_checksum(data)
    assert without_checksum(raw, json.loads(raw)) == data


def test_the_checksum_is_that_of_the_same_text_without_it() -> None:
    text = '{\n  "a": 1'
    number = zlib.crc32(f"{text}\n}}\n".encode())
    assert with_checksum({"a": 1}) == f'{text},\n  "crc32": "{number:08x}"\n}}\n'.encode()


@given(OBJECTS, st.data())
def test_a_changed_byte_of_json_is_found(data: dict[str, Any], draw: st.DataObject) -> None:
    raw = with_checksum(data)
    at, change = draw.draw(st.integers(0, len(raw) - 1)), draw.draw(st.integers(1, 255))
    changed = raw[:at] + bytes([raw[at] ^ change]) + raw[at + 1 :]
    try:
        found = json.loads(changed)
    except ValueError:
        return
    if isinstance(found, dict):
        with pytest.raises(FileFault):
            without_checksum(changed, found)


def test_json_without_a_checksum_is_cut_off() -> None:
    with pytest.raises(FileFault, match="cut off"):
        without_checksum(b"{}", {})


# ---- the key sha256


@given(OBJECTS)
def test_a_digest_is_that_of_the_other_keys_sorted(data: dict[str, Any]) -> None:
    others = {key: value for key, value in data.items() if key != "sha256"}
    text = json.dumps(others, sort_keys=True)
    whole = with_digest(data)
    assert list(whole)[-1] == "sha256"
    assert whole == others | {"sha256": hashlib.sha256(text.encode()).hexdigest()}
    assert has_its_digest(whole)
    assert has_its_digest(dict(reversed(whole.items()))), "the order of keys does not count"
    assert not has_its_digest(whole | {"more": 1})
    assert not has_its_digest(others)


# ---- the record `end`


@given(st.binary(max_size=40), st.integers(0, 10**6))
def test_a_csv_comes_back_without_its_last_record(body: bytes, records: int) -> None:
    body += b"\r\n"
    raw = with_end_record(body, records)
    assert raw == body + f"end,,,,{records},,,{zlib.crc32(body):08x}\r\n".encode()
    assert without_end_record(raw) == body


@pytest.mark.parametrize("raw", [b"", b"record\r\n", b"record\r\nend", b"end,,,,0,,,00000000\r\n"])
def test_a_csv_without_its_last_record_is_cut_off(raw: bytes) -> None:
    with pytest.raises(FileFault, match="its last record is not `end`"):
        without_end_record(raw)


# ---- four bytes


@given(st.binary(max_size=40), st.data())
def test_a_changed_byte_or_a_cut_is_found(body: bytes, draw: st.DataObject) -> None:
    raw = with_crc32(body)
    assert raw[:-4] == body
    assert has_its_crc32(raw)
    at, change = draw.draw(st.integers(0, len(raw) - 1)), draw.draw(st.integers(1, 255))
    assert not has_its_crc32(raw[:at] + bytes([raw[at] ^ change]) + raw[at + 1 :])


@pytest.mark.parametrize("raw", [b"", b"abc"])
def test_what_is_too_short_has_no_checksum(raw: bytes) -> None:
    assert not has_its_crc32(raw)
