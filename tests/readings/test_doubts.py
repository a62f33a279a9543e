"""Readings that stand out are named with the reason; others are not."""

from __future__ import annotations

import itertools
import math
import random

import pytest

from photoperiod.readings.doubts import LEAST_POINTS, not_judged
from tests.conftest import naming
from tests.readings.bench import HEAD, csv, good_map, map_of, told


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


def test_two_units_in_one_column_are_told_once() -> None:
    # daylight has 54 lux for each µmol: Thimijan & Heins 1983, HortScience 18:818-822, as quoted
    rows = smooth(**{f"at_{x}_0_35": 54 for x in range(5)})
    found = map_of(*rows)
    assert told(found.faults, csv(*rows)) == [("PHO906", 2 + 2 * 36, rows[72].split(",")[5])]
    assert "5 readings of channel 'blue'" in found.faults[0].message
    assert found.faults[0].help.startswith("are there two units in the column, lux and PPFD?")


def test_noise_makes_strays_rare() -> None:
    # 10 % noise is far more than a meter's; a factor of 1.6 is 4.7 standard deviations
    strays = sum(len(map_of(*smooth(noise=0.1, seed=seed)).faults) for seed in range(20))
    assert strays <= 2


#: Six points at two depths, as a keeper reads them.
SIX = {(20, 10): 318, (60, 10): 339, (100, 10): 315, (20, 35): 135, (60, 35): 142, (100, 35): 133}


def six() -> list[str]:
    return [f"{x},20,{depth},white,100,{light},yes," for (x, depth), light in SIX.items()]


def test_six_points_have_a_trend_with_depth() -> None:
    assert map_of(*six()).faults == []
    for place, light in SIX.items():
        for factor in (0.1, 0.18, 0.45, 2.2, 2.7, 4.4, 10):
            rows = [
                f"{x},20,{depth},white,100,{value * (factor if (x, depth) == place else 1):.1f},yes,"
                for (x, depth), value in SIX.items()
            ]
            with naming(f"{place} {factor}"):
                found = told(map_of(*rows).faults, csv(*rows))
                line = 2 + list(SIX).index(place)
                assert found == [("PHO906", line, f"{light * factor:.1f}")]


def test_a_place_that_is_bright_at_each_depth_is_no_slip() -> None:
    rows = [
        f"{x},20,{depth},white,100,{light * (2.5 if x == 60 else 1):.1f},yes,"
        for (x, depth), light in SIX.items()
    ]
    assert map_of(*rows).faults == []


def test_what_can_not_be_judged_is_said() -> None:
    (said,) = not_judged(good_map(*six()))
    assert said.startswith("Compared place by place, for want of points: white.")
    (_, said) = not_judged(good_map(*six(), "60,20,50,white,100,90,yes,"))
    assert said.startswith("Not compared, because no other place was read") and "white 1" in said
    (said,) = not_judged(good_map(*six()[:5]))
    assert said.startswith("Too few points to compare") and "for: white 5. It takes 6 " in said
    assert not_judged(good_map(*smooth())) == ()


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


def in_whole_numbers(peak: float, end: float, seed: int) -> list[str]:
    """Return 180 readings in whole numbers below two tubes, the brightest a peak, by a meter with an end."""
    dice, light = random.Random(seed), {}
    height, beside = dice.uniform(10, 35), dice.uniform(5, 25)
    for x, y, z in itertools.product(range(10, 120, 20), range(5, 60, 10), (6, 16, 28, 39, 50)):
        tubes = (1 / math.hypot(height + z, y - 30 - side) for side in (-beside, beside))
        light[x, y, z] = sum(tubes) * (1 - ((x - 60) / 120) ** 2) * dice.gauss(1, 0.03)
    scale = peak / max(light.values())
    return [
        f"{x},{y},{z},blue,100,{min(round(each * scale), end)},yes,"
        for (x, y, z), each in light.items()
    ]


@pytest.mark.parametrize(("peak", "least_found"), [(30, 40), (120, 48), (300, 50)])
def test_a_meter_that_ends_is_told_from_one_that_is_coarse(peak: float, least_found: int) -> None:
    # Of 50 fields: those of a meter that reaches far enough, and those of one that ends at three quarters
    def named(end: float) -> int:
        return sum(
            "PHO907" in {each.code for each in map_of(*in_whole_numbers(peak, end, seed)).faults}
            for seed in range(50)
        )

    assert named(5000) <= 3
    assert named(round(peak * 0.75)) >= least_found


def test_a_dim_channel_is_no_fault_of_the_meter() -> None:
    # whole numbers up to 5: many are alike, and say nothing of the meter's end
    for seed in range(20):
        found = map_of(*in_whole_numbers(5, 5000, seed))
        assert "PHO907" not in {each.code for each in found.faults}


def test_a_meter_that_hangs_is_named() -> None:
    rows = [f"{x},0,0,blue,100,77,yes," for x in range(8)]
    found = map_of(*rows)
    assert [each.message for each in found.faults] == ["all 8 readings of channel 'blue' are 77"]


def test_darkness_everywhere_is_no_fault_of_the_meter() -> None:
    assert map_of(*[f"{x},0,0,blue,100,0,yes," for x in range(8)]).faults == []
