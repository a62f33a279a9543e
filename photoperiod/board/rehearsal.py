"""A day of a table in fast motion: what the outputs would get, as lines of text. No device is touched."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from photoperiod.board.devices.base import Setting
from photoperiod.formats.image import day_number
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import output_state
from photoperiod.player.reference import Output, Status, play
from photoperiod.text import clock_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE


def rehearse(
    table: PlayableTable, date: dt.date, second: int, look_s: int
) -> Iterator[tuple[int, list[str]]]:
    """Yield what changes within a day from a moment on, as if the board started then.

    A relay that switches is told at its second, a level at each look. Lamps begin at the floor, as after
    every start; a line of an output that this soft start holds down ends with ``soft``.

    Parameters
    ----------
    table : PlayableTable
        What is played.
    date, second : date, int
        Where it begins, on the controller's clock; the second counts from midnight.
    look_s : int
        Time from one look to the next. [s of the table]

    Yields
    ------
    int
        How long after the beginning. [s of the table]
    list of str
        A line for each output that has changed; none if nothing has.
    """
    told: dict[str, Output] = {}
    for elapsed_s in range(SECONDS_PER_DAY):
        days, now = divmod(second + elapsed_s, SECONDS_PER_DAY)
        today = date + dt.timedelta(days=days)
        is_look = elapsed_s % look_s == 0
        _, outputs = _played(table, today, now, elapsed_s)
        lines = []
        planned = outputs
        if elapsed_s < table.image.soft_start_minutes * SECONDS_PER_MINUTE:
            _, planned = _played(table, today, now, None)
        for (id, path), output, plan in zip(table.paths.items(), outputs, planned, strict=True):
            before = told.get(id)
            if output == before or not (is_look or before is None or output.relay != before.relay):
                continue
            told[id] = output
            state = output_state(path, output.count, output.code, output.relay)
            line = Setting(id, _when(table, today, now), state).as_line()
            lines.append(line if output == plan else f"{line} soft")
        if lines or is_look:
            yield elapsed_s, lines


def status_at(table: PlayableTable, date: dt.date, second: int) -> Status:
    """Return what is not as planned at the beginning: early, expired, and whether it begins softly."""
    status, planned = _played(table, date, second, None)
    _, softly = _played(table, date, second, 0)
    return (
        status if softly == planned else status | Status.SOFT
    )  # behind an open relay nothing is held


def _played(
    table: PlayableTable, date: dt.date, second: int, since_start_s: int | None
) -> tuple[Status, tuple[Output, ...]]:
    day = day_number(date) if table.image.span is not None else 0
    return play(table.image, day, second, since_start_s=since_start_s)


def _when(table: PlayableTable, date: dt.date, second: int) -> str:
    time = clock_text(second, with_seconds=True)
    return time if table.image.span is None else f"{date}T{time}"
