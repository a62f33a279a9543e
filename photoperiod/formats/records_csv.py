"""The CSV export for programs: a record `about`, one for each row, and a checksum (RFC 4180).

``table.csv`` is for people; this file is read back, and its rows hold whole numbers only.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.grid import Row
from photoperiod.formats.about import (
    about_data,
    about_of_data,
    date_of_text,
    date_text,
    json_object,
    refuse_wrong_shape,
)
from photoperiod.formats.contents import ChannelRows, Contents, DatedRows, contents_of
from photoperiod.formats.integrity import FileFault, with_end_record, without_end_record
from photoperiod.formats.row_text import RELAY_STATES, RELAY_WORDS
from photoperiod.program.model import Program

#: Records are `about`, `row` and, last, `end`.
COLUMNS = (
    "record",
    "channel",
    "from_date",
    "second",
    "count",
    "converter_code",
    "relay",
    "text",
)


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return the tables of a program as records, as ``docs/exports.md`` describes them."""
    return write(contents_of(program, findings))


def write(contents: Contents) -> bytes:
    """Return contents as the bytes of a file; last dates, roles and certificates are left out."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    told = json.dumps(about_data(contents.about), ensure_ascii=True, separators=(",", ":"))
    writer.writerow(("about", "", "", "", "", "", "", told))
    records = 1
    codes = {id: path.codes for id, path in contents.about.light_paths().items()}
    for table in contents.tables:
        date = date_text(table.from_date) or ""
        for id, channel in table.channels.items():
            for row in channel.rows:
                code, relay = int(codes[id][row.count]), RELAY_WORDS[row.relay]
                writer.writerow(("row", id, date, row.second, row.count, code, relay, ""))
                records += 1
    return with_end_record(text.getvalue().encode(), records)


def read(raw: bytes) -> Contents:
    """Return the contents of a file's bytes.

    Raises
    ------
    FileFault
        If they are no CSV export, were changed or cut off, or have another shape.
    """
    body = without_end_record(raw)
    records = list(csv.DictReader(io.StringIO(body.decode("utf-8"), newline="")))
    if with_end_record(body, len(records)) != raw:
        raise FileFault("its checksum does not fit: it was changed, damaged or cut off")
    if not records or records[0]["record"] != "about":
        raise FileFault("its first record is not `about`")
    data = json_object(records[0]["text"].encode())
    refuse_wrong_shape(data, with_rows=False)
    about = about_of_data(data)
    tables: dict[str, dict[str, list[Row]]] = {}
    for record in records[1:]:
        channels = tables.setdefault(record["from_date"], {id: [] for id in about.channels})
        row = Row(int(record["second"]), int(record["count"]), RELAY_STATES[record["relay"]])
        channels[record["channel"]].append(row)
    return Contents(
        about,
        tuple(
            DatedRows(
                from_date=date_of_text(date),
                to_date=None,
                channels={id: ChannelRows(rows=tuple(rows)) for id, rows in channels.items()},
            )
            for date, channels in tables.items()
        ),
    )
