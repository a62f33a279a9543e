from __future__ import annotations

import numpy as np
import pytest

from photoperiod.drive.mains import PowerLine


@pytest.mark.parametrize(
    ("light", "power"),
    # P/P0 = 0.125 + 0.875 L: the line through 0.3 at 0.2 and 1 at 1 of the example inputs of
    # Daylighting:Controls in EnergyPlus
    [(0.2, 0.3), (0.5, 0.5625), (0.9, 0.9125), (1.0, 1.0)],
)
def test_the_line_of_a_building_simulation(light: float, power: float) -> None:
    line = PowerLine(floor_light=0.2, floor=30, full=100, dark=0.0)
    (watts,) = line.watts(np.array([light]), np.array([True]), np.array([True]))
    assert watts == pytest.approx(100 * power)


def test_power_in_the_dark_needs_the_mains() -> None:
    line = PowerLine(floor_light=0.01, floor=25, full=118, dark=0.5)
    dark = np.zeros(2)
    watts = line.watts(dark, np.array([False, False]), np.array([True, False]))
    assert watts.tolist() == [0.5, 0.0]
