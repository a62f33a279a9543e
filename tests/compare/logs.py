"""Logs made by arithmetic of this file, with one thing wrong in each."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path

from photoperiod.program.dates import DateSpan

PLACE = (
    "controller:\n",
    "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n",
)


SPAN = DateSpan(dt.date(2027, 3, 2), dt.date(2027, 3, 6))


DAY_S = 86_400


#: Midnight of 2027-03-02 on standard time of the Azores, an hour behind UTC.
START = dt.datetime(2027, 3, 2, 1, tzinfo=dt.UTC)


Rows = list[tuple[int, float, bool]]


Fault = Callable[[int, float, bool], tuple[float, bool] | None]


def rows(table: Path) -> Rows:
    data = json.loads(table.read_bytes())
    return [
        (row["second"], row["volts"], row["relay"] == "on")
        for row in data["tables"][0]["channels"]["blue"]["rows"]
    ]


def at(rows: Rows, second: int) -> tuple[float, bool]:
    """Volts and relay at a second of the day: a line from row to row, across midnight."""
    index = max((n for n, row in enumerate(rows) if row[0] <= second), default=-1)
    (begin, volts, relay), (end, later, _) = rows[index], rows[(index + 1) % len(rows)]
    length = (end - begin) % DAY_S or DAY_S
    return volts + (later - volts) * ((second - begin) % DAY_S) / length, relay


def nothing_wrong(n: int, volts: float, relay: bool) -> tuple[float, bool] | None:
    return volts, relay


def log(
    table: Path,
    fault: Fault = nothing_wrong,
    days: int = 1,
    shift: Callable[[int], int] = lambda n: 0,
    stamp: Callable[[dt.datetime], str] = lambda moment: moment.isoformat(),
    head: str = "time,blue_volts,blue_relay",
) -> str:
    """A log by the minute; ``shift`` is by how much the clock behind it is ahead [s]."""
    found = rows(table)
    lines = [head]
    for n in range(0, days * DAY_S, 60):
        given = fault(n, *at(found, (n + shift(n)) % DAY_S))
        if given is not None:
            moment = START + dt.timedelta(seconds=n)
            lines.append(f"{stamp(moment)},{given[0]:.4f},{'on' if given[1] else 'off'}")
    return "\r\n".join(lines) + "\r\n"


Compare = Callable[..., tuple[int, str, str]]


def codes(out: str) -> list[str]:
    return [line.split()[1] for line in out.splitlines() if line.startswith(("warning", "note"))]
