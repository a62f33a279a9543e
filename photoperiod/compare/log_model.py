"""Values of a log: its quantities, its series, and how it is to be read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from photoperiod.arrays import Floats
from photoperiod.errors import OutsideWorldError
from photoperiod.sky.clock import Clock
from photoperiod.text import short


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


class DateOrder(StrEnum):
    """In which order day, month and year stand in a date that is not ISO 8601."""

    DAY_FIRST = "day-month-year"
    MONTH_FIRST = "month-day-year"
    YEAR_FIRST = "year-month-day"


class DecimalMark(StrEnum):
    """What stands before the decimals of a number."""

    POINT = "point"
    COMMA = "comma"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How a log is to be read, where the file does not say it itself.

    Parameters
    ----------
    columns : mapping of str to (str, Quantity)
        Channel or zone, and quantity, of columns whose names do not say so.
    time_columns : sequence of str
        The column that holds times, or those that hold date and time of day. Empty: it is looked for.
    clock : Clock or None
        The clock of times without an offset from UTC; None if unknown.
    dates : DateOrder or None
        The order in dates such as 03/04/2027; None if unknown.
    decimal : DecimalMark or None
        What stands before decimals; None: the file is asked.
    relay_words : mapping of str to bool
        Words of a relay column, in lower case, and whether the relay is closed then.
    """

    columns: Mapping[str, tuple[str, Quantity]] = field(default_factory=dict)
    time_columns: Sequence[str] = ()
    clock: Clock | None = None
    dates: DateOrder | None = None
    decimal: DecimalMark | None = None
    relay_words: Mapping[str, bool] = field(default_factory=dict)


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

    Parameters
    ----------
    series : mapping of (str, Quantity) to Series
        By channel or zone, and quantity.
    events : sequence of (float, str)
        Instants [Unix seconds] and what a player did then.
    bad_lines : sequence of int
        Numbers of lines that could not be read.
    near_misses : sequence of str
        Texts about columns whose names look like one of the table's but are not understood.
    times_in_doubt : sequence of str
        Times that come twice when a clock is set back, and that the log does not tell apart.
    """

    series: Mapping[tuple[str, Quantity], Series]
    events: Sequence[tuple[float, str]] = ()
    bad_lines: Sequence[int] = ()
    near_misses: Sequence[str] = ()
    times_in_doubt: Sequence[str] = ()

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


class NoLogZone(LogRefused):
    """Its times have no offset from UTC, and nobody said in which time zone they are; PHO511.

    ``request`` is what is missing and how to name it, without the name of the file.
    """

    def __init__(self, name: str, why: str, help: str) -> None:
        super().__init__(name, why, help)
        self.request = f"{why}; {help}"
