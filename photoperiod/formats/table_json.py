"""``table.json``: the rows together with the light path, so that a replay needs nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.grid import Row
from photoperiod.drive.light_path import LightPath
from photoperiod.formats.about import (
    FORMAT,
    about_data,
    about_of_data,
    date_of_text,
    date_text,
    json_object,
    refuse_wrong_shape,
)
from photoperiod.formats.contents import ChannelRows, Contents, DatedRows, contents_of
from photoperiod.formats.integrity import FileFault, with_checksum, without_checksum
from photoperiod.formats.row_text import RELAY_STATES, setpoint_text
from photoperiod.program.channel_day import Role
from photoperiod.program.model import Program

FILE_NAME = "table.json"


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return the tables of a program as JSON, as ``schemas/table.schema.json`` describes it."""
    return write(contents_of(program, findings))


def write(contents: Contents) -> bytes:
    """Return contents as the bytes of a file."""
    paths, step_s = contents.about.light_paths(), contents.about.controller.times.step_s
    tables = [
        {
            "from_date": date_text(table.from_date),
            "to_date": date_text(table.to_date),
            "channels": {
                id: _channel_data(channel, paths[id], step_s)
                for id, channel in table.channels.items()
            },
        }
        for table in contents.tables
    ]
    return with_checksum(about_data(contents.about) | {"tables": tables})


def read(raw: bytes) -> Contents:
    """Return the contents of a file's bytes.

    Raises
    ------
    FileFault
        If they are no `table.json`, were changed or cut off, or have another shape.
    """
    data = json_object(raw)
    if data.get("format") != FORMAT:
        raise FileFault("it is not the `table.json` of a compiled schedule")
    data = without_checksum(raw, data)
    refuse_wrong_shape(data, with_rows=True)
    return Contents(
        about_of_data(data),
        tuple(
            DatedRows(
                from_date=date_of_text(table["from_date"]),
                to_date=date_of_text(table["to_date"]),
                channels={
                    id: _channel_of_data(channel) for id, channel in table["channels"].items()
                },
            )
            for table in data["tables"]
        ),
    )


def _channel_data(channel: ChannelRows, path: LightPath, step_s: int) -> dict[str, Any]:
    texts = [setpoint_text(row, path, step_s) for row in channel.rows]
    return {
        "role": channel.role,
        "certificate": channel.certificate,
        "rows": [
            {
                "time": row.time,
                "second": row.second,
                "count": row.count,
                "level_percent": row.level_percent,
                "volts": row.volts,
                "converter_code": row.converter_code,
                "relay": row.relay or None,
            }
            for row in texts
        ],
    }


def _channel_of_data(data: Mapping[str, Any]) -> ChannelRows:
    """Return a channel's rows; time, level, volts and code follow from second and count."""
    return ChannelRows(
        rows=tuple(
            Row(row["second"], row["count"], RELAY_STATES[row["relay"] or ""])
            for row in data["rows"]
        ),
        role=Role(data["role"]),
        certificate=data["certificate"],
    )
