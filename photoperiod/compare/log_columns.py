"""The columns of a log: which holds times, and which holds what of which channel or zone.

Two layouts are read. ``photoperiod run`` writes one record for each channel and instant, with a
column ``channel``. Other logs have one record for each instant, with columns that are named
``<channel>_<quantity>`` or ``<zone>_ppfd``; the caller can explain columns with other names.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from photoperiod.compare.log_model import LogRefused, Quantity, Reading
from photoperiod.compare.log_times import looks_like_time
from photoperiod.text import close_match, short, suggestion

#: What a column holds: its channel or zone (None if the column ``channel`` says so), and its quantity.
Meaning = tuple[str | None, Quantity]

#: Other names of quantities.
_SYNONYMS = {"ppfd_umol_m2_s": "ppfd", "code": "converter_code"}

#: Columns that hold neither times nor quantities.
_OTHERS = ("channel", "event", "")


@dataclass(frozen=True, slots=True)
class Columns:
    """The header of a log, the columns of its times, and what its other columns hold, in order."""

    header: tuple[str, ...]
    times: tuple[str, ...]
    meanings: Mapping[str, Meaning]


def separator_of(first_line: str) -> str:
    """Return what separates the fields of a log: the most frequent of comma, semicolon and tab."""
    return max(",;\t", key=first_line.count)


def columns_of(
    name: str,
    header: Sequence[str],
    first_records: Iterable[Sequence[str]],
    channels: Sequence[str],
    zones: Sequence[str],
    reading: Reading,
) -> Columns:
    """Return what each column holds; others are left out.

    Parameters
    ----------
    name : str
        The name of the file, for messages.
    header : sequence of str
        Its first line.
    first_records : iterable of sequences of str
        Some of its records, by which the column of times is found.
    channels, zones : sequence of str
        The channels and zones of the table.
    reading : Reading
        What the caller says of columns.

    Raises
    ------
    LogRefused
        If columns are missing, unknown or not clear.
    """
    twice = next((column for column in header if column and header.count(column) > 1), None)
    if twice is not None:
        raise LogRefused(name, f"two columns are called '{short(twice)}'", "rename one of them")
    times = _time_columns(name, header, first_records, reading)
    explicit = _explicit_columns(name, header, reading.columns, channels, zones)
    known = _inferred_columns(header, channels, zones) | explicit
    if not known:
        raise LogRefused(
            name,
            f"none of its columns ({short(', '.join(header))}) names a channel and a unit",
            f"name them '{channels[0]}_volts', or say what they hold with"
            f" --column NAME={channels[0]}:volts",
        )
    meanings = {column: known[column] for column in header if column in known}
    return Columns(tuple(header), times, meanings)


def _time_columns(
    name: str, header: Sequence[str], first_records: Iterable[Sequence[str]], reading: Reading
) -> tuple[str, ...]:
    """Return the columns of the time: as told, those named, or the only one with times.

    A column ``time`` that holds times of day belongs to a column ``date``: ``photoperiod replay`` writes so.
    """
    for column in reading.time_columns:
        if column not in header:
            raise LogRefused(
                name, f"it has no column '{short(column)}'", suggestion(column, header)
            )
    if reading.time_columns:
        return tuple(reading.time_columns)
    records = [record for record in first_records if len(record) == len(header)]
    if "time" in header:
        at = header.index("time")
        is_whole = any(looks_like_time(record[at].strip()) for record in records)
        has_date = "date" in header and "date" not in reading.columns
        return ("time",) if is_whole or not has_date else ("date", "time")
    found = [
        column
        for at, column in enumerate(header)
        if column not in reading.columns
        and records
        and all(looks_like_time(record[at].strip()) for record in records)
    ]
    if len(found) == 1:
        return (found[0],)
    which = f"its columns {' and '.join(map(short, found))} all hold times"
    raise LogRefused(
        name,
        which if found else "no column is called 'time', and none holds dates with times of day",
        "name the column with --time-column; give the option twice if date and time of day have"
        " columns of their own",
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
    return Quantity(text) if text in list(Quantity) else None


def near_misses(columns: Columns, channels: Sequence[str], zones: Sequence[str]) -> list[str]:
    """Return a text for each column that is not understood but looks like one of the table's."""
    names = [f"{id}_{q}" for id in channels for q in Quantity if q is not Quantity.PPFD]
    names += [f"{zone}_{Quantity.PPFD}" for zone in zones]
    texts = []
    for column in columns.header:
        if column in columns.meanings or column in columns.times or column in _OTHERS:
            continue
        guess = close_match(column, names, cutoff=0.75)
        if guess is not None:
            texts.append(f"column '{short(column)}' is not understood; did you mean '{guess}'?")
    return texts
