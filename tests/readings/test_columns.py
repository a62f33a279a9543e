"""Names of columns: each has its unit, none is ignored."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.readings.columns import COLUMNS, Quantity, columns_of, require
from photoperiod.readings.dialect import read_csv
from photoperiod.readings.faults import Faults
from photoperiod.readings.reader import read_readings
from tests.conftest import drawn
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
        ("zone,depth", "depth", "unknown column 'depth'", "say its unit: depth_mm, depth_cm or"),
        ("zone,x", "x", "unknown column 'x'", "say its unit: x_mm, x_cm or x_m"),
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


quick = settings(max_examples=drawn(60))

#: Cells of one reading by their columns, in the units of three keepers.
CELLS = (
    {"x_cm": "20", "y_cm": "5", "depth_cm": "12", "level_percent": "80"},
    {"x_mm": "200", "y_mm": "50", "depth_mm": "120", "volts": "8"},
    {"x_m": "0.2", "y_m": "0.05", "depth_m": "0.12", "level_percent": "80"},
)
REST = {
    "channel": "blue",
    "ppfd_umol_m2_s": "130",
    "immersion_applied": "yes",
    "note of mine": "a, b",
}


@quick
@given(st.sampled_from(CELLS), st.randoms(use_true_random=False))
def test_columns_in_any_order_and_unit_are_the_same_reading(
    cells: dict[str, str], dice: object
) -> None:
    named = list({**cells, **REST}.items())
    dice.shuffle(named)  # type: ignore[attr-defined]
    text = (
        ",".join(name for name, _ in named)
        + "\n"
        + ",".join(f'"{cell}"' for _, cell in named)
        + "\n"
    )
    found, faults = read_readings("x.csv", text.encode(), "map")
    assert found is not None and not faults
    # by hand: 200 mm and 0.2 m are 20 cm, 80 % of 10 V are 8 V
    numbers = [found.x_cm[0], found.y_cm[0], found.depth_cm[0], found.volts[0], found.light[0]]
    assert np.allclose(numbers, [20, 5, 12, 8, 130], rtol=1e-12)


@quick
@given(st.text(alphabet="abcdefghij_", min_size=1, max_size=12))
def test_no_column_is_ignored(name: str) -> None:
    _, faults = found_in(f"zone,{name}")
    assert bool(faults) == (name not in COLUMNS or name == "zone")
