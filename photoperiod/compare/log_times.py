"""Times in the cells of a log, as instants.

ISO 8601 and Unix time are read as they are. Dates as other countries write them, and times without an
offset from UTC, are read as the caller says; if he does not, he is asked, with a value from the file.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence

from photoperiod.compare.log_model import DateOrder, LogRefused, NoLogZone, Reading
from photoperiod.sky.clock import Clock
from photoperiod.text import short

#: Instants outside 2000-01-01 to 2179-01-01 are no times of a log. [Unix seconds]
FIRST_UNIX_S, LAST_UNIX_S = 946_684_800.0, 6_595_516_800.0

#: Numbers from here on are Unix seconds (2001-09-09 and later), or Unix milliseconds.
_UNIX_S, _UNIX_MS = 1e9, 1e11

_DATE_OF_A_COUNTRY = re.compile(
    r"(?P<a>[0-9]{1,4})(?P<mark>[./-])(?P<b>[0-9]{1,2})(?P=mark)(?P<c>[0-9]{1,4})"
    r"[T, ]+(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})(?::(?P<second>[0-9]{2})(?:[.,](?P<part>[0-9]{1,6}))?)?"
    r" ?(?P<half>[aApP]\.?[mM]\.?)?(?P<offset>Z| ?[+-][0-9]{2}:?[0-9]{2})?"
)

#: Which of the three numbers of a date is its year, its month, its day.
_PLACES = {
    DateOrder.DAY_FIRST: "cba",
    DateOrder.MONTH_FIRST: "cab",
    DateOrder.YEAR_FIRST: "abc",
}


def looks_like_time(text: str) -> bool:
    """Return whether a cell holds a date with a time of day, or Unix time."""
    try:
        return _unix_number(text) is not None or bool(_moments(text))
    except ValueError:
        return False


class Times:
    """Reads the times of one log, in the order in which they stand there.

    Parameters
    ----------
    name : str
        The name of the file, for messages.
    reading : Reading
        How times are to be read.
    """

    def __init__(self, name: str, reading: Reading) -> None:
        self.name, self.reading = name, reading
        self._passes: dict[str, _Pass] = {}

    def unix_s(self, text: str, series: str = "") -> float:
        """Return the instant of a cell. [Unix seconds]

        Parameters
        ----------
        text : str
            The cell.
        series : str
            Whose time it is: within a series time does not go back, so that an hour that comes twice
            is told apart.

        Raises
        ------
        ValueError, OverflowError
            If it is no time.
        LogRefused
            If the order of its date or its offset from UTC is not known.
        """
        found = _unix_number(text)
        if found is None:
            moment = self._moment(text)
            found = moment.timestamp() if moment.tzinfo else self._on_clock(text, moment, series)
        if not FIRST_UNIX_S <= found <= LAST_UNIX_S:
            raise ValueError
        return found

    def _moment(self, text: str) -> dt.datetime:
        moments = _moments(text)
        if self.reading.dates in moments:
            return moments[self.reading.dates]
        if None in moments:
            return moments[None]
        if self.reading.dates is None and moments:
            read = " or ".join(sorted({_day_text(moment) for moment in moments.values()}))
            raise LogRefused(
                self.name,
                f"its dates, such as '{short(text)}', can be read as {read}",
                f"say in which order they are written: --dates {' or '.join(DateOrder)}",
            )
        raise ValueError

    def _on_clock(self, text: str, moment: dt.datetime, series: str) -> float:
        """Return the instant of a time without an offset."""
        if self.reading.clock is None:
            raise NoLogZone(
                self.name,
                f"its times, such as '{short(text)}', have no offset from UTC, and their time zone"
                " is not known",
                "name it with --log-time-zone: utc, controller, or a zone such as Atlantic/Azores",
            )
        its = self._passes.setdefault(series, _Pass(self.reading.clock))
        return its.instant(moment) + moment.microsecond / 1e6

    def in_doubt(self) -> Sequence[str]:
        """Return times of an hour that comes twice, of which it stayed open which pass is meant."""
        found = {text for its in self._passes.values() for text in its.in_doubt.values()}
        return sorted(found)


class _Pass:
    """How far a series has come, for hours that come twice.

    Such an hour begins anew where its time goes back, or stays as it is from one record to the next;
    unless records with equal times are usual in this log.
    """

    def __init__(self, clock: Clock) -> None:
        self.clock, self.last, self.has_equal_times = clock, -math.inf, False
        self.in_doubt: dict[int, str] = {}

    def instant(self, moment: dt.datetime) -> int:
        second = (moment.hour * 60 + moment.minute) * 60 + moment.second
        first = self.clock.unix_of(moment.date(), second)
        second_pass = self.clock.unix_of(moment.date(), second, fold=1)
        found = first
        if first >= second_pass:  # most times; those that are left out have them in reverse
            self.has_equal_times |= first == self.last
        elif first < self.last or (first == self.last and not self.has_equal_times):
            found = second_pass
            self.in_doubt.pop(moment.toordinal(), None)
        else:
            self.in_doubt.setdefault(moment.toordinal(), f"{moment:%Y-%m-%d %H:%M}")
        self.last = float(found)
        return found


def _unix_number(text: str) -> float | None:
    """Return the instant that a number is; None for what is no number. [Unix seconds]"""
    try:
        number = float(text)
    except ValueError:
        return None
    if number >= _UNIX_S and math.isfinite(number):
        return number / 1000 if number >= _UNIX_MS else number
    if number < 0 or not math.isfinite(number):
        raise ValueError
    return None


def _moments(text: str) -> dict[DateOrder | None, dt.datetime]:
    """Return what a cell can mean, by the order of its date; None stands for ISO 8601.

    Raises
    ------
    ValueError
        If it has the form of a time, but can be none.
    """
    try:
        return {None: dt.datetime.fromisoformat(text)}
    except ValueError:
        found = _DATE_OF_A_COUNTRY.fullmatch(text)
    if found is None:
        raise ValueError
    orders = [DateOrder.YEAR_FIRST] if len(found["a"]) > 2 else list(DateOrder)
    if len(found["c"]) > 2:
        orders = [DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST]
    moments: dict[DateOrder | None, dt.datetime] = {}
    for order in orders:
        year, month, day = (int(found[place]) for place in _PLACES[order])
        try:
            moments[order] = _with_time(found, year + (2000 if year < 100 else 0), month, day)
        except ValueError:
            continue
    if len(found["a"]) == 4 and moments:
        return {None: moments[DateOrder.YEAR_FIRST]}
    return moments


def _with_time(found: re.Match[str], year: int, month: int, day: int) -> dt.datetime:
    hour = int(found["hour"])
    if found["half"]:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + (12 if found["half"][0] in "pP" else 0)
    part = int((found["part"] or "0").ljust(6, "0"))
    moment = dt.datetime(
        year, month, day, hour, int(found["minute"]), int(found["second"] or 0), part
    )
    if not found["offset"]:
        return moment
    return moment.replace(
        tzinfo=dt.datetime.fromisoformat(f"2000-01-01T00{found['offset'].strip()}").tzinfo
    )


def _day_text(moment: dt.datetime) -> str:
    return moment.date().isoformat()
