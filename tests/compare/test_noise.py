"""The noise of readings, and what stays wrong in spite of it."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.compare.noise import noise_of, wrong_in_blocks

MINUTES = 60.0 * np.arange(1440)


def test_normal_noise_is_found_as_it_was_made() -> None:
    """σ of 0.03, drawn by numpy; steps of a fault now and then do not move it."""
    off = np.random.default_rng(5).normal(0, 0.03, MINUTES.size)
    planned = np.full(MINUTES.size, 0.8)
    assert noise_of(MINUTES, off, planned, 600.0) == pytest.approx(0.03, rel=0.1)
    off[::20] += 0.7
    assert noise_of(MINUTES, off, planned, 600.0) == pytest.approx(0.03, rel=0.25)


def test_noise_belongs_to_the_light_in_which_it_is() -> None:
    planned = np.repeat([0.0, 0.8], 720)
    off = np.random.default_rng(5).normal(0, 1.0, MINUTES.size) * np.where(planned > 0, 0.05, 1e-4)
    found = noise_of(MINUTES, off, planned, 600.0)
    assert found[0] == pytest.approx(1e-4, rel=0.15) and found[-1] == pytest.approx(0.05, rel=0.15)


def test_few_or_lonely_readings_show_no_noise() -> None:
    off = np.array([0.1, -0.1] * 4)
    assert (noise_of(60.0 * np.arange(8), off, np.full(8, 0.5), 600.0) == 0).all()
    assert (noise_of(601.0 * np.arange(8), off, np.full(8, 0.5), 600.0) == 0).all()


def wrong(off: np.ndarray, allowed: float, noise: float) -> int:
    return int(
        wrong_in_blocks(
            MINUTES,
            off,
            np.full(MINUTES.size, allowed),
            np.full(MINUTES.size, noise),
            np.full(MINUTES.size, 60.0),
            120.0,
        ).sum()
    )


def test_a_bias_within_the_noise_is_found_in_the_median() -> None:
    """4 % too much with σ of 3 %: no single reading tells, an hour does."""
    noise = np.random.default_rng(5).normal(0, 0.03, MINUTES.size)
    assert wrong(noise, 0.02, 0.03) == 0
    assert wrong(noise + 0.01, 0.02, 0.03) == 0
    assert wrong(noise + 0.04, 0.02, 0.03) > 900
    assert wrong(noise - 0.04, 0.02, 0.03) > 900
    hours = np.where((MINUTES >= 36_000) & (MINUTES < 57_600), 0.04, 0.0)
    assert 200 < wrong(noise + hours, 0.02, 0.03) < 360


def test_both_sides_in_turn_are_no_bias() -> None:
    assert wrong(np.where(np.arange(1440) % 2, 0.1, -0.1), 0.02, 0.1) == 0


def test_fewer_readings_than_three_say_nothing() -> None:
    off = np.array([0.5, 0.5])
    found = wrong_in_blocks(np.array([0.0, 60.0]), off, off * 0, off * 0, off * 0 + 600, 120.0)
    assert not found.any()
