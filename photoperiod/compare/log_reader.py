"""A log as text (CSV, RFC 4180) → series of values at instants.

Two layouts are read. ``photoperiod run`` writes one record for each channel and instant, with a
column ``channel``. Other logs have one record for each instant, with columns that are named
``<channel>_<quantity>`` or ``<zone>_ppfd``; the caller can explain columns with other names.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.errors import OutsideWorldError
from photoperiod.sky.clock import Clock
from photoperiod.text import close_match, short, suggestion


class Quantity(StrEnum):
    """What a column can hold: PPFD of a zone [µmol m⁻² s⁻¹], all others of a channel."""

    COUNT = "count"
    CONVERTER_CODE = "converter_code"
    MILLIVOLTS = "millivolts"
    VOLTS = "volts"
    LEVEL_PERCENT = "level_percent"
    LIGHT_PERCENT = "light_percent"
    RELAY = "relay"
    PPFD = "ppfd"


#: Larger values than these are faults of a meter, or values of another quantity.
MAX_VALUE = {
    Quantity.COUNT: 65_535.0,
    Quantity.CONVERTER_CODE: 65_535.0,
    Quantity.MILLIVOLTS: 12_000.0,
    Quantity.VOLTS: 12.0,
    Quantity.LEVEL_PERCENT: 120.0,
    Quantity.LIGHT_PERCENT: 120.0,
    Quantity.RELAY: 1.0,
    Quantity.PPFD: 5_000.0,
}

#: What a column holds: its channel or zone (None if the column ``channel`` says so), and its quantity.
Meaning = tuple[str | None, Quantity]

#: Other names of quantities.
_SYNONYMS = {"ppfd_umol_m2_s": "ppfd", "code": "converter_code"}

_RELAY = dict.fromkeys(("on", "closed", "1", "1.0", "true"), 1.0) | dict.fromkeys(
    ("off", "open", "0", "0.0", "false"), 0.0
)

#: Instants outside 2000-01-01 to 2179-01-01 are no times of a log. [Unix seconds]
FIRST_UNIX_S, LAST_UNIX_S = 946_684_800.0, 6_595_516_800.0

#: If more than this fraction of the records cannot be read, the file is no log. Our choice, no source.
MAX_BAD = 0.1

#: Numbers from here on are Unix seconds (2001-09-09 and later), or Unix milliseconds.
_UNIX_S, _UNIX_MS = 1e9, 1e11


@dataclass(frozen=True, slots=True)
class Series:
    """Values of one quantity of one channel or zone, at instants that rise. [Unix seconds]"""

    subject: str
    quantity: Quantity
    unix_s: Floats
    values: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """A log: its series, its events, and what of it could not be read.

    ``bad_lines`` are the numbers of lines that could not be read; ``near_misses`` are texts about
    columns whose names look like one of the table's but are not understood.
    """

    series: Mapping[tuple[str, Quantity], Series]
    events: Sequence[tuple[float, str]] = ()
    bad_lines: Sequence[int] = ()
    near_misses: Sequence[str] = ()

    @property
    def span_unix_s(self) -> tuple[float, float]:
        """The first and the last instant. [Unix seconds]"""
        firsts = [float(s.unix_s[0]) for s in self.series.values()]
        lasts = [float(s.unix_s[-1]) for s in self.series.values()]
        return min(firsts), max(lasts)


class LogRefused(OutsideWorldError):
    """The file cannot be read as a log; PHO511."""

    def __init__(self, name: str, why: str, help: str) -> None:
        super().__init__("PHO511", f"can't read '{short(name)}' as a log: {why}", help)


@dataclass(slots=True)
class _Gathered:
    """What has been read so far. ``beyond`` are values that are too large or too small."""

    points: dict[tuple[str, Quantity], list[tuple[float, float]]] = field(default_factory=dict)
    events: list[tuple[float, str]] = field(default_factory=list)
    bad: list[int] = field(default_factory=list)
    beyond: list[tuple[str, Quantity, float]] = field(default_factory=list)


def read_log(
    name: str,
    raw: bytes,
    channels: Sequence[str],
    zones: Sequence[str],
    columns: Mapping[str, tuple[str, Quantity]],
    clock: Clock | None,
) -> Log:
    """Return the series of a log.

    Parameters
    ----------
    name : str
        The name of the file, for messages.
    raw : bytes
        The whole file.
    channels, zones : sequence of str
        The channels and zones of the table.
    columns : mapping of str to (str, Quantity)
        Channel or zone, and quantity, of columns whose names do not say so.
    clock : Clock or None
        Time zone of timestamps without an offset; None if unknown.

    Raises
    ------
    OutsideWorldError
        PHO511 if it is no log, or its units or its time zone are not clear.
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
        meanings = _meanings(name, header, channels, zones, columns)
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
                    dict(zip(header, record, strict=True)),
                    meanings,
                    reader.line_num,
                    gathered,
                    times,
                )
    except csv.Error as error:
        raise LogRefused(name, str(error), "give a CSV file (RFC 4180)") from error
    bad = gathered.bad
    if count and len(bad) > max(MAX_BAD * count, 1):
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
    return Log(
        series=series,
        events=gathered.events,
        bad_lines=bad,
        near_misses=_near_misses(header, meanings, channels, zones),
    )


def _meanings(
    name: str,
    header: Sequence[str],
    channels: Sequence[str],
    zones: Sequence[str],
    columns: Mapping[str, tuple[str, Quantity]],
) -> dict[str, Meaning]:
    """Return what each column holds, in the order of the header; others are left out."""
    _refuse_header(name, header)
    explicit = _explicit_columns(name, header, columns, channels, zones)
    known = _inferred_columns(header, channels, zones) | explicit
    if not known:
        raise LogRefused(
            name,
            f"none of its columns ({short(', '.join(header))}) names a channel and a unit",
            f"name them '{channels[0]}_volts', or say what they hold with"
            f" --column NAME={channels[0]}:volts",
        )
    return {column: known[column] for column in header if column in known}


def _refuse_header(name: str, header: Sequence[str]) -> None:
    """Raise `LogRefused` if the first line is no header of a log."""
    if len(header) == 1 and any(mark in header[0] for mark in ";\t"):
        raise LogRefused(
            name,
            "its fields are separated by semicolons or tabs",
            "separate them by commas (RFC 4180)",
        )
    if "time" not in header:
        raise LogRefused(
            name,
            "its first line names no column 'time'",
            "give CSV with a header, such as `time,blue_volts`",
        )


def _explicit_columns(
    name: str,
    header: Sequence[str],
    columns: Mapping[str, tuple[str, Quantity]],
    channels: Sequence[str],
    zones: Sequence[str],
) -> dict[str, Meaning]:
    """Return the columns that the caller explained; raise `LogRefused` if one of them is unknown."""
    for column in columns:
        if column not in header:
            raise LogRefused(
                name, f"it has no column '{short(column)}'", suggestion(column, header)
            )
    for subject, quantity in columns.values():
        kind, known = ("zone", zones) if quantity is Quantity.PPFD else ("channel", channels)
        if subject not in known:
            raise LogRefused(
                name,
                f"the table has no {kind} '{short(subject)}' for {quantity}",
                suggestion(subject, known),
            )
    return dict(columns)


def _inferred_columns(
    header: Sequence[str], channels: Sequence[str], zones: Sequence[str]
) -> dict[str, Meaning]:
    """Return the columns whose names say what they hold."""
    found: dict[str, Meaning] = {}
    for column in header:
        subject, _, rest = column.partition("_")
        whole, quantity = _quantity(column), _quantity(rest)
        if "channel" in header and whole not in (None, Quantity.PPFD):
            found[column] = None, whole
        elif quantity is not None:
            known = zones if quantity is Quantity.PPFD else channels
            if subject in known:
                found[column] = subject, quantity
    return found


def _quantity(text: str) -> Quantity | None:
    """Return the quantity that a text names; None if it names none."""
    text = _SYNONYMS.get(text, text)
    return Quantity(text) if text in MAX_VALUE else None


def _near_misses(
    header: Sequence[str],
    found: Mapping[str, Meaning],
    channels: Sequence[str],
    zones: Sequence[str],
) -> list[str]:
    """Return a text for each column that is not understood but looks like one of the table's."""
    names = [f"{id}_{q}" for id in channels for q in Quantity if q is not Quantity.PPFD]
    names += [f"{zone}_{Quantity.PPFD}" for zone in zones]
    texts = []
    for column in header:
        if column in found or column in ("time", "channel", "event", ""):
            continue
        guess = close_match(column, names, cutoff=0.75)
        if guess is not None:
            texts.append(f"column '{short(column)}' is not understood; did you mean '{guess}'?")
    return texts


def _take(
    record: Mapping[str, str],
    meanings: Mapping[str, Meaning],
    line: int,
    gathered: _Gathered,
    times: _Times,
) -> None:
    """Add the values of a record, all of them or none."""
    try:
        unix_s = times.unix_s(record["time"].strip())
        event = record.get("event", "")
        if not FIRST_UNIX_S <= unix_s <= LAST_UNIX_S:
            raise ValueError
        if event:
            gathered.events.append((unix_s, event.strip()))
        values = []
        for column, (subject, quantity) in meanings.items():
            who = subject if subject is not None else record["channel"].strip()
            cell = record.get(column, "").strip()
            if who and cell:
                value = _RELAY[cell.lower()] if quantity is Quantity.RELAY else float(cell)
                if not -0.05 * MAX_VALUE[quantity] <= value <= MAX_VALUE[quantity]:
                    gathered.beyond.append((who, quantity, value))
                    raise ValueError
                values.append(((who, quantity), (unix_s, value)))
    except (KeyError, ValueError, OverflowError):
        gathered.bad.append(line)
        return
    for key, point in values:
        gathered.points.setdefault(key, []).append(point)


class _Times:
    """Reads the timestamps of a log in order; those without an offset are on ``clock``."""

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
                    f"its times, such as '{short(text)}', have no offset from UTC, and their time zone"
                    " is not known",
                    "name it with --log-time-zone: utc, controller, or a zone such as Atlantic/Azores",
                )
            second = (moment.hour * 60 + moment.minute) * 60 + moment.second
            found = self.clock.unix_of(moment.date(), second)
            if found < self.last:  # an hour that comes twice: time does not go back
                found = max(found, self.clock.unix_of(moment.date(), second, fold=1))
            self.last = found
            return found + moment.microsecond / 1e6
        return moment.timestamp()


def _series(subject: str, quantity: Quantity, points: list[tuple[float, float]]) -> Series:
    """Return points as a series; of several points at one instant the last counts."""
    by_time = dict(sorted(points, key=lambda point: point[0]))
    return Series(
        subject,
        quantity,
        np.array(list(by_time), dtype=np.float64),
        np.array(list(by_time.values()), dtype=np.float64),
    )


def _wrong_unit(name: str, subject: str, quantity: Quantity, value: float) -> LogRefused:
    other = " (millivolts?)" if quantity is Quantity.VOLTS and value > 100 else ""
    return LogRefused(
        name,
        f"'{subject}' reaches {value:g}, which can't be {quantity}{other}",
        f"say what the column holds with --column NAME={subject}:UNIT, one of {', '.join(Quantity)}",
    )


def log_clock(text: str | None, controller: Clock) -> Clock | None:
    """Return the clock that ``utc``, ``controller`` or the name of a time zone stands for.

    Raises
    ------
    ValueError
        If there is no such time zone.
    """
    if text is None:
        return None
    named = {"utc": Clock.utc(), "controller": controller}
    return named.get(text.lower()) or Clock.civil(text)
