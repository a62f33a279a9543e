"""The binary export: an image together with its description, which no player reads.

A C header or a MicroPython module holds the same image without the description.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.grid import AfterLastRow, Between, Row
from photoperiod.drive.light_path import LightPath
from photoperiod.formats.about import (
    About,
    AboutChannel,
    about_data,
    about_of_data,
    json_object,
    refuse_wrong_shape,
)
from photoperiod.formats.code_line import code_line
from photoperiod.formats.contents import Contents, contents_of
from photoperiod.formats.image import (
    ChannelImage,
    DatedTable,
    Image,
    ImageFault,
    day_number,
    decode,
    encode,
)
from photoperiod.program.model import Program


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return the tables of a program as a file that `replay`, `compare` and `run` read.

    Raises
    ------
    ImageFault
        If the tables are more, or larger, than an image can hold.
    """
    return write(contents_of(program, findings))


def write(contents: Contents) -> bytes:
    """Return contents as the bytes of a file; roles and certificates are left out."""
    about = about_data(contents.about)
    text = json.dumps(about, ensure_ascii=False, separators=(",", ":")).encode()
    return encode(replace(image_of(contents), about=text))


def read(raw: bytes) -> tuple[About, Image]:
    """Return the description and the image that a file holds.

    Raises
    ------
    FileFault
        If the bytes are no image, can't be played, or have the description of another image.
    """
    image = decode(raw)
    data = json_object(image.about)
    refuse_wrong_shape(data, with_rows=False)
    about = about_of_data(data)
    described = image_of(Contents(about, ()))
    if replace(image, sets=(), tables=(), about=b"") != described:
        raise ImageFault("its description does not match its tables")
    return about, image


def image_of(contents: Contents) -> Image:
    """Return the image of contents without its description; equal sets of rows are kept once."""
    about, controller = contents.about, contents.about.controller
    paths = about.light_paths()
    # All outputs make the same codes of counts; one that gives too many volts uses fewer of them.
    path = max(paths.values(), key=lambda each: each.top_count)
    numbers: dict[tuple[Row, ...], int] = {}
    tables = []
    for table in contents.tables:
        sets = [
            numbers.setdefault(_marked(channel.rows), len(numbers))
            for channel in table.channels.values()
        ]
        first_day = 0 if table.from_date is None else day_number(table.from_date)
        tables.append(DatedTable(first_day, tuple(sets)))
    span = None
    if about.dates is not None:
        span = day_number(about.dates[0]), day_number(about.dates[1])
    return Image(
        holds=controller.times.between == Between.HOLD,
        stays=controller.times.after_last_row == AfterLastRow.HOLD,
        relay=controller.relay.kind,
        rounding=controller.levels.rounding,
        clock=about.clock,
        every_seconds=controller.levels.every_seconds,
        top_count=path.top_count,
        full_code=controller.full_code,
        codes=code_line(path.codes.tolist(), controller.full_code, path.codes_per_count),
        soft_start_minutes=controller.soft_start_minutes,
        digest=bytes.fromhex(about.sha256),
        channels=tuple(
            _channel_image(paths[id], channel) for id, channel in about.channels.items()
        ),
        sets=tuple(numbers),
        tables=tuple(tables),
        span=span,
    )


def _marked(rows: Sequence[Row]) -> tuple[Row, ...]:
    """Return rows with a relay state in each, as an image keeps them."""
    return tuple(Row(row.second, row.count, row.relay is not False) for row in rows)


def _channel_image(path: LightPath, channel: AboutChannel) -> ChannelImage:
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
        safe_count=channel.safe_state.count,
        safe_relay=channel.safe_state.relay,
        soft_count=path.floor_count,
    )
