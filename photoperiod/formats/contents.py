"""What a table file holds, as values: what it is about, and the rows of every channel and date.

JSON, CSV and binary exports are three ways to write the same contents.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.grid import Row
from photoperiod.formats.about import About, about_of
from photoperiod.formats.row_text import certificate
from photoperiod.program.channel_day import ChannelDay, Role
from photoperiod.program.model import Program


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelRows:
    """The rows of a channel; ``role`` and ``certificate`` are None where a format leaves them out."""

    rows: tuple[Row, ...]
    role: Role | None = None
    certificate: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedRows:
    """The rows of all channels for some dates; ``to_date`` is None where a format leaves it out."""

    from_date: dt.date | None
    to_date: dt.date | None
    channels: Mapping[str, ChannelRows]


@dataclass(frozen=True, slots=True)
class Contents:
    """What a table file holds."""

    about: About
    tables: tuple[DatedRows, ...]


def contents_of(program: Program, findings: Sequence[Diagnostic]) -> Contents:
    """Return what the table files of a program hold."""
    return Contents(
        about_of(program, findings),
        tuple(
            DatedRows(
                from_date=None if table.span is None else table.span.first,
                to_date=None if table.span is None else table.span.last,
                channels={id: _rows_of(c) for id, c in table.channels.items()},
            )
            for table in program.controller_tables
        ),
    )


def _rows_of(c: ChannelDay) -> ChannelRows:
    return ChannelRows(
        rows=tuple(c.fit.rows), role=c.role, certificate=certificate(c.fit.certificate)
    )
