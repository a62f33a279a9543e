"""What `compile` and `export` wrote, read back: the image to play, and the light path beside it.

A file is taken at its word only if its checksum fits. Nothing here knows the schedule it came from.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np

from photoperiod.drive.ballast import BallastCurve
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, RelayMode, Row
from photoperiod.drive.light_path import LightPath
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.image import MAGIC as IMAGE_MAGIC
from photoperiod.formats.image import (
    ChannelImage,
    DatedTable,
    Image,
    ImageFault,
    code_line,
    day_number,
    decode,
    encode,
)
from photoperiod.sky.clock import Clock
from photoperiod.source.json_schema import validate
from photoperiod.text import json_text, short

#: The key under which a JSON export carries its checksum, last of all.
CHECKSUM_KEY = "crc32"

#: Columns of a CSV export. Records are `about`, `row` and, last, `end`.
CSV_COLUMNS = (
    "record",
    "channel",
    "from_date",
    "second",
    "count",
    "converter_code",
    "relay",
    "text",
)

LINE_END = b"\r\n"

#: No export is larger; more is not read. [bytes]
MAX_BYTES = 256 * 2**20

#: A table's rows by channel, and from which date it holds.
Rows = tuple[dt.date | None, Mapping[str, Sequence[Row]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayableTable:
    """A table that was read back.

    Parameters
    ----------
    about : mapping
        All but the rows, as ``table.json`` has it.
    image : Image
        What is played.
    paths : mapping of channel to LightPath
        From counts to light.
    """

    about: Mapping[str, Any]
    image: Image
    paths: Mapping[str, LightPath]

    @property
    def channels(self) -> tuple[str, ...]:
        """The ids of the channels, in the order of the image."""
        return tuple(self.paths)

    def full_ppfd(self, zone: str) -> dict[str, float]:
        """Return what each channel that lights a zone gives it alone at full. [µmol m⁻² s⁻¹]"""
        return {
            id: channel["full_ppfd"][zone]
            for id, channel in self.about["channels"].items()
            if channel["full_ppfd"].get(zone)
        }

    def clock(self, time_zone: str | None = None) -> Clock:
        """Return the controller's clock; ``time_zone`` stands in where the export names none.

        Raises
        ------
        ValueError
            If there is no zone, or no such one.
        """
        kind = self.about["clock"]
        if kind == "utc":
            return Clock.utc()
        zone = self.about["time_zone"] or time_zone
        if zone is None:
            raise ValueError(f"the table is on {kind} time of a zone it does not name")
        return Clock(kind, zone)


def light_paths(about: Mapping[str, Any]) -> dict[str, LightPath]:
    """Return the light path of every channel."""
    controller = about["controller"]
    emits, converter = controller["emits"], controller["converter"]
    levels = LevelGrid(
        unit=emits["unit"],
        step=Fraction(str(emits["step"])),
        every_seconds=emits["every_seconds"],
        rounding=emits["rounding"],
    )
    relay = RelayMode(
        kind=controller["relay"]["kind"],
        on_level_percent=controller["relay"].get("on_level_percent", 0.0),
    )
    made = Converter(
        kind=converter["kind"],
        bits=converter["bits"],
        offset_volts=converter["offset_volts"],
        volts_per_code=converter["volts_per_code"],
        most_volts=converter["most_volts"],
    )
    return {
        id: LightPath(
            levels=levels, converter=made, relay=relay, ballast=_ballast(channel["ballast"])
        )
        for id, channel in about["channels"].items()
    }


def _ballast(data: Mapping[str, Any]) -> BallastCurve:
    points = data.get("points", ())
    return BallastCurve(
        kind=data["response"],
        floor_volts=data["floor_volts"],
        floor_light=data["floor_light_percent"] / 100,
        full_volts=data["full_volts"],
        dark=data["dark"],
        standby_volts=data.get("standby_below_volts", 0.0),
        volts=tuple(point["volts"] for point in points),
        light=tuple(point["light_percent"] / 100 for point in points),
    )


def image_of(
    about: Mapping[str, Any],
    paths: Mapping[str, LightPath],
    tables: Sequence[Rows],
    *,
    with_about: bool,
) -> Image:
    """Return the image of tables, the same for the same rows however often they come.

    ``with_about`` puts what is known of them into the image, for files that people keep.
    """
    controller = about["controller"]
    path = next(iter(paths.values()))
    numbers: dict[tuple[Row, ...], int] = {}
    dated = []
    for from_date, channels in tables:
        sets = [
            numbers.setdefault(tuple(rows), len(numbers))
            for rows in map(_marked, channels.values())
        ]
        dated.append(DatedTable(0 if from_date is None else day_number(from_date), tuple(sets)))
    span = None
    if about["from_date"] is not None:
        first, last = (dt.date.fromisoformat(about[key]) for key in ("from_date", "to_date"))
        span = day_number(first), day_number(last)
    full_code = controller["converter"]["full_code"]
    return Image(
        holds=controller["between"] == "hold",
        stays=controller["after_last_row"] == "hold",
        relay=controller["relay"]["kind"],
        rounding=controller["emits"]["rounding"],
        clock=about["clock"],
        every_seconds=controller["emits"]["every_seconds"],
        top_count=path.top_count,
        full_code=full_code,
        codes=code_line(path.codes.tolist(), full_code, path.codes_per_count),
        soft_start_minutes=controller["soft_start_minutes"],
        digest=bytes.fromhex(about["schedule"]["sha256"]),
        channels=tuple(
            _channel_image(paths[id], channel["safe_state"])
            for id, channel in about["channels"].items()
        ),
        sets=tuple(numbers),
        tables=tuple(dated),
        span=span,
        about=json.dumps(about, ensure_ascii=False, separators=(",", ":")).encode()
        if with_about
        else b"",
    )


def _marked(rows: Sequence[Row]) -> tuple[Row, ...]:
    """Return rows with a relay state in each, as an image keeps them."""
    return tuple(Row(row.second, row.count, row.relay is not False) for row in rows)


def _channel_image(path: LightPath, safe_state: Mapping[str, Any]) -> ChannelImage:
    undefined = np.flatnonzero(path.is_undefined)
    band = (0, 0)
    if undefined.size and undefined[-1] < path.top_count:
        band = int(undefined[0]), int(undefined[-1]) + 1
    on_count = 0
    if path.is_switched_by_level:
        closed = np.flatnonzero(path.follows_on)
        on_count = int(closed[0]) if closed.size else path.top_count + 1
    return ChannelImage(
        snap_from=band[0],
        snap_to=band[1],
        on_count=on_count,
        safe_count=safe_state["count"],
        safe_relay=safe_state["relay"] != "off",
        soft_count=path.floor_count,
    )


def with_checksum(data: Mapping[str, Any]) -> bytes:
    """Return JSON whose last key is the checksum of the same JSON without it."""
    number = zlib.crc32(json_text(data).encode())
    return json_text({**data, CHECKSUM_KEY: f"{number:08x}"}).encode()


def about_bytes(raw: bytes) -> int:
    """Return how many bytes of a binary export are text that no player reads."""
    return len(decode(raw).about)


def csv_end(body: bytes, records: int) -> bytes:
    """Return the last record of a CSV export: how many came before, and their checksum."""
    return f"end,,,,{records},,,{zlib.crc32(body):08x}".encode() + LINE_END


def read_table(name: str, raw: bytes) -> PlayableTable:
    """Return the table that a JSON, CSV or binary export holds.

    Parameters
    ----------
    name : str
        What to call it in messages.
    raw : bytes
        The whole file.

    Raises
    ------
    OutsideWorldError
        PHO505 if it is none, was changed or cut off, or is of another version.
    """
    try:
        if len(raw) > MAX_BYTES:
            raise ImageFault(f"it is larger than {MAX_BYTES:,} bytes")
        if raw.startswith(IMAGE_MAGIC):
            return _from_image(raw)
        if raw.lstrip()[:1] == b"{":
            return _from_json(raw)
        if raw.startswith(CSV_COLUMNS[0].encode()):
            return _from_csv(raw)
        if re.search(rb"^schedule:", raw[:4096], re.MULTILINE):
            raise ImageFault("it is a schedule; `photoperiod export` makes a table of it")
        raise ImageFault("it is no JSON, CSV or binary export of a table")
    except Exception as fault:  # a player must refuse whatever a file may hold, not end by it
        why = fault if isinstance(fault, ImageFault) else "it holds what no table holds"
        raise OutsideWorldError(
            "PHO505",
            f"can't use '{short(name)}' as a table: {why}",
            "nothing of it was used; copy it again from where it was made, or make it anew with"
            " `photoperiod export`",
        ) from fault


def _from_image(raw: bytes) -> PlayableTable:
    image = decode(raw)
    about = _checked(_json(image.about))
    paths = light_paths(about)
    told = image_of(about, paths, (), with_about=False)
    if replace(image, sets=(), tables=(), about=b"") != told:
        raise ImageFault("what it tells of itself is not what it holds")
    return PlayableTable(about=about, image=image, paths=paths)


def _from_json(raw: bytes) -> PlayableTable:
    data = _json(raw)
    if data.get("format") != "photoperiod-table":
        raise ImageFault("it is not the `table.json` of a compiled schedule")
    told = data.pop(CHECKSUM_KEY, None)
    if told is None:
        raise ImageFault("it has no checksum: it is cut off, or of an earlier version")
    if with_checksum(data) != raw:
        raise ImageFault("its checksum does not fit: it was changed, damaged or laid out anew")
    _checked(data, with_rows=True)
    about = {key: value for key, value in data.items() if key != "tables"}
    tables = [
        (
            None if table["from_date"] is None else dt.date.fromisoformat(table["from_date"]),
            {
                id: [Row(r["second"], r["count"], r["relay"] != "off") for r in channel["rows"]]
                for id, channel in table["channels"].items()
            },
        )
        for table in data["tables"]
    ]
    return _playable(about, tables)


def _from_csv(raw: bytes) -> PlayableTable:
    start = raw.rfind(LINE_END + b"end,") + len(LINE_END)
    body = raw[:start]
    if start < len(LINE_END):
        raise ImageFault("it is cut off: its last record is not `end`")
    records = list(csv.DictReader(io.StringIO(body.decode("utf-8"), newline="")))
    if raw[start:] != csv_end(body, len(records)):
        raise ImageFault("its checksum does not fit: it was changed, damaged or cut off")
    if not records or records[0]["record"] != "about":
        raise ImageFault("it does not say what it is about")
    about = _checked(_json(records[0]["text"].encode()))
    tables: dict[str, dict[str, list[Row]]] = {}
    for record in records[1:]:
        channels = tables.setdefault(record["from_date"], {id: [] for id in about["channels"]})
        row = Row(int(record["second"]), int(record["count"]), record["relay"] != "off")
        channels[record["channel"]].append(row)
    return _playable(
        about,
        [
            (dt.date.fromisoformat(date) if date else None, channels)
            for date, channels in tables.items()
        ],
    )


def _playable(about: Mapping[str, Any], tables: Sequence[Rows]) -> PlayableTable:
    paths = light_paths(about)
    image = decode(encode(image_of(about, paths, tables, with_about=False)))  # a check of it all
    return PlayableTable(about=about, image=image, paths=paths)


def _json(raw: bytes) -> dict[str, Any]:
    try:
        data = json.loads(raw)
    except ValueError as error:
        raise ImageFault(f"it is not JSON: {error}") from error
    if not isinstance(data, dict):
        raise ImageFault("it holds no table")
    return data


def _checked(data: dict[str, Any], *, with_rows: bool = False) -> dict[str, Any]:
    """Return data that has the shape of a table, or of one without its rows."""
    if data.get("version") != 1:
        raise ImageFault(f"it is of version {data.get('version')!r}; this program reads version 1")
    whole = {**data, CHECKSUM_KEY: "00000000"} | ({} if with_rows else {"tables": []})
    faults, _ = validate(whole, "table")
    for fault in faults:
        if with_rows or fault.path[:1] != ("tables",):
            raise ImageFault(f"it has another shape than a table: {fault.message}")
    return data
