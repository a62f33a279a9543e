"""A table that is small enough to reckon by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from photoperiod.arrays import Bools, Ints
from photoperiod.drive.grid import Row
from photoperiod.formats import table_json
from photoperiod.formats.contents import ChannelRows, Contents, DatedRows, contents_of
from photoperiod.formats.image import Image
from photoperiod.formats.table import PlayableTable, read_table
from photoperiod.player.reference import play_rows
from tests.conftest import SCHEDULE, compiled


def table(
    rows: dict[dt.date | None, list[Row]],
    change: Callable[[str], str] = lambda text: text,
    last: dt.date | None = None,
) -> PlayableTable:
    """Return a playable table of one channel, `blue`, with these rows from each date on.

    Its ballast follows the square law from 1 V, 1 % light, to 10 V, and is dark by its relay; levels
    are whole percents of 10 V from a 12-bit converter; full light gives the zone `crest` 130 µmol
    m⁻² s⁻¹.
    """
    value = contents_of(compiled(change(SCHEDULE)).program, [])
    first, *_ = rows
    about = value.about
    if first is not None:
        about = replace(about, dates=(first, last or first))
    (pattern,) = value.tables
    proof = pattern.channels["blue"]
    tables = tuple(
        DatedRows(
            from_date=date,
            to_date=date,
            channels={
                "blue": ChannelRows(
                    rows=tuple(mine), role=proof.role, certificate=proof.certificate
                )
            },
        )
        for date, mine in rows.items()
    )
    return read_table("table.json", table_json.write(Contents(about, tables)))


def play_day(image: Image, day: int) -> tuple[Ints, Bools]:
    """Return count and relay of every output for all seconds of a day, shape (channels, 86400) each.

    The same as `play` for each second, computed with arrays.
    """
    sets = image.table_on(day).sets
    played = [
        play_rows(image, channel, image.sets[index])
        for channel, index in zip(image.channels, sets, strict=True)
    ]
    return np.stack([counts for counts, _ in played]), np.stack([relays for _, relays in played])
