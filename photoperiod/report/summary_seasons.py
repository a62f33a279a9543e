"""Many tables as a few lines: a line for each table, month or year."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from photoperiod.program.day_types import SeasonError
from photoperiod.program.model import Program, Table
from photoperiod.program.season_days import Error
from photoperiod.schedule.model import DatedTables
from photoperiod.text import and_list, columns, counted, number_text, range_text
from photoperiod.units import SECONDS_PER_MINUTE

#: If there would be more lines, months are taken for tables, and years for months.
MOST_LINES = 24


@dataclass(slots=True)
class _Stretch:
    """Dates that share a line, and their tables with how many of these dates each has."""

    first: dt.date
    last: dt.date
    parts: list[tuple[Table, int]] = field(default_factory=list)


def seasons_table(
    program: Program, room: int | None = None, *, by_table: bool = False
) -> list[str]:
    """Return the tables of a program as lines, never more than are read.

    Parameters
    ----------
    program : Program
        A program with dates.
    room : int or None
        How many columns a line may take; None if that is not known.
    by_table : bool
        True for a line for each table, however many there are, with its errors.
    """
    stretches = _by(program, lambda table, _: table.span)
    if len(stretches) > MOST_LINES and not by_table:
        stretches = _by(program, lambda _, date: (date.year, date.month))
        if len(stretches) > MOST_LINES:
            stretches = _by(program, lambda _, date: date.year)
    zones = list(program.schedule.zones)
    has_full = any(table.plan.windows for table in program.tables)
    has_energy = any(c.energy_kwh is not None for c in program.channels.values())
    head = ["from", "to", "tables", *(["light off by", "dose off by"] if by_table else [])]
    head += [name for id in zones for name in (f"DLI {id}", f"peak {id}")]
    head += ["at full"] * has_full + ["kWh"] * has_energy
    rows = []
    for each in stretches:
        tables = [table for table, _ in each.parts]
        row = [str(each.first), str(each.last), str(len(tables))]
        row += _errors(tables) if by_table else ()
        row += [cell for id in zones for cell in _zone_cells(tables, id)]
        if has_full:
            names = {id: None for table in tables for id in table.plan.windows}
            row.append(", ".join(names) or "-")
        if has_energy:
            row.append(f"{sum(table.energy_kwh * days for table, days in each.parts):.1f}")
        rows.append(row)
    return columns(head, rows, room)


def _zone_cells(tables: Sequence[Table], zone: str) -> tuple[str, str]:
    """Return the doses and the peaks that tables give a zone, in words."""
    days = [table.zones[zone] for table in tables]
    doses = [dose for day in days for dose in (day.dli.replay, day.dli_at_end)]
    peaks = [day.peak_ppfd for day in days]
    return range_text(min(doses), max(doses), 2), range_text(min(peaks), max(peaks), 0)


def _by(program: Program, key: Callable[[Table, dt.date], object]) -> list[_Stretch]:
    """Return the dates of a program in stretches for which a key stays the same."""
    found: list[_Stretch] = []
    known: object = None
    for table in program.tables:
        for date in table.span or ():
            now = key(table, date)
            if not found or now != known:
                found.append(_Stretch(date, date))
                known = now
            stretch = found[-1]
            stretch.last = date
            if stretch.parts and stretch.parts[-1][0] is table:
                stretch.parts[-1] = table, stretch.parts[-1][1] + 1
            else:
                stretch.parts.append((table, 1))
    return found


def same_rows_lines(program: Program) -> list[str]:
    """Return why more tables are counted than loaded, in lines; none where they are as many."""
    listed, loaded = len(program.tables), len(program.controller_tables)
    if listed == loaded:
        return []
    return [
        f"{listed} tables are counted here, {loaded} {'is' if loaded == 1 else 'are'} loaded: the same"
        " rows count again from a date on which doses differ, as where a clock changes"
    ]


def season_count_lines(program: Program) -> list[str]:
    """Return how many tables channels share by the errors that are asked, and which miss these, in lines.

    Beside the number stands whether fewer could be; nothing is said of that where dates all have one
    table. Where such numbers are not that of all tables, it is said why.
    """
    lines, numbers = [], []
    for each in program.season_counts:
        if each.tables == 1:
            continue
        numbers.append(each.tables)
        wanted = _asked(program, each.channels[0])
        what = (
            f"{and_list(each.channels)}: {each.tables} tables by the plan; {_asked_words(wanted)}"
        )
        is_least = each.tables == each.fewest
        least = "no fewer are" if is_least else f"fewer than {each.fewest} are not"
        lines.append(f"{what}, {least} possible, whatever their rows")
    loaded = len(program.controller_tables)
    if any(number != loaded for number in numbers):
        lines.append(
            "a table holds all channels, and a new one begins on each date on which any of them"
            f" changes: {loaded} in all"
        )
    return lines + _missed_lines(program)


def _missed_lines(program: Program) -> list[str]:
    """Return which channels miss the errors that are asked even in tables of one date, in lines.

    No choice of dates helps there: the rows or the levels are too coarse for what the date wants.
    """
    missed: dict[str, list[Error]] = {}
    for table in program.tables:
        for id, season in table.season.channels.items() if table.season else ():
            wanted = _asked(program, id)
            is_kept = season.error.keeps(wanted.light_error, wanted.dose_error)
            if season.days == 1 and wanted.tables is None and not is_kept:
                missed.setdefault(id, []).append(season.error)
    lines = []
    for id, errors in missed.items():
        wanted, worst = _asked(program, id), functools.reduce(Error.joined, errors)
        got = [
            f"{what} off by {_got_words(off, asked)} where {number_text(asked * 100)} % is asked"
            for what, off, asked in (
                ("light", worst.light, wanted.light_error),
                ("dose", worst.dose, wanted.dose_error),
            )
            if off > asked
        ]
        lines.append(
            f"{id} misses the asked errors on {counted(len(errors), 'date')} even with a table of its"
            f" own: {and_list(got)}; a finer `emits`, more `setpoints_per_channel` or wider errors in"
            " `dated_tables` may help, more tables do not"
        )
    return lines


def _asked(program: Program, id: str) -> DatedTables:
    """Return what is asked of the tables of a channel."""
    return program.schedule.dated_tables.of(program.schedule.channels[id])


def _got_words(off: float, asked: float) -> str:
    """Return an error beyond an asked one, so that it does not read the same. [share]"""
    got = number_text(off * 100)
    same = got == number_text(asked * 100)
    return f"{'a little more than' if same else 'up to'} {got} %"


def _asked_words(wanted: DatedTables) -> str:
    """Return the errors that are asked, in words."""
    light, dose = (number_text(each * 100) for each in (wanted.light_error, wanted.dose_error))
    minutes = number_text(wanted.time_error_s / SECONDS_PER_MINUTE)
    return f"with the asked errors (light {light} %, dose {dose} %, time {minutes} min)"


def season_errors(tables: Sequence[Table]) -> tuple[SeasonError, SeasonError] | None:
    """Return the largest error of light and of dose of some tables; None if no table has any."""
    found = [table.season for table in tables if table.season is not None]
    if not found:
        return None
    return max(found, key=lambda each: each.light), max(found, key=lambda each: each.dose)


def _errors(tables: Sequence[Table]) -> tuple[str, str]:
    """Return the largest errors of light and dose of some tables, each with its channel."""
    worst = season_errors(tables)
    if worst is None:
        return "-", "-"
    light, dose = worst
    return (
        f"{number_text(light.light * 100, 1)} % ({light.light_of})",
        f"{number_text(dose.dose * 100, 1)} % ({dose.dose_of})",
    )
