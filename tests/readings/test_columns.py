"""Names of columns: each has its unit, none is ignored."""

from __future__ import annotations

import pytest

from photoperiod.readings.columns import COLUMNS, Quantity, columns_of, require
from photoperiod.readings.dialect import read_csv
from photoperiod.readings.faults import Faults
from tests.readings.bench import told


def found_in(header: str) -> tuple[dict[Quantity, str], Faults]:
    table, faults = read_csv("x.csv", f"{header}\n{',' * header.count(',')}1\n".encode(), COLUMNS)
    assert table is not None
    columns = columns_of(table, faults)
    return {quantity: column.name for quantity, column in columns.items()}, faults


def test_lengths_have_three_units_and_levels_two() -> None:
    factors = {name: kind.factor for name, kind in COLUMNS.items() if kind.factor != 1}
    # by hand: 1 mm is 0.1 cm, 1 m is 100 cm; 1 % of 10 V is 0.1 V
    assert factors == {
        "x_mm": 0.1, "x_m": 100, "y_mm": 0.1, "y_m": 100, "depth_mm": 0.1, "depth_m": 100,
        "level_percent": 0.1,
    }  # fmt: skip


def test_notes_are_not_read() -> None:
    columns, faults = found_in("zone,note,note of the day")
    assert columns == {Quantity.ZONE: "zone"}
    assert faults == []


@pytest.mark.parametrize(
    ("header", "marked", "message", "help"),
    [
        ("depht_cm,zone", "depht_cm", "unknown column 'depht_cm'", "did you mean 'depth_cm'?"),
        ("zone,depth", "depth", "unknown column 'depth'", "did you mean 'depth_m"),
        ("zone,colour", "colour", "unknown column 'colour'", "the columns are x_mm, x_cm"),
        ("zone,", "", "a column without a name", "the columns are"),
        ("zone,volts,level_percent", "level_percent",
         "column 'level_percent' says the same as 'volts'", "keep one"),
        ("zone,x_cm,x_m", "x_m", "column 'x_m' says the same as 'x_cm'", "keep one"),
        ("zone,volts,volts", "volts", "column 'volts' stands twice", "keep one"),
    ],
)  # fmt: skip
def test_a_column_that_is_not_understood_is_told(
    header: str, marked: str, message: str, help: str
) -> None:
    _, faults = found_in(header)
    assert [each.message for each in faults] == [message]
    assert faults[0].help.startswith(help)
    assert told(faults, header.encode()) == [("PHO903", 1, marked)]


def test_a_sweep_that_is_read_as_a_map_is_asked_for() -> None:
    for raw, asks in ((b"volts,lux\n1,2\n", True), (b"zone,lux\na,1\n", False)):
        table, faults = read_csv("x.csv", raw, COLUMNS)
        assert table is not None
        require(table, columns_of(table, faults), (Quantity.CHANNEL,), "a map", faults)
        assert ["`photoperiod measure sweep`" in each.help for each in faults] == [asks]


def test_what_a_use_needs() -> None:
    table, faults = read_csv("x.csv", b"zone,lux\na,1\n", COLUMNS)
    assert table is not None
    require(table, columns_of(table, faults), (Quantity.LEVEL, Quantity.LIGHT), "a sweep", faults)
    # lux stands for light; what it is worth is asked elsewhere
    assert [each.message for each in faults] == [
        "a sweep needs a column `level_percent` or `volts`"
    ]
