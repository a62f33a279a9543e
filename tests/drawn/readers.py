"""Readers of what `compile` and `export` write: json, csv, struct, regular expressions, none of our code.

Each returns the rows as `{first date or None: {channel: [PlainRow, …]}}`, with None where a format does not
tell a value. They take a file apart as its description in docs/ says, and refuse what does not fit.
"""

from __future__ import annotations

import ast
import csv
import datetime as dt
import hashlib
import io
import json
import re
import struct
import zlib
from collections.abc import Mapping
from typing import Any, NamedTuple

from tests.oracle.second_player import SecondPlayer


class PlainRow(NamedTuple):
    """A row as a file tells it; relay is `on`, `off`, or empty."""

    second: int
    count: int | None
    relay: str
    code: int | None = None
    level_percent: float | None = None
    volts: float | None = None


Tables = dict[str | None, dict[str, list[PlainRow]]]


def second_of(text: str) -> int:
    """Return the second of a time of day, `HH:MM` or `HH:MM:SS`."""
    assert re.fullmatch(r"[0-2][0-9]:[0-5][0-9](:[0-5][0-9])?", text), f"{text!r} is no time of day"
    parts = [*map(int, text.split(":")), 0][:3]
    return parts[0] * 3600 + parts[1] * 60 + parts[2]


def table_json(raw: bytes) -> tuple[dict[str, Any], Tables]:
    """Return a `table.json` as data, and its rows; the checksum is of all bytes but its own line."""
    data = json.loads(raw)
    found = re.search(rb',\n  "crc32": "([0-9a-f]{8})"\n}\n\Z', raw)
    assert found, "the checksum does not stand at the end"
    assert zlib.crc32(raw[: found.start()] + b"\n}\n") == int(found[1], 16), (
        "the checksum does not fit"
    )
    tables: Tables = {}
    for table in data["tables"]:
        tables[table["from_date"]] = {
            id: [
                PlainRow(
                    second=row["second"],
                    count=row["count"],
                    relay=row["relay"] or "",
                    code=row["converter_code"],
                    level_percent=row["level_percent"],
                    volts=row["volts"],
                )
                for row in channel["rows"]
                if _must(second_of(row["time"]) == row["second"], "time and second differ")
            ]
            for id, channel in table["channels"].items()
        }
    return data, tables


def table_csv(raw: bytes) -> Tables:
    """Return the rows of a `table.csv`, which is for people: it has no counts."""
    tables: Tables = {}
    for row in csv.DictReader(io.StringIO(raw.decode(), newline="")):
        table = tables.setdefault(row["from_date"] or None, {})
        table.setdefault(row["channel"], []).append(
            PlainRow(
                second=second_of(row["time"]),
                count=None,
                relay=row["relay"],
                code=int(row["converter_code"]),
                level_percent=float(row["level_percent"]),
                volts=float(row["volts"]),
            )
        )
    return tables


def records_csv(raw: bytes) -> tuple[dict[str, Any], Tables]:
    """Return what the exported CSV is about, and its rows."""
    lines = raw.split(b"\r\n")
    assert lines[-1] == b"", "it does not end with a line end"
    records = list(csv.DictReader(io.StringIO(raw.decode(), newline="")))
    end = records.pop()
    body = raw[: len(raw) - len(lines[-2]) - 2]
    assert (end["record"], int(end["count"])) == ("end", len(records)), "the end does not fit"
    assert int(end["text"], 16) == zlib.crc32(body), "the checksum does not fit"
    about, tables = json.loads(records[0]["text"]), {}
    for record in records[1:]:
        assert record["record"] == "row"
        table = tables.setdefault(record["from_date"] or None, {})
        table.setdefault(record["channel"], []).append(
            PlainRow(
                int(record["second"]),
                int(record["count"]),
                record["relay"],
                int(record["converter_code"]),
            )
        )
    return about, tables


def image(raw: bytes, channels: list[str]) -> tuple[dict[str, Any], SecondPlayer, Tables]:
    """Return the text of an image, a player of it that was written from docs/player.md, and its rows."""
    player = SecondPlayer(raw)
    outputs, top, tables_count, sets_count, shift = (
        header_of(raw)[at] for at in (6, 8, 13, 14, 15)
    )
    rows_count = sum(len(rows) for rows in player.sets)
    start = 72 + 12 * outputs + tables_count * (2 + 2 * outputs) + 6 * sets_count + 5 * rows_count
    start += 2 * (top + 1) if shift == 255 else 0
    (length,) = struct.unpack_from("<I", raw, start)
    about = json.loads(raw[start + 4 : start + 4 + length]) if length else {}
    tables: Tables = {}
    for first_day, *sets in player.tables:
        date = (dt.date(2000, 1, 1) + dt.timedelta(first_day)).isoformat() if player.dates else None
        assert len(sets) == len(channels), "other outputs than channels"
        tables[date] = {
            id: [
                PlainRow(
                    row.second, row.count, "on" if row.closed else "off", player._code(row.count)
                )
                for row in player.sets[number]
            ]
            for id, number in zip(channels, sets, strict=True)
        }
    return about, player, tables


def c_header(raw: bytes) -> tuple[bytes, list[str]]:
    """Return the image of a C header, as a compiler would see it, and the channels that it names."""
    text = raw.decode()
    told = re.search(r"^#define PHOTOPERIOD_CHANNELS (.*)$", text, re.M)
    length = re.search(r"^#define PHOTOPERIOD_IMAGE_LENGTH (\d+)ul$", text, re.M)
    array = re.search(
        r"^static const uint8_t photoperiod_image\[\] PHOTOPERIOD_KEPT = \{(.*?)^\};",
        text,
        re.M | re.S,
    )
    assert told and length and array, "the header lacks a part"
    body = re.sub(r"/\*.*?\*/", " ", array[1], flags=re.S)
    found = bytes(int(byte, 16) for byte in re.findall(r"0x([0-9A-F]{2}),", body))
    assert not re.sub(r"0x[0-9A-F]{2},|\s", "", body), "something else stands among the bytes"
    assert len(found) == int(length[1]), "the length does not fit"
    channels = re.findall(r'"([^"]*)"', told[1])
    for at, id in enumerate(channels):
        name = id.upper().replace("-", "_")
        assert re.search(rf"^#define PHOTOPERIOD_CHANNEL_{name} {at} ", text, re.M), (
            f"no name of {id}"
        )
    return found, channels


def micropython(raw: bytes) -> tuple[bytes, list[str]]:
    """Return the image of a MicroPython module, and the channels that it names."""
    names: dict[str, Any] = {}
    for node in ast.parse(raw.decode()).body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            name, value = node.targets[0].id, node.value
            if name == "IMAGE":
                assert isinstance(value, ast.Call)
                names[name] = b"".join(ast.literal_eval(value.args[0]))
            elif name == "CHANNELS" or name.startswith("CHANNEL_"):
                names[name] = ast.literal_eval(value)
    channels = list(names["CHANNELS"])
    for at, id in enumerate(channels):
        assert names["CHANNEL_" + id.upper().replace("-", "_")] == at, f"another number of {id}"
    return names["IMAGE"], channels


SHEET_CHANNEL = re.compile(r"Channel ([a-z][a-z0-9-]*)(?: \(.*\))?: (\d+) of (\d+) rows")
SHEET_ROW = re.compile(
    r" +(\d+)  ([0-9:]{5,8}) +(-?[0-9.]+) %  +([0-9.]+)(?:   (on|off) *)?(?:   \[   \])?"
)
SHEET_TABLE = re.compile(r"TABLE FROM (\S+) TO (\S+)")


def typing_sheet(raw: bytes) -> list[tuple[str | None, dict[str, list[PlainRow]], int]]:
    """Return the tables of a typing sheet: first date if it stands there, rows by channel, rows held."""
    found: list[tuple[str | None, dict[str, list[PlainRow]], int]] = []
    rows: list[PlainRow] = []
    date: str | None = None
    count = 0
    for line in raw.decode().split("\n"):
        if table := SHEET_TABLE.fullmatch(line):
            date = table[1]
        elif head := SHEET_CHANNEL.fullmatch(line):
            assert len(rows) == count, "a channel has another number of rows than it says"
            if not found or head[1] in found[-1][1]:
                found.append((date, {}, int(head[3])))
            rows, count = found[-1][1].setdefault(head[1], []), int(head[2])
        elif len(rows) < count and (row := SHEET_ROW.fullmatch(line)):
            assert int(row[1]) == len(rows) + 1, "a row number is left out"
            rows.append(
                PlainRow(second_of(row[2]), None, row[5] or "", None, float(row[3]), float(row[4]))
            )
    assert len(rows) == count, "a channel has another number of rows than it says"
    return found


def manifest(raw: bytes, files: Mapping[str, bytes]) -> None:
    """Assert that a manifest lists some files as they are, and no other ones."""
    data = json.loads(raw)
    assert data["format"] == "photoperiod-manifest"
    assert data["files"] == {
        name: {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in files.items()
    }, "the manifest tells of other files"


def calendar(raw: bytes) -> list[dict[str, str]]:
    """Return the events of a calendar, unfolded as RFC 5545 says; parameters of names are left out."""
    text = raw.decode()
    assert text.startswith("BEGIN:VCALENDAR\r\n") and text.endswith("END:VCALENDAR\r\n")
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n")), "a line is too long"
    events: list[dict[str, str]] = []
    inner = 0
    for line in re.sub(r"\r\n[ \t]", "", text).split("\r\n")[:-1]:
        name, _, value = line.partition(":")
        if line == "BEGIN:VEVENT":
            events.append({})
        elif name in ("BEGIN", "END"):
            inner += (value == "VALARM") * (1 if name == "BEGIN" else -1)
        elif events and not inner:
            events[-1].setdefault(name.split(";")[0], value)
    return events


def ledger(raw: bytes) -> dict[str, Any]:
    """Return a ledger as data."""
    data: dict[str, Any] = json.loads(raw)
    assert data["format"] == "photoperiod-ledger"
    return data


def header_of(raw: bytes) -> tuple[Any, ...]:
    """Return the first 40 bytes of an image as numbers (docs/player.md, *The image*)."""
    return struct.unpack_from("<4sBBBBBBHHHHHHHHBBiiI", raw, 0)


def _must(true: bool, what: str) -> bool:
    assert true, what
    return True
