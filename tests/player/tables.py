"""A table that is small enough to reckon by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

from photoperiod.drive.grid import Row
from photoperiod.formats import table_json
from photoperiod.formats.contents import ChannelRows, Contents, DatedRows, contents_of
from photoperiod.formats.table import PlayableTable, read_table
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
