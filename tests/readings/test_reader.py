"""Cells → values, each fault at its row and column."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.diagnostics.codes import CODES
from photoperiod.readings.dialect import HEADER
from photoperiod.readings.faults import MOST_FAULTS
from photoperiod.readings.model import LightUnit
from photoperiod.readings.reader import NEEDS, read_readings
from photoperiod.schedule.questions import QUESTIONS
from tests.readings.bench import HEAD, csv, readings_of, told

GOOD = "10,5,6,blue,100,130,yes,"


def test_a_reading_by_hand() -> None:
    readings = readings_of("1.5,20,6,blue+white,80,130.5,yes,", "0,0,0,blue,100,100,no,1.32")
    assert readings.x_cm.tolist() == [1.5, 0]
    assert readings.channels == (("blue", "white"), ("blue",))
    assert readings.volts.tolist() == [8.0, 10.0]
    # 100 × 1.32: the maker's factor is applied where the file says that it still is to be
    assert readings.light.tolist() == pytest.approx([130.5, 132.0])
    assert readings.unit is LightUnit.PPFD


def test_units_of_the_columns_are_turned_into_cm_and_volts() -> None:
    head = "x_mm,y_m,depth_m,channel,volts,ppfd_umol_m2_s,immersion_applied,date"
    readings = readings_of("125,0.3,0.06,blue,9.5,130,yes,2027-02-20", head=head)
    values = (readings.x_cm[0], readings.y_cm[0], readings.depth_cm[0], readings.volts[0])
    assert values == pytest.approx((12.5, 30, 6, 9.5))
    assert readings.dates == (dt.date(2027, 2, 20),)


@pytest.mark.parametrize("separator", [";", "\t"])
def test_semicolons_and_decimal_commas_are_read_like_commas_and_points(separator: str) -> None:
    by_point = readings_of("1.5,20,6,blue,100,130.5,no,1.32")
    raw = csv("1.5,20,6,blue,100,130.5,no,1.32".replace(",", separator).replace(".", ","),
              head=HEAD.replace(",", separator))  # fmt: skip
    by_comma, faults = read_readings("x.csv", raw, "map")
    assert by_comma is not None and not faults.has_errors
    assert by_comma.light.tolist() == by_point.light.tolist()
    assert by_comma.x_cm.tolist() == by_point.x_cm.tolist()


@pytest.mark.parametrize(
    ("row", "marked", "message"),
    [
        ("10,5,6,blue,100,12O,yes,", "12O", "'12O' is not a number"),
        ("10,5,6,blue,100,130 lux,yes,", "130 lux", "'130 lux' is not a number"),
        ("10,5,6 cm,blue,100,130,yes,", "6 cm", "'6 cm' is not a number"),
        ("10,5,6,blue,100,nan,yes,", "nan", "'nan' is not a number"),
        ("10,5,6,blue,100,1e3,yes,", "1e3", "'1e3' is not a number"),
        ("10,5,6,blue,100,1_000,yes,", "1_000", "'1_000' is not a number"),
        ("10,5,6,blue,100,-5,yes,", "-5", "-5 is not from 0 to 5000"),
        ("10,5,6,blue,100,6500,yes,", "6500", "6500 is not from 0 to 5000"),
        ("10,5,6,blue,101,130,yes,", "101", "101 is not from 0 to 100"),
        ("10,5,1001,blue,100,130,yes,", "1001", "1001 is not from 0 to 1000"),
        ("10,5,6,blue,100,,yes,", "", "`ppfd_umol_m2_s` is empty"),
        ("10,5,6,blue,,130,yes,", "", "`level_percent` is empty"),
        ("10,5,6,Blue,100,130,yes,", "Blue", "'Blue' is no id of a channel"),
        ("10,5,6,blue+,100,130,yes,", "blue+", "'' is no id of a channel"),
        ("10,5,6,blue+blue,100,130,yes,", "blue+blue", "'blue+blue' is no id of a channel"),
        ("10,5,6,,100,130,yes,", "", "`channel` is empty"),
        ("10,5,6,blue,100,130,perhaps,", "perhaps", "'perhaps' is neither yes nor no"),
        ("10,5,6,blue,100,130,no,", "no",
         "a correction is still to be applied, but no factor is given"),
        ("10,5,6,blue,100,130,no,13.2", "13.2", "13.2 is not from 0.5 to 3"),
        ("10,5,6,blue,100,130,yes", "", "this row has 7 cells, the header 8"),
        ("10,5,6,blue,100,130,yes,,", "", "this row has 9 cells, the header 8"),
        ("10,5,6,blue,100,130", "", "this row has 6 cells, the header 8"),
    ],
)  # fmt: skip
def test_a_faulty_cell_is_told_at_its_row_and_column(row: str, marked: str, message: str) -> None:
    raw = csv(GOOD, row)
    readings, faults = read_readings("x.csv", raw, "map")
    assert readings is None
    assert [each.message for each in faults] == [message]
    ((code, line, shown),) = told(faults, raw)
    assert (code, line) == ("PHO904", 3)
    assert shown.strip(",") == marked


def test_what_looks_like_lux_is_answered_by_words_on_lux() -> None:
    _, faults = read_readings("x.csv", csv(GOOD, "1,1,1,blue,100,6500,yes,"), "map")
    assert "is it lux?" in faults[0].help


def test_a_faulty_date() -> None:
    head = "volts,ppfd_umol_m2_s,date"
    raw = csv("1,5,2027-02-30", "2,6,20270302", "3,7,2027-03-02", head=head)
    _, faults = read_readings("x.csv", raw, "sweep")
    assert told(faults, raw) == [("PHO904", 2, "2027-02-30"), ("PHO904", 3, "20270302")]
    assert [(each.message, each.help) for each in faults] == [
        ("there is no such date as 2027-02-30", "the days of 2027-02 are 01 to 28"),
        ("'20270302' is not a date", "write it as 2027-03-02"),
    ]


def test_all_faults_at_once() -> None:
    raw = csv("x,5,6,blue,100,130,yes,", "10,y,6,blue,100,130,yes,", "10,5,6,blue,100,z,yes,", GOOD)
    _, faults = read_readings("x.csv", raw, "map")
    assert told(faults, raw) == [("PHO904", 2, "x"), ("PHO904", 3, "y"), ("PHO904", 4, "z")]


def test_a_file_of_exchanged_columns_is_not_read_to_its_end() -> None:
    raw = csv(*[f"{x},5,6,blue,130,z,yes," for x in range(500)])
    readings, faults = read_readings("x.csv", raw, "map")
    assert readings is None
    assert len(faults) == MOST_FAULTS


def test_a_row_that_repeats_another_cell_by_cell_is_named() -> None:
    raw = csv(GOOD, "11,5,6,blue,100,120,yes,", GOOD)
    readings, faults = read_readings("x.csv", raw, "map")
    assert readings is not None and len(readings) == 3
    assert told(faults, raw) == [("PHO905", 4, "10")]
    assert "repeats line 2" in faults[0].message


@pytest.mark.parametrize("use", ["sweep", "series"])
def test_a_reading_that_comes_again_is_ordinary_in_a_sweep_or_a_series(use: str) -> None:
    head = "volts,lit_hours,ppfd_umol_m2_s"
    readings, faults = read_readings("x.csv", csv("5,100,60", "5,100,60", head=head), use)
    assert readings is not None and len(readings) == 2
    assert faults == []


def test_a_row_is_left_out_only_with_a_reason_and_is_named() -> None:
    raw = csv(GOOD + ",", "11,5,6,blue,100,1200,yes,,a digit too many", head=HEAD + ",leave_out")
    readings, faults = read_readings("x.csv", raw, "map")
    assert readings is not None and len(readings) == 1
    assert told(faults, raw) == [("PHO909", 3, "a digit too many")]


def test_lux_beside_ppfd_is_not_used_and_that_is_said() -> None:
    raw = csv(GOOD + ",2600", head=HEAD + ",lux")
    readings, faults = read_readings("x.csv", raw, "map")
    assert readings is not None and readings.light.tolist() == [130]
    assert told(faults, raw) == [("PHO909", 1, "lux")]


def test_lux_alone_is_lux() -> None:
    readings = readings_of("1,250", "2,900", head="volts,lux", use="sweep")
    assert readings.unit is LightUnit.LUX
    assert readings.light.tolist() == [250, 900]


@pytest.mark.parametrize("use", NEEDS)
def test_each_use_says_what_it_lacks(use: str) -> None:
    readings, faults = read_readings("x.csv", b"zone,note\na,b\n", use)
    assert readings is None
    assert {each.code for each in faults} == {"PHO903"}
    assert len(faults) == len(NEEDS[use]) + 1


NUMBER = st.floats(0, 5000).map(lambda value: round(value, 2))


@given(
    st.lists(NUMBER, min_size=1, max_size=20), st.sampled_from([(",", "."), (";", ","), (";", ".")])
)
def test_what_is_written_is_read(values: list[float], dialect: tuple[str, str]) -> None:
    separator, mark = dialect
    cells = [f"{value:.2f}".replace(".", mark) for value in values]
    head = separator.join(["volts", "ppfd_umol_m2_s"])
    raw = csv(*[f"5{separator}{cell}" for cell in cells], head=head)
    readings, _ = read_readings("x.csv", raw, "sweep")
    assert readings is not None
    assert np.array_equal(readings.light, np.array(values))


@given(st.binary(max_size=120))
def test_no_bytes_raise(tail: bytes) -> None:
    for use in NEEDS:
        read_readings("x.csv", HEAD.encode() + b"\n" + tail, use)


def test_the_header_that_messages_and_the_wizard_tell_makes_a_map() -> None:
    raw = f"{HEADER}\ncrest,blue,100,yes,90\n".encode()
    found, faults = read_readings("m.csv", raw, "map")
    assert found is not None and not list(faults)
    (question,) = (each for each in QUESTIONS if each.name == "readings_file")
    for name in HEADER.split(","):
        assert f"`{name}`" in question.help
    for raw in (b"", b"foo,bar\n1,2\n"):
        (fault,) = read_readings("m.csv", raw, "map")[1]
        assert f"`{HEADER}`" in fault.help


@pytest.mark.parametrize("use", NEEDS)
def test_the_explanation_of_columns_names_all_that_a_use_needs(use: str) -> None:
    words = re.sub(r"\s+", " ", CODES["PHO903"].explanation)
    (told,) = re.findall(rf"A {use} needs ([^.]+)\.", words)
    _, faults = read_readings("x.csv", b"date,point\n2027-02-20,p\n", use)
    needed = [
        each.message.split("column ")[1] for each in faults if "needs a column" in each.message
    ]
    assert len(needed) == len(NEEDS[use]) + 1
    for column in needed:
        assert column in told
