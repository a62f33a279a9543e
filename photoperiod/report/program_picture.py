"""The days of a program as a small picture: what its finished tables give."""

from __future__ import annotations

from collections.abc import Sequence

from photoperiod.program.loads import changed_channels
from photoperiod.program.model import Program, Table
from photoperiod.report.day_picture import LEGEND, PicturedChannel, day_picture

#: If there are more tables, only the first is drawn.
MOST_DRAWN = 6


def program_picture(program: Program, room: int) -> list[str]:
    """Return the first day of a program, and of each later table the channels that it changes.

    The lines are empty where a line of ``room`` columns is too narrow. Hours are those of the
    controller's clock.
    """
    tables = program.tables if len(program.tables) <= MOST_DRAWN else program.tables[:1]
    first = tables[0]
    lines = day_picture(_drawn(first, list(first.channels)), room)
    if not lines:
        return []
    span = program.span
    what = "THE DAY" if span is None else f"THE DAY OF {span.first}"
    lines = [f"{what}, on the controller's clock ({program.schedule.controller.clock})", *lines]
    names = max(map(len, first.channels))
    before = first
    for table in tables[1:]:
        changed = changed_channels(table, before)
        if changed and table.span is not None:
            lines.append(f"from {table.span.first}")
            lines += day_picture(_drawn(table, changed, names), room, ruler=False)
        before = table
    return [*lines, *LEGEND]


def _drawn(table: Table, ids: Sequence[str], name_width: int = 0) -> list[PicturedChannel]:
    return [
        PicturedChannel(
            name=id.ljust(name_width),
            light=c.replay.light,
            floor_light=c.channel.ballast.curve.floor_light,
            row_seconds=tuple(row.second for row in c.fit.rows),
        )
        for id, c in table.channels.items()
        if id in ids
    ]
