"""Logs as text: columns, units, times, and what is no log."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from photoperiod.compare.log_model import Log, LogRefused, Quantity, Reading
from photoperiod.compare.log_reader import log_clock, read_log
from photoperiod.sky.clock import Clock
from tests.compare.logs import (
    Compare,
    codes,
    log,
)


def test_times_without_a_zone_are_asked_for_and_then_read(table: Path, compare: Compare) -> None:
    def naive(moment: dt.datetime) -> str:
        return (moment - dt.timedelta(hours=1)).strftime("%Y-%m-%d %H:%M:%S")

    text = log(table, stamp=naive)
    code, _, err = compare(text)
    assert code == 4 and "have no offset from UTC" in err and "--log-time-zone" in err
    assert compare(text, "--log-time-zone", "controller")[0] == 0
    assert compare(text, "--log-time-zone", "Atlantic/Azores")[0] == 0  # winter: the same
    code, out, _ = compare(text, "--log-time-zone", "utc")
    assert (code, codes(out)) == (1, ["PHO604", "PHO605"])  # its first hour is of the day before
    code, _, err = compare(text, "--log-time-zone", "Atlantis")
    assert code == 2 and "no time zone 'Atlantis'" in err


def test_unix_seconds_and_milliseconds_are_instants(table: Path, compare: Compare) -> None:
    for factor in (1, 1000):
        text = log(table, stamp=lambda m, factor=factor: str(int(m.timestamp() * factor)))  # type: ignore[misc]
        assert compare(text)[0] == 0


def test_columns_with_other_names_are_told(table: Path, compare: Compare) -> None:
    text = log(table, head="time,A0,K1")
    code, _, err = compare(text)
    assert code == 4 and "none of its columns" in err and "--column NAME=blue:volts" in err
    code, out, _ = compare(text, "--column", "A0=blue:volts", "--column", "K1=blue:relay")
    assert (code, codes(out)) == (0, [])
    code, _, err = compare(text, "--column", "A1=blue:volts")
    assert code == 4 and "it has no column 'A1'" in err
    code, _, err = compare(text, "--column", "A0=blue:amperes")
    assert code == 2 and "one of count" in err


def test_a_wrong_unit_is_told(table: Path, compare: Compare) -> None:
    millivolts = log(table, lambda n, v, r: (v * 1000, r))
    code, _, err = compare(millivolts)
    assert code == 4 and "can't be volts (millivolts?)" in err
    text = millivolts.replace("blue_volts", "blue_millivolts")
    assert compare(text)[0] == 0


def test_records_cut_off_by_a_power_failure_are_passed_over(table: Path, compare: Compare) -> None:
    lines = log(table).split("\r\n")
    lines[700] = lines[700][:23]
    code, out, _ = compare("\r\n".join(lines))
    assert (code, codes(out)) == (0, ["PHO610"]) and "in line 701" in out
    code, _, err = compare("time,blue_volts\r\n" + "x,y\r\n" * 30)
    assert code == 4 and "30 of 30 records can't be read, the first in line 2" in err


@pytest.mark.parametrize("text", ["", "\0", "time\r\n", "a,b\r\n1,2\r\n", "time,blue_volts\r\n"])
def test_what_is_no_log_is_refused_in_words(compare: Compare, text: str) -> None:
    code, _, err = compare(text)
    assert code == 4 and err.startswith("error PHO511: can't read") and "try:" in err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "time,blue_volts\r\n" + "2027-03-02T12:00:00Z,8,9\r\n" * 9,
            "put numbers into quotes or separate",
        ),
        ("time,blue_relay\r\n" + "2027-03-02T12:00:00Z,maybe\r\n" * 9, "relays on or off"),
        ("time,channel,ppfd\r\n2027-03-02T12:00:00Z,blue,100\r\n", "none of its columns"),
        ("time,blue_volts\r\n" + "inf,8\r\n" * 3, "3 of 3 records can't be read"),
        ("time,blue_volts\r\n" + "1772452800000000,8\r\n" * 3, "3 of 3 records can't be read"),
        ("time,blue_volts\r\n" + "9999-12-31T00:00:00Z,8\r\n" * 3, "3 of 3 records"),
    ],
)
def test_more_that_is_no_log(compare: Compare, text: str, words: str) -> None:
    code, _, err = compare(text)
    assert code == 4 and words in err


def test_a_glitch_is_passed_over_and_a_wrong_column_is_not(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table, lambda n, v, r: (99.9 if n == 40_020 else v, r)))
    assert (code, codes(out)) == (0, ["PHO610"])
    code, _, err = compare(log(table), "--column", "blue_volts=sand:volts")
    assert code == 4 and "the table has no channel 'sand' for volts" in err


def read(text: str, clock: Clock | None = None, **columns: tuple[str, Quantity]) -> Log:
    return read_log(
        "log", text.encode(), ["blue", "white"], ["crest"], Reading(columns=columns, clock=clock)
    )


def test_both_layouts_give_the_same_series() -> None:
    wide = read("time,blue_volts,white_code,crest_ppfd_umol_m2_s\n2027-03-02T12:00:00Z,8.5,7,99\n")
    long = read(
        "time,channel,volts,code\n2027-03-02T12:00:00Z,blue,8.5,\n2027-03-02T12:00:00Z,white,,7\n"
    )
    noon = 1_803_945_600 + 43_200.0
    values = {key: (s.unix_s.tolist(), s.values.tolist()) for key, s in wide.series.items()}
    assert values == {
        ("blue", Quantity.VOLTS): ([noon], [8.5]),
        ("white", Quantity.CONVERTER_CODE): ([noon], [7.0]),
        ("crest", Quantity.PPFD): ([noon], [99.0]),
    }
    assert set(long.series) == set(values) - {("crest", Quantity.PPFD)}
    for key, series in long.series.items():
        assert (series.unix_s.tolist(), series.values.tolist()) == values[key]


def test_instants_rise_and_of_two_values_at_one_the_last_counts() -> None:
    found = read("time,blue_volts\n1803945660,2\n1803945600,1\n1803945660,3\n")
    series = found.series["blue", Quantity.VOLTS]
    assert series.unix_s.tolist() == [1_803_945_600, 1_803_945_660]
    assert series.values.tolist() == [1, 3]
    assert found.span_unix_s == (1_803_945_600, 1_803_945_660)


def test_an_explained_column_goes_before_its_name() -> None:
    found = read("time,blue_volts\n1803945600,1\n", blue_volts=("white", Quantity.LEVEL_PERCENT))
    assert list(found.series) == [("white", Quantity.LEVEL_PERCENT)]
    with pytest.raises(LogRefused, match="no zone 'blue' for ppfd"):
        read("time,x\n1803945600,1\n", x=("blue", Quantity.PPFD))


@pytest.mark.parametrize(("bad", "is_log"), [(1, True), (2, False)])
def test_a_tenth_of_bad_records_is_the_most(bad: int, is_log: bool) -> None:
    lines = ["1803945600,x"] * bad + [f"{1_803_945_600 + n},5" for n in range(10 - bad)]
    text = "time,blue_volts\n" + "\n".join(lines)
    if is_log:
        assert list(read(text).bad_lines) == [2]
    else:
        with pytest.raises(LogRefused, match="2 of 10 records can't be read, the first in line 2"):
            read(text)


@pytest.mark.parametrize(("volts", "is_read"), [("12.0", True), ("12.01", False)])
def test_the_most_that_a_quantity_can_be(volts: str, is_read: bool) -> None:
    found = read(f"time,blue_volts\n1803945600,5\n1803945660,{volts}\n")
    assert list(found.bad_lines) == ([] if is_read else [3])


def test_an_hour_that_comes_twice_goes_on() -> None:
    # 2027-10-31 01:00 UTC: the Azores set their clocks back from 01:00 to 00:00
    text = "time,blue_volts\n" + "".join(
        f"2027-10-31 {wall},1\n" for wall in ("00:30", "00:50", "00:10", "00:40", "01:10")
    )
    series = read(text, Clock.civil("Atlantic/Azores")).series["blue", Quantity.VOLTS]
    assert [b - a for a, b in zip(series.unix_s, series.unix_s[1:], strict=False)] == [
        1200,
        1200,
        1800,
        1800,
    ]


def test_the_clock_that_a_word_names() -> None:
    controller = Clock.civil("Atlantic/Azores")
    assert log_clock(None, controller) is None
    assert log_clock("UTC", controller) == Clock.utc()
    assert log_clock("Controller", controller) is controller
    with pytest.raises(ValueError, match="no time zone 'Mars'"):
        log_clock("Mars", controller)


def test_a_log_of_another_country(table: Path, compare: Compare) -> None:
    """Semicolons, decimal commas, day before month, a time column of another name, pins of a port."""
    lines = log(table).splitlines()
    text = "Zeitpunkt;blue_volts;K1\n"
    for line in lines[1:]:
        stamp, volts, relay = line.split(",")
        moment = dt.datetime.fromisoformat(stamp) - dt.timedelta(hours=1)
        pin = "LOW" if relay == "on" else "HIGH"
        text += f"{moment:%d.%m.%Y %H:%M:%S};{volts.replace('.', ',')};{pin}\n"
    told = ["--column", "K1=blue:relay", "--log-time-zone", "controller"]
    code, _, err = compare(text, *told)
    assert code == 4 and "can be read as 2027-02-03 or 2027-03-02" in err
    told += ["--dates", "day-month-year"]
    code, _, err = compare(text, *told)
    assert code == 4 and "a relay is 'HIGH'" in err and "--relay-word HIGH=open" in err
    code, out, _ = compare(text, *told, "--relay-word", "low=closed")
    assert (code, codes(out)) == (0, [])
    code, out, _ = compare(text, *told, "--relay-word", "high=closed")
    assert code == 1 and "PHO607" in codes(out)


def test_a_quoted_decimal_comma_is_read(table: Path, compare: Compare) -> None:
    """Volts of four decimals: 8,9000 is no thousand."""
    text = "time,blue_volts,blue_relay\n"
    for line in log(table).splitlines()[1:]:
        stamp, volts, relay = line.split(",")
        text += f'{stamp},"{volts.replace(".", ",")}",{relay}\n'
    assert compare(text)[0] == 0
    assert compare(text, "--decimal", "point")[0] == 4


def test_date_and_time_of_day_in_two_columns(table: Path, compare: Compare) -> None:
    text = "date,time,blue_volts,blue_relay\n"
    for line in log(table).splitlines()[1:]:
        stamp, volts, relay = line.split(",")
        moment = dt.datetime.fromisoformat(stamp)
        text += f"{moment:%Y-%m-%d},{moment:%H:%M:%S},{volts},{relay}\n"
    told = ["--time-column", "date", "--time-column", "time", "--log-time-zone", "utc"]
    assert compare(text, *told)[0] == 0


def test_the_order_of_records_does_not_matter() -> None:
    found = read("time,blue_volts\n1803945720,3\n1803945600,1\n1803945660,2\n")
    assert found.series["blue", Quantity.VOLTS].values.tolist() == [1, 2, 3]


def test_an_empty_log_is_named_so() -> None:
    with pytest.raises(LogRefused, match="it is empty"):
        read_log("day.csv", b"\r\n", ("blue",), (), Reading())


@pytest.mark.parametrize(
    ("encoding", "why"),
    [
        ("utf-16", "byte 0xff is not UTF-8: the file is UTF-16"),
        ("latin-1", "byte 0xe4 is not UTF-8"),
    ],
)
def test_a_log_in_another_encoding_is_named_so(encoding: str, why: str) -> None:
    raw = "time,blue_level_percent\n2027-03-02T10:00Z,tägl\n".encode(encoding)
    with pytest.raises(LogRefused) as fault:
        read_log("day.csv", raw, ("blue",), (), Reading())
    assert why in str(fault.value)
    assert ("PowerShell" in fault.value.help) == (encoding == "utf-16")
