"""Photons by wavelength: against arithmetic and Planck's law."""

from __future__ import annotations

import math

import jerlov
import numpy as np
import pytest
from scipy.integrate import quad

from photoperiod.readings.photon_shares import Spectrum, photon_shares
from photoperiod.readings.spectrum import illuminant, led

EVEN = Spectrum(np.array([300.0, 900.0]), np.array([1.0, 1.0]))


def test_an_even_spectrum_by_hand() -> None:
    # photons are in proportion to λ: 450, 550 and 650 of 1650
    shares = photon_shares(EVEN, None)
    assert shares.thirds == pytest.approx((450 / 1650, 550 / 1650, 650 / 1650))
    assert shares.usable is None


@pytest.mark.parametrize(("centre", "at"), [(450, 0), (550, 1), (650, 2)])
def test_one_band_is_all_in_its_third(centre: float, at: int) -> None:
    thirds = photon_shares(led(centre, 5), None).thirds
    assert thirds[at] == pytest.approx(1) and sum(thirds) == pytest.approx(1)


def test_a_band_on_a_border_is_halved() -> None:
    # as many photons on both sides of 500 nm, but for the slope of λ
    blue, green, _ = photon_shares(led(500, 10), None).thirds
    assert blue == pytest.approx(0.5, abs=0.01) and green == pytest.approx(0.5, abs=0.01)


def test_illuminant_a_is_a_black_body() -> None:
    pytest.importorskip("colour")

    # CIE 15: A is Planck's law at 2848 K with c₂ = 1.435e-2 m K. Photons are as λ⁻⁴ / (exp(c₂/λT) − 1).
    def photons(nm: float) -> float:
        return nm**-4.0 / (math.exp(1.435e7 / nm / 2848) - 1)

    parts = [quad(photons, low, low + 100)[0] for low in (400, 500, 600)]
    expected = [part / sum(parts) for part in parts]
    assert photon_shares(illuminant("A"), None).thirds == pytest.approx(expected, rel=2e-4)


def test_weights_by_hand() -> None:
    # 1 up to 500 nm and 0 from 501 on: 450 of 1650 photons, and half of those of one nanometre, 500/2/100
    step = Spectrum(np.array([400.0, 500, 501, 700]), np.array([1.0, 1, 0, 0]))
    usable = photon_shares(EVEN, step).usable
    assert usable == pytest.approx((450 + 2.5) / 1650, rel=1e-3)
    all = Spectrum(np.array([400.0, 700]), np.array([1.0, 1]))
    assert photon_shares(EVEN, all).usable == pytest.approx(1)
    # a falling weight of (700 − λ)/300: ∫λ(700 − λ)/300 dλ / ∫λ dλ over 400 to 700 = 24/55, by hand
    falling = Spectrum(np.array([400.0, 700]), np.array([1.0, 0]))
    by_hand = ((700 * (700**2 - 400**2) / 2 - (700**3 - 400**3) / 3) / 300) / (
        (700**2 - 400**2) / 2
    )
    assert photon_shares(EVEN, falling).usable == pytest.approx(by_hand, rel=1e-4)


def test_light_outside_of_what_counts_is_refused() -> None:
    with pytest.raises(ValueError, match="hardly any light from 400 to 700"):
        photon_shares(Spectrum(np.array([750.0, 800]), np.array([1.0, 1])), None)


#: Wavelengths in steps of 1 nm, and water that changes nothing at the surface.
NM = np.arange(400.0, 701.0)
WATER = jerlov.water("II", source="jerlov1976")


@pytest.mark.parametrize(
    "spectrum",
    [
        led(420, 20),
        led(497, 35),
        led(520, 35),
        led(640, 80),
        Spectrum(*map(np.asarray, jerlov.d65())),
    ],
)
def test_shares_beside_those_of_a_library(spectrum: Spectrum) -> None:
    # the package jerlov (Apache-2.0) sums photons of a band, and photons with a weight, in its own way
    power, weight = spectrum.at(NM), 1 - (NM - 400) / 300 * 0.9

    def par(low: float, high: float, weights: np.ndarray | None = None) -> float:
        profile = jerlov.par_profile(power, NM, 0.0, kd=WATER, unit="energy", band=(low, high),
                                     photon_weight=weights)  # fmt: skip
        return float(profile.par)

    shares = photon_shares(spectrum, Spectrum(NM, weight))
    whole = par(400, 700)
    expected = [par(low, low + 100) / whole for low in (400, 500, 600)]
    assert shares.thirds == pytest.approx(expected, abs=1e-6)
    assert shares.usable == pytest.approx(par(400, 700, weight) / whole, abs=1e-6)
