"""What a keeper does at a load: which channels are new, and which tubes to fit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools
from photoperiod.program.model import ControllerTable, Program, Table
from photoperiod.text import and_list, clock_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE


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


@dataclass(frozen=True, slots=True)
class LoadWindow:
    """When to load a table, on the controller's clock, and the same in words."""

    begin: dt.datetime
    end: dt.datetime
    words: str


def load_by(table: ControllerTable, before: ControllerTable | None) -> str:
    """Return when to load a table, in words; parameters are those of `load_window`."""
    window = load_window(table, before)
    return "once" if window is None else window.words


def load_window(table: ControllerTable, before: ControllerTable | None) -> LoadWindow | None:
    """Return when to load a table: in hours in which nothing that it changes is lit. None without dates.

    ``before`` is the table that it follows; None if what the controller held before is not known: then
    all channels change. Light that goes on past midnight belongs to the date before, so it may end first.
    Midnight itself is told only where no such hours are left before the table's own light.
    """
    if table.span is None:
        return None
    date = table.span.first
    midnight = dt.datetime.combine(date, dt.time())
    at_midnight = LoadWindow(midnight, midnight, f"on {date}, as it begins, at midnight")
    ids = table.channels if before is None else changed_channels(table, before)
    lit = [_lit(table, id) | (_lit(before, id) if before else False) for id in ids]
    goes_on = [bool(each[0] and each[-1]) for each in lit]  # past midnight
    until = _earlier(min(map(_light_from, lit), default=SECONDS_PER_DAY))
    if not any(goes_on):
        if before is None:
            words = f"on {date}, before its first light"
            return LoadWindow(midnight, midnight + dt.timedelta(seconds=until), words)
        after = _later(max(map(_last_light, lit), default=0))
        end = midnight + dt.timedelta(seconds=until)
        if after == SECONDS_PER_DAY:
            words = f"on {date} before {clock_text(until)}"
            return LoadWindow(midnight, end, words) if until else at_midnight
        if date == dt.date.min:
            return LoadWindow(midnight, end, f"on {date} before {clock_text(until)}")
        day_before = date - dt.timedelta(days=1)
        words = f"between {day_before} {clock_text(after)} and {date} {clock_text(until)}"
        begin = midnight - dt.timedelta(seconds=SECONDS_PER_DAY - after)
        return LoadWindow(begin, end, words)
    dark = [_dark_from(each) if late else 0 for each, late in zip(lit, goes_on, strict=True)]
    after = _later(max(dark))
    until = _earlier(min(_light_from(each, at) for each, at in zip(lit, dark, strict=True)))
    if after >= until:
        return at_midnight
    begin, end = (midnight + dt.timedelta(seconds=second) for second in (after, until))
    return LoadWindow(begin, end, f"on {date} between {clock_text(after)} and {clock_text(until)}")


def _lit(table: ControllerTable, id: str) -> Bools:
    return table.channels[id].fit.replay.lit


def _light_from(lit: Bools, begin: int = 0) -> int:
    """Return the first lit second from one on; the end of the day if there is none."""
    found = np.flatnonzero(lit[begin:])
    return begin + int(found[0]) if found.size else SECONDS_PER_DAY


def _dark_from(lit: Bools) -> int:
    """Return the first dark second; the end of the day if there is none."""
    return _light_from(~lit)


def _last_light(lit: Bools) -> int:
    """Return when the last light of a day ends; 0 if there is none."""
    return SECONDS_PER_DAY - _light_from(lit[::-1])


def _later(second: int) -> int:
    """Return the whole minute that is not before a second. [s]"""
    return -(-second // SECONDS_PER_MINUTE) * SECONDS_PER_MINUTE


def _earlier(second: int) -> int:
    """Return the whole minute that is not after a second. [s]"""
    return second // SECONDS_PER_MINUTE * SECONDS_PER_MINUTE
