"""Ballast responses against published points, formulas and brute force."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.drive.ballast import BallastCurve, levelled
from tests.conftest import drawn

#: Two ways of computing one number in double precision.
ROUNDING_TOLERANCE = 1e-12
#: "About 4 %", read as the nearest whole percent [fraction of full].
WHOLE_PERCENT = 0.005
#: Percents printed with three decimals [%].
PRINTED_PERCENT_TOLERANCE = 0.0005

quick = settings(max_examples=drawn(200))

#: Common practice, no source: 1 % at 1 V and less, full at 10 V.
SQUARE = BallastCurve(
    kind="square-law", floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay"
)
#: A made-up driver: 10 % at 1.2 V, 100 % at 9.2 V, so 90 % in 8 V are 11.25 % for each volt.
DRIVER = BallastCurve(
    kind="linear", floor_volts=1.2, full_volts=9.2, floor_light=0.10, dark="never"
)
LINEAR = BallastCurve(
    kind="linear", floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay"
)
LOG = BallastCurve(kind="log-law", floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay")
#: A made-up meter reading with a dead zone from 4 V to 5 V.
MEASURED = BallastCurve(
    kind="measured",
    floor_volts=1.0,
    full_volts=9.5,
    floor_light=0.02,
    dark="relay",
    volts=(1.0, 2.0, 4.0, 5.0, 8.0, 9.5),
    light=(0.02, 0.05, 0.25, 0.25, 0.70, 1.0),
)
ALL = {"square": SQUARE, "driver": DRIVER, "linear": LINEAR, "log": LOG, "measured": MEASURED}


def light_at(ballast: BallastCurve, volts: float) -> float:
    return float(ballast.light_at(np.array([volts]))[0])


def reachable(ballast: BallastCurve, light: float, most: float = 1.0) -> float:
    return float(ballast.reachable(np.array([light]), most)[0])


@st.composite
def ballasts(draw: st.DrawFn) -> BallastCurve:
    floor_volts = draw(st.floats(0, 5))
    full_volts = floor_volts + draw(st.floats(0.5, 5))
    floor_light = draw(st.floats(0.001, 0.5))
    kind = draw(st.sampled_from(["linear", "square-law", "log-law", "measured"]))
    volts: tuple[float, ...] = ()
    light: tuple[float, ...] = ()
    if kind == "measured":
        shares = sorted(draw(st.sets(st.integers(1, 99), max_size=8)))
        lights = sorted(draw(st.floats(0, 1)) for _ in shares)
        volts = (
            floor_volts,
            *(floor_volts + (full_volts - floor_volts) * s / 100 for s in shares),
            full_volts,
        )
        light = (floor_light, *(floor_light + (1 - floor_light) * x for x in lights), 1.0)
    return BallastCurve(
        kind=kind,
        floor_volts=floor_volts,
        full_volts=full_volts,
        floor_light=floor_light,
        dark=draw(st.sampled_from(["relay", "standby", "never"])),
        below_floor=draw(st.sampled_from(["nearest", "dark", "floor"])),
        volts=volts,
        light=light,
    )


# Points of each law ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "percent", "tolerance"),
    [
        # Common practice, no source: 1 % up to 1 V, about 4 % at 2 V; an open pair (10 V) gives full.
        (0.0, 1, ROUNDING_TOLERANCE),
        (1.0, 1, ROUNDING_TOLERANCE),
        (2.0, 4, WHOLE_PERCENT),
        (10.0, 100, ROUNDING_TOLERANCE),
    ],
)
def test_the_square_law_meets_three_points_of_common_practice(
    volts: float, percent: float, tolerance: float
) -> None:
    assert light_at(SQUARE, volts) == pytest.approx(percent / 100, abs=tolerance)


@pytest.mark.parametrize("volts", range(1, 11))
def test_the_square_law_from_1_percent_is_the_square_of_the_volts(volts: int) -> None:
    # Square root of light: 0.1 at 1 V, 1 at 10 V, a line between; so L = (V/10)²
    assert light_at(SQUARE, volts) == pytest.approx((volts / 10) ** 2, abs=ROUNDING_TOLERANCE)


@pytest.mark.parametrize(
    ("percent", "volts"),
    # 10 % + 11.25 % for each volt above 1.2 V, by hand
    [(10, 1.2), (21.25, 2.2), (32.5, 3.2), (55, 5.2), (77.5, 7.2), (88.75, 8.2), (100, 9.2)],
)
def test_a_driver_that_is_full_below_ten_volts_is_a_line(percent: float, volts: float) -> None:
    assert light_at(DRIVER, volts) == pytest.approx(percent / 100, abs=ROUNDING_TOLERANCE)


def test_the_driver_is_full_at_the_volts_that_it_states() -> None:
    assert light_at(DRIVER, 9.2) == 1.0
    assert light_at(DRIVER, 10.0) == 1.0


@pytest.mark.parametrize(("percent", "volts"), [(4, 1.2), (16, 2.2), (52, 5.2), (100, 9.2)])
def test_a_driver_with_a_lower_floor_is_a_steeper_line(percent: float, volts: float) -> None:
    # 4 % at 1.2 V, 100 % at 9.2 V: 96 % in 8 V are 12 % for each volt.
    driver = replace(DRIVER, floor_light=0.04)
    assert light_at(driver, volts) == pytest.approx(percent / 100, abs=ROUNDING_TOLERANCE)


@pytest.mark.parametrize("volts", range(1, 11))
def test_the_linear_law_is_a_line(volts: int) -> None:
    # 1 % at 1 V, 100 % at 10 V: 1 + 11 (V − 1) %
    assert light_at(LINEAR, volts) == pytest.approx(
        (1 + 11 * (volts - 1)) / 100, abs=ROUNDING_TOLERANCE
    )
    # 10 % up to 1.2 V, 100 % at 9.2 V and above: 10 + 11.25 (V − 1.2) %
    wanted = min(max(10 + 11.25 * (volts - 1.2), 10), 100) / 100
    assert light_at(DRIVER, volts) == pytest.approx(wanted, abs=ROUNDING_TOLERANCE)


@pytest.mark.parametrize("volts", range(1, 11))
def test_the_log_law_multiplies(volts: int) -> None:
    # 1 % at 1 V and two decades over 9 V: 10^((V − 1)/4.5) %
    wanted = 10 ** ((volts - 1) / 4.5) / 100
    assert light_at(LOG, volts) == pytest.approx(wanted, rel=ROUNDING_TOLERANCE)


@pytest.mark.parametrize(
    ("n", "percent"),
    [
        # The curve of IEC 62386-102, X(n) = 10^((n − 1)/(253/3) − 1) %, as its table
        # of percents is quoted.
        (1, 0.100), (10, 0.128), (85, 0.991), (100, 1.492), (128, 3.206), (150, 5.845),
        (200, 22.892), (254, 100.0),
    ],
)  # fmt: skip
def test_a_log_law_from_a_thousandth_is_the_curve_of_iec_62386(n: int, percent: float) -> None:
    curve = replace(LOG, floor_light=0.001)
    volts = 1.0 + 9.0 * (n - 1) / 253  # the 254 settings spread evenly over the working range
    assert 100 * light_at(curve, volts) == pytest.approx(percent, abs=PRINTED_PERCENT_TOLERANCE)


# All responses ------------------------------------------------------------------------------------


@pytest.mark.parametrize("ballast", ALL.values(), ids=ALL)
def test_light_is_flat_below_the_floor_and_above_full(ballast: BallastCurve) -> None:
    # IEC 60929 Annex E, as quoted in trade articles: 1 V and less is the floor, full at
    # the top and above; only the mains makes it dark.
    for volts in (0.0, 0.5 * ballast.floor_volts, ballast.floor_volts):
        assert light_at(ballast, volts) == pytest.approx(ballast.floor_light, rel=1e-12)
    for volts in (ballast.full_volts, 0.5 * (ballast.full_volts + 10.5), 10.5):
        assert light_at(ballast, volts) == pytest.approx(1.0, rel=ROUNDING_TOLERANCE)


def test_a_measured_response_runs_straight_between_its_points() -> None:
    for volts, light in ((1.5, 0.035), (3.0, 0.15), (4.5, 0.25), (6.5, 0.475), (8.75, 0.85)):
        assert light_at(MEASURED, volts) == pytest.approx(light, abs=ROUNDING_TOLERANCE)


def test_light_is_flat_in_dead_zones_at_the_ends() -> None:
    ballast = replace(MEASURED, volts=(1.0, 3.0, 7.0, 9.5), light=(0.02, 0.02, 1.0, 1.0))
    assert light_at(ballast, 2.0) == 0.02
    assert light_at(ballast, 8.0) == 1.0


def test_unknown_responses_are_refused() -> None:
    odd = replace(LINEAR, kind="cubic")
    with pytest.raises(ValueError, match="cubic"):
        odd.light_at(np.array([5.0]))


def test_arrays_of_any_shape_keep_their_shape() -> None:
    grid = np.array([[0.0, 1.0, 2.0], [5.0, 9.0, 10.0]])
    for ballast in ALL.values():
        assert ballast.light_at(grid).shape == grid.shape
        assert ballast.reachable(grid / 10, 1.0).shape == grid.shape


@quick
@given(ballast=ballasts(), low=st.floats(0, 12), more=st.floats(0, 12))
def test_more_volts_never_give_less_light(ballast: BallastCurve, low: float, more: float) -> None:
    first, second = light_at(ballast, low), light_at(ballast, low + more)
    assert first <= second + ROUNDING_TOLERANCE
    assert ballast.floor_light - ROUNDING_TOLERANCE <= first
    assert second <= 1.0 + ROUNDING_TOLERANCE


# What can be reached ------------------------------------------------------------------------------

JUST = 1e-9


@pytest.mark.parametrize(
    ("below_floor", "wanted", "given_light"),
    [
        ("nearest", 0.0, 0.0),
        ("nearest", 0.05 - JUST, 0.0),
        ("nearest", 0.05, 0.10),  # the message about this default says: dark below half the floor
        ("nearest", 0.10, 0.10),
        ("nearest", 0.10 + JUST, 0.10 + JUST),
        ("dark", 0.0, 0.0),
        ("dark", 0.10 - JUST, 0.0),
        ("dark", 0.10, 0.10),
        ("floor", 0.0, 0.0),
        ("floor", JUST, 0.10),
        ("floor", 0.10, 0.10),
        ("nearest", 0.5, 0.5),
        ("dark", 0.95, 0.95),
        ("floor", 0.95 + JUST, 0.95),
        ("nearest", 1.0, 0.95),
    ],
)
@pytest.mark.parametrize("dark", ["relay", "standby"])
def test_what_becomes_of_light_below_the_floor(
    dark: str, below_floor: str, wanted: float, given_light: float
) -> None:
    ballast = replace(DRIVER, dark=dark, below_floor=below_floor)
    assert reachable(ballast, wanted, most=0.95) == pytest.approx(given_light, abs=JUST / 10)


@pytest.mark.parametrize("below_floor", ["nearest", "dark", "floor"])
@pytest.mark.parametrize(
    ("wanted", "given_light"), [(0.0, 0.1), (JUST, 0.1), (0.1, 0.1), (0.5, 0.5), (1.0, 0.95)]
)
def test_what_is_never_dark_gives_at_least_its_floor(
    below_floor: str, wanted: float, given_light: float
) -> None:
    ballast = replace(DRIVER, dark="never", below_floor=below_floor)
    assert reachable(ballast, wanted, most=0.95) == pytest.approx(given_light, abs=JUST / 10)


def test_a_port_that_ends_below_the_floor_still_gives_the_floor() -> None:
    assert reachable(replace(DRIVER, dark="relay"), 0.8, most=0.02) == pytest.approx(0.1)


@quick
@given(ballast=ballasts(), wanted=st.floats(0, 1), most=st.floats(0.5, 1))
def test_reachable_light_is_dark_or_between_floor_and_top(
    ballast: BallastCurve, wanted: float, most: float
) -> None:
    light = reachable(ballast, wanted, most)
    assert light == 0.0 or ballast.floor_light <= light <= most
    if ballast.dark == "never":
        assert light > 0
    elif wanted == 0:
        assert light == 0
    if ballast.floor_light <= wanted <= most:
        assert light == wanted
    assert reachable(ballast, light, most) == light  # snapping once is enough


@quick
@given(
    ballast=ballasts(),
    wanted=st.lists(st.one_of(st.just(0.0), st.floats(0, 1)), max_size=9),
    most=st.floats(0.5, 1),
)
def test_light_of_a_day_is_reachable_moment_by_moment(
    ballast: BallastCurve, wanted: list[float], most: float
) -> None:
    dark = [0.0] * 3
    day = [*dark, *wanted, *dark, *wanted, *dark]
    alone = [reachable(ballast, each, most) for each in day]
    assert ballast.reachable(np.array(day), most).tolist() == alone


# Repair of measured points ------------------------------------------------------------------------


def isotonic(values: list[int]) -> list[Fraction]:
    """Least-squares non-falling fit by the max-min formula of isotonic regression, exactly.

    g(i) = max over j ≤ i of min over k ≥ i of the mean of values j..k; textbook result, no source
    at hand. `test_the_brute_force_is_least_squares` checks it on its own.
    """
    n = len(values)
    return [
        max(
            min(Fraction(sum(values[j : k + 1]), k - j + 1) for k in range(i, n))
            for j in range(i + 1)
        )
        for i in range(n)
    ]


@settings(max_examples=drawn(50))
@given(values=st.lists(st.integers(0, 6), min_size=1, max_size=4))
def test_the_brute_force_is_least_squares(values: list[int]) -> None:
    # No non-falling sequence on a grid of twelfths is closer (12 = lcm of lengths up to 4).
    fitted = isotonic(values)
    cost = sum((a - b) ** 2 for a, b in zip(fitted, values, strict=True))

    def best(index: int, least: int) -> int:
        if index == len(values):
            return 0
        return min((12 * values[index] - x) ** 2 + best(index + 1, x) for x in range(least, 73, 6))

    assert cost * 144 <= best(0, 0)


@quick
@given(values=st.lists(st.integers(0, 1000), max_size=12))
def test_levelling_is_isotonic_regression(values: list[int]) -> None:
    light, moved = levelled([value / 1000 for value in values])
    wanted = [float(x / 1000) for x in isotonic(values)]
    assert light == pytest.approx(wanted, abs=ROUNDING_TOLERANCE)
    change = max((abs(w - v / 1000) for w, v in zip(wanted, values, strict=True)), default=0.0)
    assert moved == pytest.approx(change, abs=ROUNDING_TOLERANCE)


@quick
@given(values=st.lists(st.floats(0, 1), max_size=40))
def test_levelled_light_never_falls_and_keeps_its_mean(values: list[float]) -> None:
    light, _ = levelled(values)
    assert len(light) == len(values)
    assert all(a <= b for a, b in itertools.pairwise(light))
    assert sum(light) == pytest.approx(sum(values), abs=1e-9)


def test_levelled_light_by_hand() -> None:
    assert levelled([0.1, 0.3, 0.2, 0.4]) == (
        pytest.approx([0.1, 0.25, 0.25, 0.4]),
        pytest.approx(0.05),
    )
    assert levelled([0.4, 0.3, 0.2]) == (pytest.approx([0.3, 0.3, 0.3]), pytest.approx(0.1))
    assert levelled([0.1, 0.1, 0.2]) == ([0.1, 0.1, 0.2], 0.0)
    assert levelled([]) == ([], 0.0)
