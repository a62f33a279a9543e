"""Constants against the values that their sources print."""

from __future__ import annotations

import pytest

from photoperiod import units


def test_lightness_is_continuous_where_its_two_formulas_meet() -> None:
    # CIE 1976 lightness: L* = 903.3 Y below Y = 0.008856, else 116 Y^(1/3) - 16; both are 8 there.
    assert pytest.approx(903.3, abs=0.05) == units.CIE_KAPPA
    meeting = (6 / 29) ** 3
    assert meeting == pytest.approx(0.008856, abs=1e-6)
    assert units.CIE_KAPPA * meeting == pytest.approx(8.0, rel=1e-12)
    assert 116 * meeting ** (1 / 3) - 16 == pytest.approx(8.0, rel=1e-12)


def test_a_day_of_constant_light() -> None:
    # 100 µmol m⁻² s⁻¹ for 24 h are 8.64 mol m⁻², as growers' tables print.
    assert 100 * units.SECONDS_PER_DAY / units.UMOL_PER_MOL == 8.64
    assert units.SECONDS_PER_DAY == 24 * units.SECONDS_PER_HOUR == 1_440 * units.SECONDS_PER_MINUTE
