"""Slips in small maps are found at a known rate, and good maps are left alone at a known rate."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.readings.fall_off import Fixture
from photoperiod.readings.slips import slips
from tests.conftest import drawn

#: As `doubts` calls it.
FACTOR = 2.0


def of(rows: dict[tuple[int, float], float]) -> list[float] | None:
    """Return by what factor each reading is off, 1 where it is not, NaN where nothing can be said."""
    place = np.array([at for at, _ in rows])
    depth = np.array([z for _, z in rows], dtype=float)
    off = slips(place, depth, np.log(list(rows.values())), FACTOR)
    return None if off is None else [round(float(each), 3) for each in np.exp(off)]


def test_a_slip_stands_against_all_others() -> None:
    # by hand: 300/100 = 330/110 = 3 between the depths; 900 is to 90 as 270 would be, times 3.33
    rows = {
        (0, 5): 300.0,
        (0, 30): 100.0,
        (1, 5): 330.0,
        (1, 30): 110.0,
        (2, 5): 900.0,
        (2, 30): 90.0,
    }
    assert of(rows) == [1, 1, 1, 1, 3.333, 1]


def test_a_place_that_is_bright_or_dark_at_each_depth_is_none() -> None:
    rows = {(at, z): light * share for at, share in enumerate((1.0, 5.0, 0.2))
            for z, light in ((5, 300.0), (30, 100.0))}  # fmt: skip
    assert of(rows) == [1] * 6


def test_depths_within_a_centimetre_are_the_same() -> None:
    rows = {(0, 5): 300.0, (0, 30): 100.0, (1, 5.6): 330.0, (1, 30.8): 110.0, (2, 4.9): 2700.0,
            (2, 29.7): 90.0}  # fmt: skip
    assert of(rows) == [1, 1, 1, 1, 10, 1]


def test_what_stands_beside_no_other_is_not_judged() -> None:
    rows = {(0, 5): 300.0, (0, 30): 100.0, (1, 5): 330.0, (1, 30): 110.0, (2, 5): 270.0, (2, 30): 90.0,
            (3, 50): 9000.0}  # fmt: skip
    found = of(rows)
    assert found is not None and math.isnan(found[-1]) and found[:-1] == [1] * 6
    # two readings at one place and depth tell nothing of each other
    assert slips(np.zeros(4, int), np.array([5.0, 5, 30, 30]), np.zeros(4), FACTOR) is None


def test_two_slips_do_not_hide_each_other() -> None:
    rows = {
        (at, z): 300.0 / (1 + z / 20) * (1 + 0.1 * at) for at in range(4) for z in (5.0, 20.0, 40.0)
    }
    rows[0, 5.0] *= 10
    rows[3, 20.0] /= 10
    found = of(rows)
    assert found is not None
    assert [index for index, each in enumerate(found) if each != 1] == [0, 10]
    assert found[0] == pytest.approx(10, rel=0.1) and found[10] == pytest.approx(0.1, rel=0.1)


@dataclass
class Rates:
    """Of maps without a slip, how many are doubted; of slips, how many are found, and at their row."""

    maps: int = 0
    doubted: int = 0
    decimal: int = 0
    decimal_found: int = 0
    decimal_at_row: int = 0
    swapped: int = 0
    swapped_found: int = 0


def a_map(dice: random.Random, length_share: float) -> dict[tuple[int, float], float]:
    """Return 6 to 29 readings under tubes that are so long beside the tank, with noise and shadows."""
    length, width = dice.choice([60, 90, 120, 150]), dice.choice([40, 50, 60])
    tubes = dice.choice([1, 2, 3])
    fixture = Fixture(
        height_cm=dice.uniform(8, 40),
        length_cm=length * length_share,
        middle_x_cm=length / 2,
        tube_y_cm=tuple(width * (each + 0.5) / tubes for each in range(tubes)),
    )
    xs = dice.sample([length * (each + 0.5) / 6 for each in range(6)], dice.choice([2, 3, 4]))
    ys = [width / 2] if dice.random() < 0.5 else [width * 0.25, width * 0.75]
    zs = dice.sample([5.0, 12, 20, 28, 35, 42, 50], dice.choice([2, 3]))
    noise, shadow = dice.choice([0.02, 0.03, 0.05]), dice.choice([0, 0.05, 0.1, 0.2, 0.4])
    strength, per_m = dice.uniform(20, 60), dice.uniform(0.05, 0.4)
    places = [(x, y) for y in ys for x in xs]
    here = [(at, x, y, z) for at, (x, y) in enumerate(places) for z in zs]
    _, *axes = (np.array(each, dtype=float) for each in zip(*here, strict=True))
    clear = strength * fixture.light_at(*axes) * np.exp(-per_m * axes[2] / 100)
    shades = [math.exp(dice.gauss(0, shadow)) for _ in places]
    return {
        (at, z): max(round(float(light) * shades[at] * math.exp(dice.gauss(0, noise))), 1.0)
        for (at, _, _, z), light in zip(here, clear, strict=True)
    }


def slip_of(dice: random.Random, light: float) -> float:
    """Return a number as it is typed wrong: a digit too many or too few, a point, two exchanged."""
    digits = f"{light:g}"
    at = dice.randrange(len(digits))
    swapped = list(digits)
    if at:
        swapped[at - 1], swapped[at] = swapped[at], swapped[at - 1]
    return float(
        dice.choice([digits + str(dice.randrange(10)), digits[:-1] or "0", f"{light * 10:g}",
                     f"{light / 10:g}", "".join(swapped)])
    )  # fmt: skip


def measured(seeds: range, length_share: float) -> Rates:
    rates = Rates()
    for seed in seeds:
        dice = random.Random(seed)
        rows = a_map(dice, length_share)
        if len(rows) < 6:
            continue
        rates.maps += 1
        found = of(rows)
        rates.doubted += found is None or any(each != 1 for each in found)
        for _ in range(3):
            key = dice.choice(list(rows))
            wrong = slip_of(dice, rows[key])
            factor = max(wrong, 0.1) / rows[key]
            size = max(factor, 1 / factor)
            found = of({**rows, key: max(wrong, 0.1)})
            assert found is not None
            at = list(rows).index(key)
            if size > 5:
                rates.decimal += 1
                rates.decimal_found += any(each != 1 for each in found)
                rates.decimal_at_row += found[at] != 1
            elif size > FACTOR:
                rates.swapped += 1
                rates.swapped_found += found[at] != 1
    return rates


#: Tubes as long as the tank, half as long, and spots: how many good maps are doubted at most, how many
#: decimal slips are found at least, and found at their row, and how many exchanged digits of twice as much.
RATES = [
    (0.95, 0.002, 0.999, 0.995, 0.8),
    (0.5, 0.06, 0.99, 0.96, 0.6),
    (0.1, 0.14, 0.99, 0.93, 0.5),
]


@pytest.mark.slow
@pytest.mark.parametrize(("length_share", "doubted", "found", "at_row", "swapped"), RATES)
def test_rates_over_a_thousand_seeds(
    length_share: float, doubted: float, found: float, at_row: float, swapped: float
) -> None:
    rates = measured(range(1000), length_share)
    assert rates.doubted <= doubted * rates.maps
    assert rates.decimal_found >= found * rates.decimal
    assert rates.decimal_at_row >= at_row * rates.decimal
    assert rates.swapped_found >= swapped * rates.swapped


def test_rates_of_tubes_over_a_few_seeds() -> None:
    rates = measured(range(60), 0.95)
    assert rates.maps > 30 and rates.decimal > 80
    assert rates.doubted == 0
    assert rates.decimal_at_row >= 0.97 * rates.decimal


@settings(max_examples=drawn(40))
@given(st.integers(0, 10_000), st.floats(0.01, 100), st.randoms(use_true_random=False))
def test_unit_and_order_have_no_say(seed: int, scale: float, dice: random.Random) -> None:
    rows = a_map(random.Random(seed), 0.95)
    rows[dice.choice(list(rows))] *= 10
    keys = list(rows)
    dice.shuffle(keys)
    once, again = of(rows), of({key: rows[key] * scale for key in keys})
    assert once is not None and again is not None
    assert dict(zip(rows, once, strict=True)) == pytest.approx(
        dict(zip(keys, again, strict=True)), nan_ok=True
    )
