"""What a log says about light, from each quantity."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.expected import Expected
from photoperiod.compare.log_reader import Log, Quantity, Series
from photoperiod.compare.logged_light import light_of, logged_lights
from photoperiod.formats.table import PlayableTable, read_table
from tests.compare.logs import (
    START,
)


@pytest.fixture(scope="module")
def held(table: Path) -> PlayableTable:
    return read_table("table.json", table.read_bytes())


@pytest.mark.parametrize(
    ("quantity", "value", "light"),
    [
        # a square law from 1 % at 1 V to full at 10 V: light is (volts / 10)²
        (Quantity.VOLTS, 5.0, 0.25),
        (Quantity.MILLIVOLTS, 5000, 0.25),
        (Quantity.LEVEL_PERCENT, 50, 0.25),
        (Quantity.CONVERTER_CODE, 2048, 0.25),
        (Quantity.COUNT, 50, 0.25),
        (Quantity.LIGHT_PERCENT, 25, 0.25),
        (Quantity.VOLTS, 0.5, 0.01),  # below the floor
        (Quantity.VOLTS, 11.0, 1.0),  # above full
    ],
)
def test_each_quantity_gives_light(
    held: PlayableTable, quantity: Quantity, value: float, light: float
) -> None:
    path, values = held.paths["blue"], np.array([float(value)])
    assert light_of(path, quantity, values, np.array([True])) == pytest.approx([light], abs=1e-4)
    dark = light_of(path, quantity, values, np.array([False]))
    assert dark.tolist() == ([0.25] if quantity is Quantity.LIGHT_PERCENT else [0.0])


def lights(held: PlayableTable, shift: ClockShift | None, *quantities: Quantity) -> list[float]:
    """Light of blue by a log of one record at 03:30, when the table has the relay open."""
    unix_s = np.array([START.timestamp() + 3.5 * 3600])
    one = {Quantity.COUNT: 50.0, Quantity.LIGHT_PERCENT: 36.0, Quantity.RELAY: 0.0}
    series = {("blue", q): Series("blue", q, unix_s, np.array([one[q]])) for q in quantities}
    expected = Expected(held, held.clock(None))
    return [
        float(light.values[0]) for light in logged_lights(held, Log(series=series), expected, shift)
    ]


def test_a_relay_is_taken_from_the_log_or_from_the_table(held: PlayableTable) -> None:
    right, behind = (ClockShift(np.zeros(1), np.array([s])) for s in (0.0, 8.5 * 3600))
    assert lights(held, None, Quantity.COUNT) == [pytest.approx(0.25, abs=1e-4)]  # closed at first
    assert lights(held, right, Quantity.COUNT) == [0.0]
    assert lights(held, behind, Quantity.COUNT) == [pytest.approx(0.25, abs=1e-4)]  # noon in truth
    assert lights(held, behind, Quantity.COUNT, Quantity.RELAY) == [0.0]


def test_the_most_certain_quantity_counts(held: PlayableTable) -> None:
    found = lights(held, None, Quantity.LIGHT_PERCENT, Quantity.COUNT)
    assert found == [pytest.approx(0.25, abs=1e-4)]
    assert lights(held, None, Quantity.LIGHT_PERCENT) == [pytest.approx(0.36)]
