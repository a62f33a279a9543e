"""A replay as text, CSV and JSON: of a moment, or of a day."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Mapping
from typing import Any

import numpy as np

from photoperiod.arrays import Ints
from photoperiod.drive.grid import RelayKind
from photoperiod.formats.image import FIRST_DAY
from photoperiod.formats.table import PlayableTable
from photoperiod.player.outputs import (
    UNDISTURBED,
    OutputState,
    PlayedDay,
    PlayerInput,
    at_moment,
    on_day,
    ppfd,
)
from photoperiod.player.reference import Status
from photoperiod.sky.clock import Clock
from photoperiod.text import clock_text, hours_text, number_text, safe
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR, UMOL_PER_MOL

#: What a status means, in words.
WORDS = {
    Status.SAFE: "the safe state: no clock to trust, or stopped by a person",
    Status.EARLY: "before the first date of the tables: the first one is played",
    Status.EXPIRED: "after the last date of the tables: the last one goes on",
    Status.SOFT: "a soft start holds an output down",
}

_HEAD = ("channel", "light %", "level %", "volts", "code", "relay")


def status_words(status: Status) -> list[str]:
    """Return the meaning of a status in words, one item for each flag."""
    return [text for flag, text in WORDS.items() if flag in status]


def moment_text(
    table: PlayableTable, date: dt.date, second: int, told: PlayerInput = UNDISTURBED
) -> str:
    """Return a moment as a table for people."""
    status, channels = at_moment(table, date, second, told)
    lines = [f"{safe(table.about.title)}, {_when(table, date, second)}"]
    lines += [f"  ({text})" for text in status_words(status)]
    lines += ["", _columns(_HEAD)]
    lines += [_columns((id, *_cells(table, state))) for id, state in channels.items()]
    zones = ppfd(table, {id: state.light for id, state in channels.items()})
    if zones:
        lines += ["", "PPFD, by full_ppfd as measured:"]
        lines += [f"  {zone}: {float(value):.1f} µmol m⁻² s⁻¹" for zone, value in zones.items()]
    return "\n".join(lines) + "\n"


def moment_data(
    table: PlayableTable, date: dt.date, second: int, told: PlayerInput = UNDISTURBED
) -> dict[str, Any]:
    """Return a moment as plain data, as ``schemas/replay.schema.json`` describes it."""
    status, channels = at_moment(table, date, second, told)
    zones = ppfd(table, {id: state.light for id, state in channels.items()})
    return _data_head(table) | {
        "date": date.isoformat(),
        "time": clock_text(second, with_seconds=True),
        "status": status_words(status),
        "channels": {id: _state_data(table, state) for id, state in channels.items()},
        "ppfd_umol_m2_s": {zone: round(float(value), 3) for zone, value in zones.items()},
    }


def day_text(table: PlayableTable, date: dt.date, every_s: int, clock: Clock | None = None) -> str:
    """Return a day as a table of moments, then its full-light hours and doses.

    ``every_s`` is the time from one line to the next [s]. With the controller's ``clock``, doses of a date on
    which it changes are those of the time that really passes.
    """
    played = on_day(table, date)
    seconds = _passing(table, date, clock)
    is_any = table.image.span is None and date == FIRST_DAY  # as where nobody named one
    on = "any date" if is_any else date
    lines = [f"{safe(table.about.title)}, {on} on the {table.image.clock} clock"]
    lines += [f"  ({text})" for text in _day_status(table, date)]
    lines += ["", _columns(("time", *(f"{id} %" for id in played)))]
    for second in range(0, SECONDS_PER_DAY, every_s):
        cells = [
            number_text(100 * float(day.light[second]), 1) if day.lit[second] else "dark"
            for day in played.values()
        ]
        lines.append(_columns((clock_text(second, with_seconds=every_s % 60 != 0), *cells)))
    lines.append("")
    if seconds.size != SECONDS_PER_DAY:
        hours = number_text(seconds.size / SECONDS_PER_HOUR)
        lines.append(
            f"  the clock changes on this date: doses are those of the {hours} h that pass"
        )
    for id, day in played.items():
        full_h = float(day.light[seconds].sum()) / SECONDS_PER_HOUR
        lit = hours_text(int(day.lit[seconds].sum()))
        lines.append(f"  {id}: {full_h:.2f} full-light hours, lit for {lit}")
    for zone, dli in _dli(table, played, seconds).items():
        lines.append(f"  {zone}: DLI {dli:.2f} mol m⁻² d⁻¹ (by full_ppfd as measured)")
    return "\n".join(lines) + "\n"


def day_csv(table: PlayableTable, date: dt.date, every_s: int) -> str:
    """Return a day as CSV: a record for each moment and channel (RFC 4180)."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(
        ("date", "time", "channel", "count", "converter_code", "volts", "level_percent",
         "light_percent", "relay")
    )  # fmt: skip
    for second in range(0, SECONDS_PER_DAY, every_s):
        for id, state in at_moment(table, date, second)[1].items():
            data = _state_data(table, state)
            writer.writerow(
                (date, clock_text(second, with_seconds=True), id, data["count"],
                 data["converter_code"], data["volts"], data["level_percent"],
                 data["light_percent"], data["relay"] or "")
            )  # fmt: skip
    return text.getvalue()


def day_data(
    table: PlayableTable, date: dt.date, every_s: int, clock: Clock | None = None
) -> dict[str, Any]:
    """Return a day as plain data: moments, full-light hours and doses; see `day_text`."""
    played = on_day(table, date)
    seconds = _passing(table, date, clock)
    return _data_head(table) | {
        "date": date.isoformat(),
        "status": _day_status(table, date),
        "channels": {
            id: {
                "full_light_hours": round(float(day.light[seconds].sum()) / SECONDS_PER_HOUR, 4),
                "lit_hours": round(int(day.lit[seconds].sum()) / SECONDS_PER_HOUR, 4),
            }
            for id, day in played.items()
        },
        "dli_mol_m2_d": {zone: round(dli, 4) for zone, dli in _dli(table, played, seconds).items()},
        "moments": [
            {
                "time": clock_text(second, with_seconds=True),
                "channels": {
                    id: _state_data(table, state)
                    for id, state in at_moment(table, date, second)[1].items()
                },
            }
            for second in range(0, SECONDS_PER_DAY, every_s)
        ],
    }


def _data_head(table: PlayableTable) -> dict[str, Any]:
    about = table.about
    return {
        "format": "photoperiod-replay",
        "version": 1,
        "made_with": about.made_with,
        "schedule": {"title": about.title, "sha256": about.sha256},
        "clock": about.clock,
        "time_zone": about.time_zone,
    }


def _day_status(table: PlayableTable, date: dt.date) -> list[str]:
    return status_words(at_moment(table, date, 0)[0])


def _passing(table: PlayableTable, date: dt.date, clock: Clock | None) -> Ints:
    """Return the seconds of a day as they pass; all of them where no clock or no date is known."""
    whole = [(0, SECONDS_PER_DAY)]
    spans = whole if clock is None or table.image.span is None else clock.passing_spans(date)
    return np.concatenate([np.arange(begin, end, dtype=np.int64) for begin, end in spans])


def _dli(table: PlayableTable, played: Mapping[str, PlayedDay], seconds: Ints) -> dict[str, float]:
    zones = ppfd(table, {id: day.light[seconds] for id, day in played.items()})
    return {zone: float(np.sum(value)) / UMOL_PER_MOL for zone, value in zones.items()}


def _state_data(table: PlayableTable, state: OutputState) -> dict[str, Any]:
    return {
        "count": state.count,
        "converter_code": state.code,
        "volts": round(state.volts, 4),
        "level_percent": round(state.level_percent, 4),
        "light_percent": round(state.light * 100, 4),
        "relay": _relay(table, state) or None,
    }


def _relay(table: PlayableTable, state: OutputState) -> str:
    if table.image.relay == RelayKind.NONE:
        return ""
    return "on" if state.relay else "off"


def _cells(table: PlayableTable, state: OutputState) -> tuple[str, ...]:
    return (
        f"{state.light * 100:.2f}",
        number_text(state.level_percent, 2),
        f"{state.volts:.3f}",
        str(state.code),
        _relay(table, state) or "-",
    )


def _when(table: PlayableTable, date: dt.date, second: int) -> str:
    time = clock_text(second, with_seconds=True)
    on = f"on the {table.image.clock} clock"
    return f"{date} {time} {on}" if table.image.span is not None else f"{time} {on}"


def _columns(cells: tuple[str, ...]) -> str:
    return ("  " + "".join(f"{cell:<12}" for cell in cells)).rstrip()
