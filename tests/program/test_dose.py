"""Doses against arithmetic, a measured day, the P-I curve and slow loops."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from photoperiod.program.dose import (
    daily_light_integral,
    full_light_hours,
    longest_run_s,
    saturation_hours,
    starts,
    steepest_rise_per_minute,
)
from tests.conftest import drawn

DAY = 86_400
HOUR = 3600

#: Sums of 86,400 doubles.
SUM_TOLERANCE = 1e-12
#: DLI of a measured day, printed with two or three decimals.
MEASURED_DAY_TOLERANCE = 0.005
#: tanh printed with four decimals, times three decimals of I/Ik.
TANH_TOLERANCE = 5e-4

quick = settings(max_examples=drawn(200))


def lit(ppfd: float, hours: float) -> np.ndarray:
    """Constant light for some hours, from a second that is no round one."""
    day = np.zeros(DAY)
    day[: round(hours * HOUR)] = ppfd
    return np.roll(day, 12_345)


# Constant light -----------------------------------------------------------------------------------

#: PPFD [µmol m⁻² s⁻¹], hours, DLI [mol m⁻² d⁻¹]. By arithmetic: an hour at 1 µmol m⁻² s⁻¹ is 3,600 µmol
#: m⁻², so DLI = PPFD × h × 0.0036: definition; as in E. Runkle (Michigan State), "Increasing the daily
#: light integral", Greenhouse Product News.
BY_HAND = [
    (1, 1, 0.0036), (15, 24, 1.296), (45, 24, 3.888), (120, 24, 10.368), (275, 24, 23.76),
    (850, 24, 73.44), (1500, 24, 129.6), (25, 16, 1.44), (80, 16, 4.608), (125, 16, 7.2),
    (450, 16, 25.92), (700, 16, 40.32), (1250, 16, 72.0), (60, 13.5, 2.916), (150, 13.5, 7.29),
    (220, 11.75, 9.306), (40, 10, 1.44), (90, 10, 3.24), (180, 10, 6.48), (350, 10, 12.6),
    (400, 7.25, 10.44), (1750, 6, 37.8),
]  # fmt: skip


@pytest.mark.parametrize(("ppfd", "hours", "dli"), BY_HAND)
def test_constant_light_by_arithmetic(ppfd: float, hours: float, dli: float) -> None:
    assert daily_light_integral(lit(ppfd, hours)) == pytest.approx(dli, rel=SUM_TOLERANCE)


def test_a_published_example_of_constant_light() -> None:
    # A. P. Torres and R. G. Lopez, "Measuring Daily Light Integral in a Greenhouse", Purdue Extension
    # HO-238-W, 2010, worked example, as quoted in notes about it: 500 µmol m⁻² s⁻¹ for 12 h.
    assert daily_light_integral(lit(500, 12)) == pytest.approx(21.6, rel=SUM_TOLERANCE)


def test_doses_add_over_channels() -> None:
    # By arithmetic: 100 + 50 + 50 µmol m⁻² s⁻¹ for 18 h, 200 × 18 × 0.0036
    channels = [lit(ppfd, 18) for ppfd in (100, 50, 50)]
    doses = [daily_light_integral(channel) for channel in channels]
    assert sum(doses) == pytest.approx(12.96, rel=SUM_TOLERANCE)
    assert daily_light_integral(sum(channels, np.zeros(DAY))) == pytest.approx(
        12.96, rel=SUM_TOLERANCE
    )


def test_full_light_hours_need_no_meter() -> None:
    day = np.zeros(DAY)
    day[: 4 * HOUR] = 1.0
    day[4 * HOUR : 8 * HOUR] = 0.25
    assert full_light_hours(day) == pytest.approx(5.0, rel=SUM_TOLERANCE)


# A measured day -----------------------------------------------------------------------------------

#: mol per Wh: 45 % photosynthetically active × 4.48 µmol/J (Faust & Logan, HortScience
#: 53:1250-1257, 2018, abstract): 0.45 × 4.48 × 3600 / 1e6 = 0.0072576.
MOL_PER_WH = 0.0072576
UMOL_PER_J = MOL_PER_WH * 1e6 / HOUR

#: Greensboro NC, 21 June: hourly global horizontal irradiance [W m⁻²] at the hours ending 06…20, of
#: file 723170TYA.CSV (TMY3) in the wheel of pvlib.
GREENSBORO = (21, 47, 166, 272, 390, 481, 702, 745, 448, 842, 637, 437, 100, 51, 10)


def test_the_factor_is_made_of_its_two_published_parts() -> None:
    assert pytest.approx(0.45 * 4.48, rel=SUM_TOLERANCE) == UMOL_PER_J


def test_a_summer_day_in_greensboro() -> None:
    # 38.82 mol m⁻² d⁻¹ from 5,349 Wh m⁻²
    assert sum(GREENSBORO) == 5349
    ppfd = np.zeros(DAY)
    for hour_ending, irradiance in enumerate(GREENSBORO, start=6):
        ppfd[(hour_ending - 1) * HOUR : hour_ending * HOUR] = irradiance * UMOL_PER_J
    assert daily_light_integral(ppfd) == pytest.approx(38.82, abs=MEASURED_DAY_TOLERANCE)
    rise, second = steepest_rise_per_minute(ppfd)
    assert rise == pytest.approx((842 - 448) * UMOL_PER_J)  # from the hour ending 14 to that of 15
    assert 14 * HOUR - 60 <= second < 14 * HOUR
    assert longest_run_s(ppfd > 0) == 15 * HOUR


@pytest.mark.parametrize(
    ("watt_hours", "dli"),
    [
        # Day sums of the TMY files in the wheel of pvlib: Miami (12839.tm2) and Sand Point
        # (703165TY.csv), 21 June and 21 December; Greensboro 21 December
        (6046, 43.88), (4358, 31.629), (1908, 13.85), (406, 2.947), (2897, 21.025),
    ],
)  # fmt: skip
def test_day_sums_from_typical_years(watt_hours: float, dli: float) -> None:
    ppfd = np.full(DAY, watt_hours / 24 * UMOL_PER_J)
    assert daily_light_integral(ppfd) == pytest.approx(dli, abs=MEASURED_DAY_TOLERANCE)


# Photosynthesis -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "share"),
    [
        # P/Pmax = tanh(I/Ik): Jassby & Platt, Limnology and Oceanography 21:540-547, 1976
        (0.5, 0.4621), (1.0, 0.7616), (1.472, 0.90), (1.5, 0.9051), (1.832, 0.95), (2.0, 0.9640),
        (3.0, 0.9951),
    ],
)  # fmt: skip
def test_saturation_follows_the_hyperbolic_tangent(ratio: float, share: float) -> None:
    ek = 187.0
    hours = saturation_hours(lit(ratio * ek, 10), ek)
    assert hours / 10 == pytest.approx(share, abs=TANH_TOLERANCE)


def test_equal_doses_are_not_equal_photosynthesis() -> None:
    # DLI 10, Ik 200, 12 h. A square day has 10⁷ / 43,200 = 231.48 µmol m⁻² s⁻¹, so
    # 12 h × tanh(231.48 / 200) = 9.842 h (formula of Jassby & Platt 1976). A half-sine has π/2 of that at
    # its peak; its integral is 8.783 h by SciPy's quadrature, below.
    dli, length = 10.0, 12 * HOUR
    square = lit(dli * 1e6 / length, 12)
    half_sine = np.zeros(DAY)
    middles = np.arange(length) + 0.5
    half_sine[:length] = dli * 1e6 / length * math.pi / 2 * np.sin(math.pi * middles / length)
    assert daily_light_integral(square) == pytest.approx(dli, rel=SUM_TOLERANCE)
    assert daily_light_integral(half_sine) == pytest.approx(dli, rel=1e-6)
    assert saturation_hours(square, 200) == pytest.approx(9.842, abs=TANH_TOLERANCE)
    assert saturation_hours(half_sine, 200) == pytest.approx(8.783, abs=TANH_TOLERANCE)
    peak = 1e7 / 43_200 * math.pi / 2
    by_scipy, _ = quad(lambda hour: math.tanh(peak * math.sin(math.pi * hour / 12) / 200), 0, 12)
    assert saturation_hours(half_sine, 200) == pytest.approx(by_scipy, abs=TANH_TOLERANCE)


# Runs, starts and rises against slow loops --------------------------------------------------------


@st.composite
def masks(draw: st.DrawFn) -> np.ndarray:
    """Days of up to some hundred seconds, made of runs."""
    state = draw(st.booleans())
    cells: list[bool] = []
    for length in draw(st.lists(st.integers(1, 20), min_size=1, max_size=12)):
        cells += [state] * length
        state = not state
    return np.array(cells)


def slow_longest(mask: Sequence[bool]) -> int:
    n = len(mask)
    best = 0
    for begin in range(n):
        length = 0
        while length < n and mask[(begin + length) % n]:
            length += 1
        best = max(best, length)
    return best


@quick
@given(mask=masks())
def test_the_longest_run_goes_across_midnight(mask: np.ndarray) -> None:
    assert longest_run_s(mask) == slow_longest(mask.tolist())
    assert longest_run_s(~mask) == slow_longest((~mask).tolist())


@quick
@given(mask=masks())
def test_starts_are_counted_on_a_repeating_day(mask: np.ndarray) -> None:
    cells = mask.tolist()
    assert starts(mask) == sum(
        1 for before, now in zip([cells[-1], *cells[:-1]], cells, strict=True) if now and not before
    )


@pytest.mark.parametrize(
    ("hours_on", "longest", "count"),
    [
        ([], 0, 0),
        (range(24), 24, 0),
        ([22, 23, 0, 1], 4, 1),
        ([23], 1, 1),
        ([0], 1, 1),
        ([0, 2, 4, 5], 2, 3),
    ],
)
def test_runs_and_starts_of_whole_days(hours_on: Sequence[int], longest: int, count: int) -> None:
    mask = np.zeros(DAY, dtype=bool)
    for hour in hours_on:
        mask[hour * HOUR : (hour + 1) * HOUR] = True
    assert longest_run_s(mask) == longest * HOUR
    assert starts(mask) == count


@st.composite
def rising_then_falling(draw: st.DrawFn) -> np.ndarray:
    """Light of a repeating day that rises to one peak and falls again, begun anywhere."""
    up = sorted(draw(st.lists(st.integers(0, 500), min_size=70, max_size=150)))
    down = sorted(draw(st.lists(st.integers(0, 500), min_size=70, max_size=150)), reverse=True)
    return np.roll(np.array([*up, *down], dtype=np.float64), draw(st.integers(0, 300)))


def slow_rise(ppfd: Sequence[float]) -> float:
    """The largest rise between any two moments at most a minute apart."""
    n = len(ppfd)
    return max(
        ppfd[(begin + later) % n] - ppfd[begin] for begin in range(n) for later in range(1, 61)
    )


@settings(max_examples=drawn(25))
@given(ppfd=rising_then_falling())
def test_the_steepest_rise_of_a_ramp(ppfd: np.ndarray) -> None:
    rise, second = steepest_rise_per_minute(ppfd)
    assert rise == slow_rise(ppfd.tolist())
    assert ppfd[(second + 60) % ppfd.size] - ppfd[second] == rise


def test_a_rise_that_is_undone_within_the_minute_counts() -> None:
    # 100 for an hour, 40 for 20 s, 160 for 20 s, then 100 again: within a minute it rises by 120.
    ppfd = np.full(DAY, 100.0)
    ppfd[HOUR : HOUR + 20] = 40.0
    ppfd[HOUR + 20 : HOUR + 40] = 160.0
    assert steepest_rise_per_minute(ppfd)[0] == slow_rise(ppfd[HOUR - 70 : HOUR + 110].tolist())


def test_a_lamp_that_lights_rises_at_once() -> None:
    ppfd = lit(130.0, 12)
    rise, second = steepest_rise_per_minute(ppfd)
    assert rise == 130.0
    assert 12_345 - 60 <= second < 12_345


def test_light_that_never_changes_does_not_rise() -> None:
    assert steepest_rise_per_minute(np.full(DAY, 7.0))[0] == 0.0
