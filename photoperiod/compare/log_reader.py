"""A log as text (CSV) → series of values at instants.

Fields are separated by commas (RFC 4180), semicolons or tabs. The text is read record by record, and
values are kept as plain numbers, so that a log takes little more memory than its file.
"""

from __future__ import annotations

import codecs
import csv
import io
import itertools
from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.compare.log_columns import Meaning, columns_of, near_misses, separator_of
from photoperiod.compare.log_model import Log, LogRefused, Quantity, Reading, Series
from photoperiod.compare.log_numbers import Beyond, Numbers
from photoperiod.compare.log_times import Times
from photoperiod.sky.clock import Clock
from photoperiod.text import no_utf8_text

#: If more than this fraction of the records cannot be read, the file is no log. Our choice, no source.
MAX_BAD = 0.1

#: By so many records the column of times is found.
FIRST_RECORDS = 20


@dataclass(slots=True)
class _Gathered:
    """What has been read so far: instants and values by series, events, and lines that are bad.

    ``beyond`` are values that are too large or too small.
    """

    points: dict[tuple[str, Quantity], tuple[array[float], array[float]]] = field(
        default_factory=dict
    )
    events: list[tuple[float, str]] = field(default_factory=list)
    bad: list[int] = field(default_factory=list)
    beyond: list[tuple[str, Quantity, float]] = field(default_factory=list)


def read_log(
    name: str, raw: bytes, channels: Sequence[str], zones: Sequence[str], reading: Reading
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
    reading : Reading
        How it is to be read, where it does not say it itself.

    Raises
    ------
    OutsideWorldError
        PHO511 if it is no log, or its units, dates, decimals or time zone are not clear.
    """
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):  # most of its bytes are no text
        raise LogRefused(name, *no_utf8_text(raw, 0))
    if not raw.strip():
        raise LogRefused(name, "it is empty", "give a CSV file with a header and records")
    if b"\x00" in raw:
        raise LogRefused(name, "it is not text", "give a CSV file in UTF-8")
    try:
        return _read(name, raw, channels, zones, reading)
    except UnicodeDecodeError as error:
        raise LogRefused(name, *no_utf8_text(error.object, error.start)) from None
    except csv.Error as error:
        raise LogRefused(name, str(error), "give a CSV file (RFC 4180)") from error


def _read(
    name: str, raw: bytes, channels: Sequence[str], zones: Sequence[str], reading: Reading
) -> Log:
    text = io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8-sig", newline="")
    first_line = text.readline()
    records = csv.reader(itertools.chain([first_line], text), delimiter=separator_of(first_line))
    header = [cell.strip() for cell in next(records, [])]
    peeked = [(record, records.line_num) for record in itertools.islice(records, FIRST_RECORDS)]
    columns = columns_of(name, header, [r for r, _ in peeked], channels, zones, reading)
    gathered, times = _Gathered(), Times(name, reading)
    numbers = Numbers(name, reading.decimal, reading.relay_words)
    count = 0
    for record, line in itertools.chain(peeked, ((r, records.line_num) for r in records)):
        cells = [cell.strip() for cell in record]
        if not record or cells == header:
            continue
        count += 1
        if len(cells) != len(header):
            gathered.bad.append(line)
            continue
        named = dict(zip(header, cells, strict=True))
        time = " ".join(named[column] for column in columns.times)
        if not _take(named, time, columns.meanings, gathered, times, numbers):
            gathered.bad.append(line)
    _refuse_bad(name, gathered, count)
    numbers.refuse_doubt()
    series = {key: _series(*key, *points) for key, points in gathered.points.items()}
    if not series:
        raise LogRefused(name, "it holds no value", "give a log of at least one channel or zone")
    return Log(
        series=series,
        events=gathered.events,
        bad_lines=gathered.bad,
        near_misses=near_misses(columns, channels, zones),
        times_in_doubt=times.in_doubt(),
    )


def _take(
    record: Mapping[str, str],
    time: str,
    meanings: Mapping[str, Meaning],
    gathered: _Gathered,
    times: Times,
    numbers: Numbers,
) -> bool:
    """Add the values of a record, all of them or none; return whether they could be read."""
    who = record.get("channel", "")
    values = []
    try:
        unix_s = times.unix_s(time, who)
        for column, (told, quantity) in meanings.items():
            subject, cell = who if told is None else told, record[column]
            if subject and cell:
                try:
                    values.append(((subject, quantity), numbers.value(quantity, cell)))
                except Beyond as fault:
                    gathered.beyond.append((subject, quantity, fault.value))
                    raise
    except (ValueError, OverflowError):
        return False
    if record.get("event"):
        gathered.events.append((unix_s, record["event"]))
    for key, value in values:
        instants, series = gathered.points.setdefault(key, (array("d"), array("d")))
        instants.append(unix_s)
        series.append(value)
    return True


def _refuse_bad(name: str, gathered: _Gathered, count: int) -> None:
    """Raise `LogRefused` if too many records can't be read."""
    bad = gathered.bad
    if not count or len(bad) <= max(MAX_BAD * count, 1):
        return
    if 2 * len(gathered.beyond) > len(bad):
        raise _wrong_unit(name, *gathered.beyond[0])
    raise LogRefused(
        name,
        f"{len(bad)} of {count} records can't be read, the first in line {bad[0]}",
        "each record needs a field for each column, a date with a time, numbers, and for relays on or"
        " off; where decimals have a comma, put numbers into quotes or separate fields by semicolons",
    )


def _series(
    subject: str, quantity: Quantity, instants: array[float], values: array[float]
) -> Series:
    """Return points as a series; of several points at one instant the last counts."""
    unix_s: Floats = np.array(instants, dtype=np.float64)
    order = np.argsort(unix_s, kind="stable")
    unix_s, at = unix_s[order], np.array(values, dtype=np.float64)[order]
    is_last = np.append(np.diff(unix_s) > 0, True)
    return Series(subject, quantity, unix_s[is_last], at[is_last])


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
