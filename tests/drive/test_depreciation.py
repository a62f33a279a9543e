"""Loss of light with lit hours."""

from __future__ import annotations

import math

import pytest

from photoperiod.drive.depreciation import DECLARED_AT_H, Depreciation, mean_light


def test_exponential_loss_is_that_of_tm_21() -> None:
    # Φ(t) = B·e^(−αt) (IES TM-21-11, clause 5.2; from memory), with Φ = 1 at the hundred hours at
    # which fluxes are declared: 3 % in any thousand hours is α = −ln 0.97 / 1000 h.
    alpha = -math.log(0.97) / 1000
    curve = Depreciation(kind="exponential", loss_per_1000_h=0.03)
    for hours in (0.0, 100.0, 1100.0, 8000.0):
        assert curve.light_at(hours) == pytest.approx(math.exp(-alpha * (hours - 100)), rel=1e-12)
    assert curve.light_at(DECLARED_AT_H) == 1.0
    assert curve.light_at(0.0) > 1.0  # a new tube gives more than is declared
    assert curve.light_at(1100.0) == pytest.approx(0.97)


def test_no_loss_is_no_loss() -> None:
    assert Depreciation(kind="exponential").light_at(9000.0) == 1.0


def test_points_are_joined_by_straight_lines_and_level_outside() -> None:
    curve = Depreciation(kind="points", hours=(100.0, 1100.0, 9100.0), light=(1.0, 0.95, 0.85))
    assert curve.light_at(0.0) == 1.0
    assert curve.light_at(600.0) == pytest.approx(0.975)
    assert curve.light_at(5100.0) == pytest.approx(0.90)
    assert curve.light_at(20_000.0) == 0.85


def test_tubes_add_up_by_their_shares() -> None:
    assert mean_light([1.0, 0.8], [54.0, 54.0]) == pytest.approx(0.9)
    assert mean_light([1.0, 0.8], [39.0, 54.0]) == pytest.approx((39 + 0.8 * 54) / 93)


def test_the_loss_of_a_t5_tube_in_its_first_eight_thousand_hours() -> None:
    # "More than 95 % at 8,000 h" (LRC/NLPIP, Lighting Answers 6(1), 2002): α is at most
    # −ln 0.95 / 8,000 h = 6.41e-6 h⁻¹, which is 0.639 % in a thousand hours.
    loss = 1 - math.exp(-1000 * 6.41e-6)
    curve = Depreciation(kind="exponential", loss_per_1000_h=loss)
    assert loss == pytest.approx(0.00639, abs=1e-5)
    assert curve.light_at(8000.0) / curve.light_at(0.0) == pytest.approx(0.95, abs=1e-4)


def test_hours_to_a_share_of_the_light() -> None:
    # α = −ln 0.95 / 8,000 h: L90 is ln(1/0.9)/α = 16,433 h after the 100 h at which light is declared
    # (IES TM-21: L_p = ln(B/p)/α with B = 1).
    loss = 1 - 0.95 ** (1 / 8)
    curve = Depreciation(kind="exponential", loss_per_1000_h=loss)
    assert curve.hours_at(0.9) == pytest.approx(100 + 16_433, abs=1)
    points = Depreciation(kind="points", hours=(100.0, 1100.0, 9100.0), light=(1.0, 0.95, 0.85))
    assert points.hours_at(0.9) == pytest.approx(5100.0)
    assert points.hours_at(0.8) is None
    assert Depreciation(kind="exponential").hours_at(0.9) is None


def test_no_verdict_beyond_what_readings_reach() -> None:
    curve = Depreciation(kind="exponential", loss_per_1000_h=0.02, measured_to_h=6000.0)
    # ln 0.9 / ln 0.98 = 5.215: 5,315 h; 80 % only at 11,145 h
    assert curve.hours_at(0.9) == pytest.approx(5315, abs=1)
    assert curve.hours_at(0.8) is None


@pytest.mark.parametrize(
    ("hours", "mean"),
    # (1 − e^(−αT))/(αT), α = 1.317e-5 h⁻¹ (0.90 at 8,000 h), T = 3,000 / 5,000 / 8,000 h
    [(3000, 0.9805), (5000, 0.9678), (8000, 0.9491)],
)
def test_mean_light_between_two_replacements(hours: int, mean: float) -> None:
    curve = Depreciation(kind="exponential", loss_per_1000_h=1 - math.exp(-1.317e-5 * 1000))
    given = curve.mean_light(0, hours) / curve.light_at(0)
    assert given == pytest.approx(mean, abs=5e-5)


def test_mean_light_of_points_is_the_area_under_them() -> None:
    curve = Depreciation(kind="points", hours=(100.0, 1100.0, 9100.0), light=(1.0, 0.95, 0.85))
    # 100 h at 1, 1,000 h at 0.975, 900 h from 0.95 to 0.93875
    area = 100 + 975 + 900 * (0.95 + 0.95 - 0.1 * 900 / 8000) / 2
    assert curve.mean_light(0, 2000) == pytest.approx(area / 2000)
    assert curve.mean_light(600, 600) == curve.light_at(600)
