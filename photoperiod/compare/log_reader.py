"""A log as text (CSV, RFC 4180) → series of values with instants.

Two layouts are read: one record for each channel and instant, with a column ``channel``, as
``photoperiod run`` writes it; or one record for each instant with a column for each quantity, named
``<channel>_<quantity>`` or ``<zone>_ppfd``. Other names are told by the caller.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.errors import OutsideWorldError
from photoperiod.sky.clock import Clock
from photoperiod.text import close_match, short, suggestion

#: What a column can hold, and the most that it can be; of zones only PPFD.
MOST = {
    "count": 65_535.0,
    "converter_code": 65_535.0,
    "millivolts": 12_000.0,
    "volts": 12.0,
    "level_percent": 120.0,
    "light_percent": 120.0,
    "relay": 1.0,
    "ppfd": 5_000.0,
}

#: Other words for the same.
_SAME = {"ppfd_umol_m2_s": "ppfd", "code": "converter_code"}

_RELAY = dict.fromkeys(("on", "closed", "1", "1.0", "true"), 1.0) | dict.fromkeys(
    ("off", "open", "0", "0.0", "false"), 0.0
)

#: Instants outside these years are no times of a log: 2000-01-01 to 2179-01-01. [Unix seconds]
FIRST_UNIX_S, LAST_UNIX_S = 946_684_800.0, 6_595_516_800.0

#: More records that can't be read than this share of a log make it none. Our choice, no source.
MOST_BAD = 0.1

#: Numbers from here on are Unix seconds or milliseconds: 2001-09-09 and later.
_UNIX_S, _UNIX_MS = 1e9, 1e11


@dataclass(frozen=True, slots=True)
class Series:
    """Values of one quantity of one channel or zone, at instants that rise. [Unix seconds]"""

    subject: str
    quantity: str
    unix_s: Floats
    values: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """What a log holds: its series, its events, and the lines that could not be read."""

    series: Mapping[tuple[str, str], Series]
    events: Sequence[tuple[float, str]] = ()
    bad_lines: Sequence[int] = ()
    strange_columns: Sequence[str] = ()

    @property
    def span_unix_s(self) -> tuple[float, float]:
        """The first and the last instant."""
        firsts = [float(s.unix_s[0]) for s in self.series.values()]
        lasts = [float(s.unix_s[-1]) for s in self.series.values()]
        return min(firsts), max(lasts)


class LogRefused(OutsideWorldError):
    """A log that can't be read; PHO511."""

    def __init__(self, name: str, why: str, help: str) -> None:
        super().__init__("PHO511", f"can't read '{short(name)}' as a log: {why}", help)


@dataclass(slots=True)
class _Gathered:
    """What is read so far, by channel or zone and quantity."""

    points: dict[tuple[str, str], list[tuple[float, float]]] = field(default_factory=dict)
    events: list[tuple[float, str]] = field(default_factory=list)
    bad: list[int] = field(default_factory=list)
    beyond: list[tuple[str, str, float]] = field(default_factory=list)


def read_log(
    name: str,
    raw: bytes,
    channels: Sequence[str],
    zones: Sequence[str],
    columns: Mapping[str, tuple[str, str]],
    clock: Clock | None,
) -> Log:
    """Return the series of a log.

    Parameters
    ----------
    name : str
        What to call it in messages.
    raw : bytes
        The whole file.
    channels, zones : sequence of str
        What the table knows.
    columns : mapping of str to (str, str)
        Columns with names of their own: which channel or zone, and which quantity.
    clock : Clock or None
        Whose times those are that name no zone themselves.

    Raises
    ------
    OutsideWorldError
        PHO511 if it is no log, or units or zone are unclear.
    """
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise LogRefused(name, "it is not UTF-8 text", "save it as CSV in UTF-8") from error
    if "\x00" in text:
        raise LogRefused(name, "it is not text", "give a CSV file")
    reader = csv.reader(io.StringIO(text, newline=""))
    try:
        header = [cell.strip() for cell in next(reader, [])]
        meant, strange = _meant(name, header, channels, zones, columns)
        gathered = _Gathered()
        times = _Times(name, clock)
        count = 0
        for record in reader:
            if record and record != header:
                count += 1
                if len(record) != len(header):
                    gathered.bad.append(reader.line_num)
                    continue
                _take(
                    dict(zip(header, record, strict=True)), meant, reader.line_num, gathered, times
                )
    except csv.Error as error:
        raise LogRefused(name, str(error), "give a CSV file (RFC 4180)") from error
    bad = gathered.bad
    if count and len(bad) > max(MOST_BAD * count, 1):
        if 2 * len(gathered.beyond) > len(bad):
            raise _wrong_unit(name, *gathered.beyond[0])
        raise LogRefused(
            name,
            f"{len(bad)} of {count} records can't be read, the first in line {bad[0]}",
            "each record needs a field for each column, a time, numbers with a decimal point, and for"
            " relays on or off",
        )
    series = {key: _series(*key, points) for key, points in gathered.points.items()}
    if not series:
        raise LogRefused(name, "it holds no value", "give a log of at least one channel or zone")
    return Log(series=series, events=gathered.events, bad_lines=bad, strange_columns=strange)


def _meant(
    name: str,
    header: Sequence[str],
    channels: Sequence[str],
    zones: Sequence[str],
    columns: Mapping[str, tuple[str, str]],
) -> tuple[dict[str, tuple[str | None, str]], list[str]]:
    """Return what each column holds: channel or zone (None where each record says), and quantity.

    And what to say of columns that look like a channel's or zone's and are not understood.
    """
    if len(header) == 1 and any(mark in header[0] for mark in ";\t"):
        raise LogRefused(
            name, "its fields are parted by semicolons or tabs", "part them by commas (RFC 4180)"
        )
    if "time" not in header:
        raise LogRefused(
            name,
            "its first line names no column 'time'",
            "give CSV with a header, such as `time,blue_volts`",
        )
    for column in columns:
        if column not in header:
            raise LogRefused(
                name, f"it has no column '{short(column)}'", suggestion(column, header)
            )
    for subject, quantity in columns.values():
        known = zones if quantity == "ppfd" else channels
        if subject not in known:
            what = "zone" if quantity == "ppfd" else "channel"
            raise LogRefused(
                name,
                f"the table has no {what} '{short(subject)}' for {quantity}",
                suggestion(subject, known),
            )
    found: dict[str, tuple[str | None, str]] = {}
    for column in header:
        subject, _, quantity = column.partition("_")
        quantity = _SAME.get(quantity, quantity)
        if column in columns:
            found[column] = columns[column]
        elif "channel" in header and _SAME.get(column, column) in MOST.keys() - {"ppfd"}:
            found[column] = None, _SAME.get(column, column)
        elif (quantity == "ppfd" and subject in zones) or (
            quantity in MOST and quantity != "ppfd" and subject in channels
        ):
            found[column] = subject, quantity
    if not found:
        raise LogRefused(
            name,
            f"none of its columns ({short(', '.join(header))}) names a channel and a unit",
            f"name them '{channels[0]}_volts', or say what they hold with"
            f" --column NAME={channels[0]}:volts",
        )
    names = [f"{id}_{quantity}" for id in channels for quantity in MOST if quantity != "ppfd"]
    names += [f"{zone}_ppfd" for zone in zones]
    strange = []
    for column in header:
        if column in found or column in ("time", "channel", "event", ""):
            continue
        guess = close_match(column, names, cutoff=0.75)
        if guess is not None:
            strange.append(f"column '{short(column)}' is not understood; did you mean '{guess}'?")
    return found, strange


def _take(
    record: Mapping[str, str],
    meant: Mapping[str, tuple[str | None, str]],
    line: int,
    gathered: _Gathered,
    times: _Times,
) -> None:
    try:
        unix_s = times.unix_s(record["time"].strip())
        event = record.get("event", "")
        if not FIRST_UNIX_S <= unix_s <= LAST_UNIX_S:
            raise ValueError
        if event:
            gathered.events.append((unix_s, event.strip()))
        values = []
        for column, (subject, quantity) in meant.items():
            who = subject if subject is not None else record["channel"].strip()
            cell = record.get(column, "").strip()
            if who and cell:
                value = _RELAY[cell.lower()] if quantity == "relay" else float(cell)
                if not -0.05 * MOST[quantity] <= value <= MOST[quantity]:
                    gathered.beyond.append((who, quantity, value))
                    raise ValueError
                values.append(((who, quantity), (unix_s, value)))
    except (KeyError, ValueError, OverflowError):
        gathered.bad.append(line)
        return
    for key, point in values:
        gathered.points.setdefault(key, []).append(point)


class _Times:
    """Read times one after the other; those without a zone are a clock's."""

    def __init__(self, name: str, clock: Clock | None) -> None:
        self.name, self.clock = name, clock
        self.last = -math.inf

    def unix_s(self, text: str) -> float:
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if math.isinf(number):
            raise ValueError
        if number >= _UNIX_S:
            return number / 1000 if number >= _UNIX_MS else number
        moment = dt.datetime.fromisoformat(text)
        if moment.tzinfo is None:
            if self.clock is None:
                raise LogRefused(
                    self.name,
                    f"its times, such as '{short(text)}', do not say of which zone they are",
                    "say so with --log-time-zone: utc, controller, or a zone such as Atlantic/Azores",
                )
            second = (moment.hour * 60 + moment.minute) * 60 + moment.second
            found = self.clock.unix_of(moment.date(), second)
            if found < self.last:  # an hour that comes twice: time goes on
                found = max(found, self.clock.unix_of(moment.date(), second, fold=1))
            self.last = found
            return found + moment.microsecond / 1e6
        return moment.timestamp()


def _series(subject: str, quantity: str, points: list[tuple[float, float]]) -> Series:
    """Return points as a series; of those at one instant the last holds."""
    by_time = dict(sorted(points, key=lambda point: point[0]))
    return Series(
        subject,
        quantity,
        np.array(list(by_time), dtype=np.float64),
        np.array(list(by_time.values()), dtype=np.float64),
    )


def _wrong_unit(name: str, subject: str, quantity: str, value: float) -> LogRefused:
    other = " (millivolts?)" if quantity == "volts" and value > 100 else ""
    return LogRefused(
        name,
        f"'{subject}' reaches {value:g}, which can't be {quantity}{other}",
        f"say what the column holds with --column NAME={subject}:UNIT, one of {', '.join(MOST)}",
    )


def log_clock(text: str | None, controller: Clock) -> Clock | None:
    """Return the clock that a word names: ``utc``, ``controller`` or a zone's civil time.

    Raises
    ------
    ValueError
        If there is no such zone.
    """
    if text is None:
        return None
    named = {"utc": Clock.utc(), "controller": controller}
    return named.get(text.lower()) or Clock.civil(text)
