"""The columns of a log."""

from __future__ import annotations

import pytest

from photoperiod.compare.log_columns import Columns, columns_of, near_misses, separator_of
from photoperiod.compare.log_model import LogRefused, Quantity, Reading

RECORDS = [
    ["2027-03-02 12:00", "8.5", "on"],
    ["2027-03-02 12:01", "8.6", "on"],
]


def columns(header: list[str], records: list[list[str]], **told: object) -> Columns:
    reading = Reading(**told)  # type: ignore[arg-type]
    return columns_of("day.csv", header, records, ["blue"], ["crest"], reading)


def test_the_column_of_times_may_have_any_name() -> None:
    for name in ("time", "Zeitpunkt", "DateTime (local)", "t"):
        assert columns([name, "blue_volts", "blue_relay"], RECORDS).times == (name,)


def test_two_columns_of_times_are_asked_for() -> None:
    records = [["2027-03-02 12:00", "2027-03-02 13:00", "8.5"]]
    header = ["here", "there", "blue_volts"]
    with pytest.raises(LogRefused, match="here and there all hold times") as refusal:
        columns(header, records)
    assert "--time-column" in refusal.value.help
    assert columns(header, records, time_columns=("there",)).times == ("there",)


def test_date_and_time_of_day_may_have_columns_of_their_own() -> None:
    records = [["2027-03-02", "12:00", "8.5"]]
    header = ["day", "clock", "blue_volts"]
    assert columns(header, records, time_columns=("day", "clock")).times == ("day", "clock")


def test_columns_called_date_and_time_belong_together() -> None:
    header = ["date", "time", "blue_volts"]
    assert columns(header, [["2027-03-02", "12:00:00", "8.5"]]).times == ("date", "time")
    assert columns(header, [["02.03.2027", "12:00", "8.5"]]).times == ("date", "time")
    assert columns(header, [["2027-03-02", "2027-03-02 12:00", "8.5"]]).times == ("time",)
    assert columns(header, [["2027-03-02", "1803945600", "8.5"]]).times == ("time",)


@pytest.mark.parametrize(
    ("header", "told", "words"),
    [
        (["a", "blue_volts"], {}, "none holds dates with times of day"),
        (["time", "blue_volts"], {"time_columns": ("tim",)}, "it has no column 'tim'"),
        (["time", "blue_volts", "blue_volts"], {}, "two columns are called 'blue_volts'"),
        (["time", "volts_of_blue"], {}, "none of its columns"),
        (["time", "A0"], {"columns": {"A0": ("sand", Quantity.PPFD)}}, "no zone 'sand' for ppfd"),
        (["time", "A0"], {"columns": {"A1": ("blue", Quantity.VOLTS)}}, "it has no column 'A1'"),
    ],
)
def test_columns_that_are_not_clear(header: list[str], told: dict[str, object], words: str) -> None:
    with pytest.raises(LogRefused, match=words):
        columns(header, [["8.5"] * len(header)], **told)


def test_a_column_that_is_explained_holds_no_times() -> None:
    """Converter codes of Unix size do not exist, but a column of zeros and dates may."""
    found = columns(
        ["a", "b"], [["2027-03-02 12:00", "2027"]], columns={"b": ("blue", Quantity.COUNT)}
    )
    assert found.times == ("a",) and found.meanings == {"b": ("blue", Quantity.COUNT)}


@pytest.mark.parametrize(
    ("line", "mark"),
    [
        ("time,blue_volts", ","),
        ("time;blue_volts;a,b", ";"),
        ("time\tblue_volts", "\t"),
        ("time", ","),
    ],
)
def test_what_separates_fields(line: str, mark: str) -> None:
    assert separator_of(line) == mark


def test_a_column_that_is_nearly_understood() -> None:
    found = columns(["time", "blue_volt", "blue_relay", "note"], RECORDS)
    assert near_misses(found, ["blue"], ["crest"]) == [
        "column 'blue_volt' is not understood; did you mean 'blue_volts'?"
    ]
