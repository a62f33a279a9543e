"""Slopes and their intervals."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.readings.straight_line import common_slope, student_quantile

ONE = np.zeros(6, dtype=np.int64)


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 5, 9, 10, 30, 99, 100, 101, 1000, 10_000])
@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.99])
def test_the_quantile_is_that_of_scipy(degrees: int, confidence: float) -> None:
    from scipy import stats  # it takes half a second, in each worker that collects this file

    expected = float(stats.t.ppf((1 + confidence) / 2, degrees))
    assert student_quantile(degrees, confidence) == pytest.approx(expected, rel=1e-6)


def test_a_slope_and_its_interval_are_those_of_scipy() -> None:
    from scipy import stats

    x, y = np.arange(6.0), np.array([1.0, 2.9, 5.2, 7.1, 8.8, 11.3])
    found = common_slope(x, y, ONE)
    by_scipy = stats.linregress(x, y)
    half = by_scipy.stderr * stats.t.ppf(0.975, 4)
    assert found is not None
    assert found.value == pytest.approx(by_scipy.slope)
    assert (found.low, found.high) == pytest.approx((by_scipy.slope - half, by_scipy.slope + half))


def test_groups_have_their_own_heights() -> None:
    # by hand: both lines have the slope 2, whatever their heights
    x = np.array([0.0, 1, 2, 0, 1, 2])
    found = common_slope(x, 2 * x + np.array([0, 0, 0, 50, 50, 50]), np.array([0, 0, 0, 7, 7, 7]))
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((2, 2, 2))


@pytest.mark.parametrize("x", [[1.0, 1, 1, 1, 1, 1], [5.0] * 6])
def test_alike_tell_no_slope(x: list[float]) -> None:
    assert common_slope(np.array(x), np.arange(6.0), ONE) is None


def test_too_few_tell_no_interval() -> None:
    x = np.array([0.0, 1.0])
    assert common_slope(x, x, ONE[:2]) is None


def test_the_interval_covers_the_truth_at_its_rate_over_a_thousand_seeds() -> None:
    x, group = np.tile(np.arange(5.0), 3), np.repeat(np.arange(3), 5)
    covered = 0
    for seed in range(1000):
        y = -0.7 * x + 3 * group + np.random.default_rng(seed).normal(0, 0.3, x.size)
        found = common_slope(x, y, group)
        assert found is not None
        covered += found.low <= -0.7 <= found.high
    # 95 % ± three standard deviations of a binomial count, √(1000 · 0.95 · 0.05) = 6.9
    assert covered == pytest.approx(950, abs=21)
