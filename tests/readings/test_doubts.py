"""Readings that stand out are named with the reason; others are not."""

from __future__ import annotations

import math
import random

import pytest

from photoperiod.readings.doubts import LEAST_POINTS
from tests.readings.bench import HEAD, csv, map_of, told


def smooth(noise: float = 0.02, seed: int = 1, **slips: float) -> list[str]:
    """Return a grid of 36 points at three depths over a field that falls off to all sides."""
    dice, rows = random.Random(seed), []
    for depth in (5, 20, 35):
        for y in range(6):
            for x in range(6):
                light = 250 * math.exp(-depth / 40 - ((x - 2.5) / 5) ** 2 - ((y - 2.5) / 5) ** 2)
                light *= dice.gauss(1, noise) * slips.get(f"at_{x}_{y}_{depth}", 1.0)
                rows.append(f"{x * 20},{y * 10},{depth},blue,100,{light:.1f},yes,")
    return rows


def test_a_smooth_field_has_no_strays() -> None:
    for seed in range(20):
        assert map_of(*smooth(seed=seed)).faults == []


@pytest.mark.parametrize("factor", [10, 0.1, 2, 0.5])
def test_a_slip_is_named_at_its_cell(factor: float) -> None:
    rows = smooth(at_3_2_20=factor)
    found = map_of(*rows)
    line = 2 + 36 + 2 * 6 + 3
    assert told(found.faults, csv(*rows)) == [("PHO906", line, rows[line - 2].split(",")[5])]
    assert "at x 60, y 20, depth 20 cm" in found.faults[0].message
    number, words = found.faults[0].message.rsplit(": ", 1)[1].split(" ", 1)
    assert float(number) == pytest.approx(max(factor, 1 / factor), rel=0.1)
    assert words == ("times as much" if factor > 1 else "times less")
    assert found.map is not None  # it is used as it stands


def test_several_slips_do_not_hide_each_other() -> None:
    found = map_of(*smooth(at_3_2_20=10, at_0_0_5=10, at_5_5_35=0.1))
    assert [each.code for each in found.faults] == ["PHO906"] * 3


def test_noise_makes_strays_rare() -> None:
    # 10 % noise is far more than a meter's; a factor of 1.6 is 4.7 standard deviations
    strays = sum(len(map_of(*smooth(noise=0.1, seed=seed)).faults) for seed in range(20))
    assert strays <= 2


def test_readings_of_a_zone_are_compared_with_each_other() -> None:
    head = "zone,channel,level_percent,ppfd_umol_m2_s,immersion_applied"
    lights = [100, 110, 95, 105, 1020, 98]
    rows = [f"crest,blue,100,{light},yes" for light in lights]
    found = map_of(*rows, head=head)
    assert told(found.faults, csv(*rows, head=head)) == [("PHO906", 6, "1020")]
    assert map_of(*rows[1:LEAST_POINTS], head=head).faults == []  # too few to say


def test_a_meter_at_its_end_is_named() -> None:
    rows = [f"{x},0,0,blue,100,{min(100 + 30 * x, 200)},yes," for x in range(10)]
    found = map_of(*rows, head=HEAD)
    assert told(found.faults, csv(*rows))[0] == ("PHO907", 6, "200")
    assert "6 readings of channel 'blue' are exactly its largest, 200" in found.faults[0].message


def test_a_meter_that_hangs_is_named() -> None:
    rows = [f"{x},0,0,blue,100,77,yes," for x in range(8)]
    found = map_of(*rows)
    assert [each.message for each in found.faults] == ["all 8 readings of channel 'blue' are 77"]


def test_darkness_everywhere_is_no_fault_of_the_meter() -> None:
    assert map_of(*[f"{x},0,0,blue,100,0,yes," for x in range(8)]).faults == []
