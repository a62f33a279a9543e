"""What a keeper does at a load: which channels are new, and which tubes to fit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.program.model import ControllerTable, Program, Table
from photoperiod.text import and_list


@dataclass(frozen=True, slots=True)
class Fitting:
    """Tubes that are fitted at the same moment, by id in the order of the file."""

    at: dt.datetime
    tubes: tuple[str, ...]

    @property
    def words(self) -> str:
        """What to do, as an order: it names tubes, date and time."""
        when = f"on {self.at:%Y-%m-%d} before {self.at:%H:%M}"
        if self.at.time() == dt.time():
            when = f"before the first light of {self.at:%Y-%m-%d}"
        return f"fit {and_list(self.tubes)} {when}"


def fittings(program: Program, load: Sequence[ControllerTable]) -> list[Fitting]:
    """Return which tubes are fitted on the dates of a load, in the order of time."""
    first, last = load[0].span, load[-1].span
    if first is None or last is None:
        return []
    found: dict[dt.datetime, list[str]] = {}
    for channel in program.schedule.channels.values():
        for tube in channel.tubes:
            if tube.fitted is not None and first.first <= tube.fitted.date() <= last.last:
                found.setdefault(tube.fitted, []).append(tube.id)
    return [Fitting(at, tuple(tubes)) for at, tubes in sorted(found.items())]


def changed_channels(
    table: Table | ControllerTable, before: Table | ControllerTable
) -> tuple[str, ...]:
    """Return the channels whose rows are not those of the table before, in the order of the file."""
    return tuple(
        id for id, c in table.channels.items() if c.fit.rows != before.channels[id].fit.rows
    )
