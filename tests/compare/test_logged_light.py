"""What a log says about light, from each quantity."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.expected import Expected
from photoperiod.compare.log_model import Log, Quantity, Series
from photoperiod.compare.logged_light import judged_series, light_of, logged_lights
from photoperiod.drive.ballast import BallastCurve, DarkKind, ResponseKind
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, LevelUnit, RelayKind, RelayMode, Rounding
from photoperiod.drive.light_path import LightPath
from photoperiod.formats.table import PlayableTable, read_table
from photoperiod.sky.clock import Clock
from tests.board.bench import MIDNIGHT
from tests.board.bench import table as exported
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


def test_a_level_on_an_output_with_volts_of_its_own_is_what_came_out() -> None:
    # by hand: level 50 % is code 2048, 5.27 V of a stage that gives 10.54 V for 10; linear from 10 % at 1 V
    path = LightPath(
        levels=LevelGrid(unit=LevelUnit.PERCENT, step=Fraction(1), every_seconds=1,
                         rounding=Rounding.HALF_UP),
        converter=Converter.nominal(12, 10.0, 10.0),
        relay=RelayMode(kind=RelayKind.NONE),
        ballast=BallastCurve(kind=ResponseKind.LINEAR, floor_volts=1.0, full_volts=10.0,
                             floor_light=0.1, dark=DarkKind.NEVER),
        output=Converter.nominal(12, 10.54, 10.0),
    )  # fmt: skip
    on, light = np.array([True]), 0.1 + 0.9 * (5.27 - 1) / 9
    for quantity, value in (
        (Quantity.LEVEL_PERCENT, 50.0), (Quantity.COUNT, 50.0), (Quantity.CONVERTER_CODE, 2048.0),
        (Quantity.VOLTS, 5.27),
    ):  # fmt: skip
        assert light_of(path, quantity, np.array([value]), on) == pytest.approx([light])


def test_the_most_certain_quantity_counts(held: PlayableTable) -> None:
    found = lights(held, None, Quantity.LIGHT_PERCENT, Quantity.COUNT)
    assert found == [pytest.approx(0.25, abs=1e-4)]
    assert lights(held, None, Quantity.LIGHT_PERCENT) == [pytest.approx(0.36)]


def test_where_one_is_blank_the_next_most_certain_counts(held: PlayableTable) -> None:
    """By hand: level 50 gives 25 % light, 10 V all of it, 36 % are 36 %."""
    unix_s = START.timestamp() + 43_200 + 60.0 * np.arange(5)

    def series(quantity: Quantity, at: list[int], value: float) -> Series:
        return Series("blue", quantity, unix_s[at], np.full(len(at), value))

    parts = [
        series(Quantity.LIGHT_PERCENT, [0, 4], 36.0),
        series(Quantity.VOLTS, [1, 2, 3], 10.0),
        series(Quantity.COUNT, [0, 2], 50.0),
    ]
    log = Log(series={("blue", one.quantity): one for one in parts})
    assert [(one.quantity, one.unix_s.tolist()) for one in judged_series(log, "blue")] == [
        (Quantity.COUNT, unix_s[[0, 2]].tolist()),
        (Quantity.VOLTS, unix_s[[1, 3]].tolist()),
        (Quantity.LIGHT_PERCENT, unix_s[[4]].tolist()),
    ]
    (light,) = logged_lights(held, log, Expected(held, held.clock(None)), None)
    assert light.unix_s.tolist() == unix_s.tolist()
    assert light.values.tolist() == pytest.approx([0.25, 1, 0.25, 1, 0.36], abs=1e-4)
    assert light.held.tolist() == [True, False, True, False, False]


def test_each_channel_and_zone_has_its_own_light() -> None:
    """Both channels give 130 µmol m⁻² s⁻¹ to the zone at full."""
    held = read_table("table.json", exported((0, 80), channels=("blue", "white")))
    unix_s = np.array([float(MIDNIGHT)])
    one = {
        ("white", Quantity.COUNT): 60.0,
        ("blue", Quantity.COUNT): 50.0,
        ("crest", Quantity.PPFD): 99.0,
    }
    series = {(id, q): Series(id, q, unix_s, np.array([v])) for (id, q), v in one.items()}
    expected = Expected(held, Clock.utc())
    found = list(logged_lights(held, Log(series=series), expected, None))
    assert [(light.subject, light.is_zone, light.holds) for light in found] == [
        ("blue", False, True),
        ("white", False, True),
        ("crest", True, False),
    ]
    assert [light.scale for light in found] == [1, 1, 260]
    values = [float(light.values[0]) for light in found]
    # 60 % of 4096 codes is 2457.6: code 2458
    assert values == [pytest.approx(0.25), pytest.approx((2458 / 4096) ** 2), 99]
    # 80 % of 10 V, and twice 130 µmol m⁻² s⁻¹ × 0.64
    assert [float(light.expected(unix_s)[0]) for light in found] == [
        pytest.approx(0.64, abs=1e-3),
        pytest.approx(0.64, abs=1e-3),
        pytest.approx(2 * 130 * 0.64, abs=0.2),
    ]


def test_a_relay_holds_from_its_own_record_on(held: PlayableTable) -> None:
    unix_s = START.timestamp() + 43_200 + np.array([0.0, 60.0, 120.0])
    series = {
        ("blue", Quantity.COUNT): Series("blue", Quantity.COUNT, unix_s, np.full(3, 50.0)),
        ("blue", Quantity.RELAY): Series("blue", Quantity.RELAY, unix_s[:2], np.array([0.0, 1.0])),
    }
    expected = Expected(held, held.clock(None))
    (light,) = logged_lights(held, Log(series=series), expected, None)
    assert light.values.tolist() == [0, *[pytest.approx(0.25, abs=1e-4)] * 2]
