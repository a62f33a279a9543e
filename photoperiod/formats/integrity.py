"""How a file tells that it was changed, damaged or cut off. Each kind of file has its own way.

`table.json` ends in a key with the CRC-32 of what stands above it; a CSV export ends in a record that
counts the others and holds their CRC-32; an image ends in four bytes of CRC-32; a ledger holds the
SHA-256 of its other keys, and a manifest the SHA-256 of each file beside it. A CRC finds damage; who
changes a file on purpose can reckon either of them anew.
"""

from __future__ import annotations

import hashlib
import json
import struct
import zlib
from collections.abc import Mapping
from typing import Any

from photoperiod.text import json_text, short

#: The last key of a JSON export.
CHECKSUM_KEY = "crc32"

#: The key under which a ledger holds its digest.
DIGEST_KEY = "sha256"

#: How records of a CSV end (RFC 4180).
LINE_END = b"\r\n"

#: How the text of a JSON export ends: with its checksum, and without.
_BEFORE_CHECKSUM, _END, _AFTER_BODY = f',\n  "{CHECKSUM_KEY}": "'.encode(), b'"\n}\n', b"\n}\n"

_U32 = struct.Struct("<I")


class FileFault(ValueError):
    """The bytes of a file are not what its format demands; the text says why."""


def version_fault(version: object, reads: int) -> str:
    """Return why a file of another version can't be used, and the way out; docs/upgrades.md tells more."""
    why = f"it is of version {short(version)}, and this program reads version {reads}: "
    if isinstance(version, int) and version > reads:
        return why + "upgrade this program, or make the file with it"
    return why + "make the file anew with this program"


def sha256(content: bytes) -> str:
    """Return the SHA-256 of a file, 64 hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def _crc32_text(content: bytes) -> str:
    return f"{zlib.crc32(content):08x}"


def with_checksum(data: Mapping[str, Any]) -> bytes:
    """Return JSON whose last key is the CRC-32 of the same JSON without it."""
    body = json_text(data).encode()
    if CHECKSUM_KEY in data or not body.endswith(_AFTER_BODY):
        return json_text({**data, CHECKSUM_KEY: _crc32_text(body)}).encode()
    number = _crc32_text(body).encode()
    return body.removesuffix(_AFTER_BODY) + _BEFORE_CHECKSUM + number + _END


def without_checksum(raw: bytes, data: Mapping[str, Any]) -> dict[str, Any]:
    """Return the data of a JSON file without its checksum.

    Raises
    ------
    FileFault
        If the bytes are not those that `with_checksum` makes of the data.
    """
    if CHECKSUM_KEY not in data:
        raise FileFault("it has no checksum: it is cut off, or of an earlier version")
    held = {key: value for key, value in data.items() if key != CHECKSUM_KEY}
    start = raw.rfind(_BEFORE_CHECKSUM)
    if start < 0:  # nothing but a checksum, or another layout
        fits = with_checksum(held) == raw
    else:
        number = _crc32_text(raw[:start] + _AFTER_BODY).encode()
        fits = raw[start:] == _BEFORE_CHECKSUM + number + _END
    if not fits:
        raise FileFault("its checksum does not fit: it was changed, damaged or laid out anew")
    return held


def with_digest(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return data with the SHA-256 of its other keys, sorted, as the last key."""
    held = {key: value for key, value in data.items() if key != DIGEST_KEY}
    return held | {DIGEST_KEY: sha256(json.dumps(held, sort_keys=True).encode())}


def has_its_digest(data: Mapping[str, Any]) -> bool:
    """Return whether the digest in some data is that of its other keys."""
    return bool(with_digest(data)[DIGEST_KEY] == data.get(DIGEST_KEY))


def with_end_record(body: bytes, records: int) -> bytes:
    """Return a CSV with its last record: how many records came before, and the CRC-32 of the bytes.

    ``body`` holds the line of column names and the records.
    """
    return body + f"end,,,,{records},,,{_crc32_text(body)}".encode() + LINE_END


def without_end_record(raw: bytes) -> bytes:
    """Return a CSV up to its last record, which the caller holds against `with_end_record`.

    Raises
    ------
    FileFault
        If the last record is not there.
    """
    start = raw.rfind(LINE_END + b"end,") + len(LINE_END)
    if start < len(LINE_END):
        raise FileFault("it is cut off: its last record is not `end`")
    return raw[:start]


def with_crc32(body: bytes) -> bytes:
    """Return bytes with their CRC-32 after them, four bytes, lowest first."""
    return body + _U32.pack(zlib.crc32(body))


def has_its_crc32(raw: bytes) -> bool:
    """Return whether the last four bytes are the CRC-32 of those before them."""
    return with_crc32(raw[:-4]) == raw
