"""Interpolation by cubics: exact where it must be, and the same whatever else is asked for."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.sky import interpolation
from photoperiod.sky.interpolation import STEPS_PER_BLOCK, Interpolation


def cubic(unix_s: float) -> tuple[float, float]:
    x = unix_s / 1000.0
    return x**3 - 2.0 * x + 1.0, 5.0 - x


def test_a_cubic_comes_back_exactly() -> None:
    # Lagrange's interpolation through four points is exact for polynomials up to the third degree.
    moments = np.array([-12_345.0, -0.1, 0.0, 17.0, 59.9, 60.0, 61.5, 9_999.0])
    found = Interpolation(cubic, 60).at(moments)
    assert found.shape == (2, 8)
    for number, moment in enumerate(moments):
        assert found[:, number] == pytest.approx(cubic(moment), rel=1e-12, abs=1e-9)


def test_samples_themselves_are_kept() -> None:
    found = Interpolation(lambda unix_s: (np.sin(unix_s),), 100).at(np.array([0.0, 100.0, 700.0]))
    assert found[0].tolist() == pytest.approx([np.sin(0.0), np.sin(100.0), np.sin(700.0)], abs=0)


def test_the_error_of_a_sine_is_that_of_the_remainder() -> None:
    # Remainder of Lagrange's formula with four points h apart, in the middle: 9/384 h⁴ max |f⁗|.
    step_s, period_s = 3_600, 86_400.0
    omega = 2 * np.pi / period_s
    moments = np.arange(0.0, period_s, 60.0)
    found = Interpolation(lambda unix_s: (np.sin(omega * unix_s),), step_s).at(moments)[0]
    worst = np.abs(found - np.sin(omega * moments)).max()
    bound = 9 / 384 * (omega * step_s) ** 4
    assert 0.5 * bound < worst <= 1.01 * bound


def test_a_value_does_not_depend_on_the_others() -> None:
    wave = Interpolation(lambda unix_s: (np.sin(unix_s / 7_000.0),), 300)
    block_s = 300.0 * STEPS_PER_BLOCK
    moments = np.array([block_s - 1, block_s, block_s + 1, -block_s - 0.5, 5.5 * block_s])
    together = wave.at(moments)[0]
    alone = [wave.at(np.array([moment]))[0, 0] for moment in moments]
    assert together.tolist() == alone


def test_each_block_is_computed_once_and_few_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(interpolation, "MOST_BLOCKS", 2)
    computed: list[float] = []

    def sample(unix_s: float) -> tuple[float]:
        computed.append(unix_s)
        return (unix_s,)

    line = Interpolation(sample, 10)
    middle_s = 10.0 * STEPS_PER_BLOCK / 2
    for _ in range(3):
        line.at(np.array([middle_s]))
    assert len(computed) == STEPS_PER_BLOCK
    for block in (1, 2):
        line.at(np.array([middle_s + block * 10.0 * STEPS_PER_BLOCK]))
    line.at(np.array([middle_s]))  # had to go
    assert len(computed) == 4 * STEPS_PER_BLOCK


def test_no_moments() -> None:
    assert Interpolation(cubic, 60).at(np.zeros((0, 3))).shape == (2, 0, 3)
