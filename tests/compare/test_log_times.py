"""Times in the cells of a log."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest

from photoperiod.compare.log_model import DateOrder, LogRefused, Reading
from photoperiod.compare.log_times import Times, looks_like_time
from photoperiod.sky.clock import Clock

AZORES = Clock.civil("Atlantic/Azores")


def unix(*parts: int) -> float:
    return dt.datetime(*parts, tzinfo=dt.UTC).timestamp()  # type: ignore[misc,arg-type]


def times(clock: Clock | None = None, dates: DateOrder | None = None) -> Times:
    return Times("day.csv", Reading(clock=clock, dates=dates))


@pytest.mark.parametrize(
    ("cell", "parts"),
    [
        ("2027-03-02T12:00:00Z", (2027, 3, 2, 12)),
        ("2027-03-02 11:00-01:00", (2027, 3, 2, 12)),
        ("1803988800", (2027, 3, 2, 12)),
        ("1803988800000", (2027, 3, 2, 12)),
        ("2027/03/02 12:00 +00:00", (2027, 3, 2, 12)),
    ],
)
def test_times_that_say_all(cell: str, parts: tuple[int, ...]) -> None:
    assert times().unix_s(cell) == unix(*parts)


@pytest.mark.parametrize(
    ("cell", "order", "parts"),
    [
        ("03/04/2027 09:05", DateOrder.DAY_FIRST, (2027, 4, 3, 9, 5)),
        ("03/04/2027 09:05", DateOrder.MONTH_FIRST, (2027, 3, 4, 9, 5)),
        ("3.4.2027, 9:05:06", DateOrder.DAY_FIRST, (2027, 4, 3, 9, 5, 6)),
        ("3-4-27 9:05 pm", DateOrder.MONTH_FIRST, (2027, 3, 4, 21, 5)),
        ("27.03.04 09:05", DateOrder.YEAR_FIRST, (2027, 3, 4, 9, 5)),
        ("12/31/2027 12:00 AM", DateOrder.MONTH_FIRST, (2027, 12, 31, 0, 0)),
        ("2027-03-04 09:05", DateOrder.DAY_FIRST, (2027, 3, 4, 9, 5)),  # ISO stays ISO
        ("2027/03/04 09:05", DateOrder.DAY_FIRST, (2027, 3, 4, 9, 5)),
    ],
)
def test_dates_of_other_countries(cell: str, order: DateOrder, parts: tuple[int, ...]) -> None:
    assert times(Clock.utc(), order).unix_s(cell) == unix(*parts)


def test_a_date_that_has_two_readings_is_asked_for_with_both() -> None:
    with pytest.raises(LogRefused) as refusal:
        times(Clock.utc()).unix_s("03/04/2027 09:05")
    assert "such as '03/04/2027 09:05', can be read as 2027-03-04 or 2027-04-03" in str(
        refusal.value
    )
    assert "--dates day-month-year or month-day-year" in refusal.value.help


@pytest.mark.parametrize(
    "cell",
    ["", "x", "12:00", "8.5", "-5", "inf", "nan", "31/31/2027 09:00", "31/12/2027 25:00",
     "1/2/2027 13:00 pm", "1999-12-31T23:00Z", "2200-01-01T00:00Z", "1/2-2027 09:00"],
)  # fmt: skip
def test_what_is_no_time(cell: str) -> None:
    with pytest.raises(ValueError):
        times(Clock.utc(), DateOrder.DAY_FIRST).unix_s(cell)


@pytest.mark.parametrize(
    ("cell", "expected"),
    [("2027-03-02 12:00", True), ("02.03.2027 12:00", True), ("1803988800", True), ("8.93", False),
     ("12:00", False), ("on", False), ("", False), ("-3", False)],
)  # fmt: skip
def test_what_looks_like_a_time(cell: str, expected: bool) -> None:
    assert looks_like_time(cell) is expected


def gaps_h(reader: Times, *cells: str) -> list[float]:
    found = [reader.unix_s(cell) for cell in cells]
    return [(b - a) / 3600 for a, b in itertools.pairwise(found)]


def test_hourly_records_over_the_hour_that_comes_twice() -> None:
    """On 2027-10-31 at 01:00 UTC the Azores set their clocks back from 01:00 to 00:00."""
    cells = ["2027-10-30 23:00", "2027-10-31 00:00", "2027-10-31 00:00", "2027-10-31 01:00"]
    reader = times(AZORES)
    assert gaps_h(reader, *cells) == [1, 1, 1]
    assert reader.in_doubt() == []
    half = ["2027-10-30 23:30", "2027-10-31 00:30", "2027-10-31 00:30", "2027-10-31 01:30"]
    assert gaps_h(times(AZORES), *half) == [1, 1, 1]


def test_records_of_ten_minutes_over_that_hour() -> None:
    passes = [f"2027-10-31 00:{minute:02d}" for minute in range(0, 60, 10)]
    reader = times(AZORES)
    assert set(gaps_h(reader, *passes, *passes, "2027-10-31 01:00")) == {1 / 6}
    assert reader.in_doubt() == []


def test_a_record_in_that_hour_that_stands_alone_is_in_doubt() -> None:
    reader = times(AZORES)
    assert gaps_h(reader, "2027-10-30 22:30", "2027-10-31 00:30", "2027-10-31 02:30") == [2, 3]
    assert reader.in_doubt() == ["2027-10-31 00:30"]


def test_records_with_equal_times_do_not_begin_the_hour_anew() -> None:
    """Every twenty seconds, with times that show no seconds."""
    cells = [f"2027-10-30 23:{n // 3:02d}" for n in range(180)]
    cells += [f"2027-10-31 00:{n // 3:02d}" for n in range(180)] * 2
    reader = times(AZORES)
    found = [reader.unix_s(cell) for cell in cells]
    assert found == sorted(found) and len(set(found)) == 180
    assert reader.in_doubt() == []


def test_each_channel_passes_that_hour_for_itself() -> None:
    """A record for each channel and instant: two of them have the same time."""
    reader, found = times(AZORES), []
    for cell in ("2027-10-30 23:00", "2027-10-31 00:00", "2027-10-31 00:00", "2027-10-31 01:00"):
        found.append([reader.unix_s(cell, id) for id in ("blue", "white")])
    first = unix(2027, 10, 30, 23)
    assert found == [[first + 3600 * n] * 2 for n in range(4)]


def test_a_time_that_is_left_out_is_read_by_the_offset_before_it() -> None:
    # 2027-03-28 01:00 UTC: from 00:00 to 01:00
    assert times(AZORES).unix_s("2027-03-28 00:30") == unix(2027, 3, 28, 1, 30)


def test_times_without_an_offset_are_asked_for() -> None:
    with pytest.raises(LogRefused, match="such as '2027-03-02 12:00', have no offset from UTC"):
        times().unix_s("2027-03-02 12:00")
