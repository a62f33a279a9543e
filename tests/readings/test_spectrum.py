"""What a lux is worth, by spectra of the CIE and by arithmetic."""

from __future__ import annotations

import builtins
from typing import Any

import numpy as np
import pytest

from photoperiod.errors import OutsideWorldError, WrongUse
from photoperiod.readings.faults import Faults
from photoperiod.readings.photon_shares import JOULE_NM_PER_UMOL, Spectrum
from photoperiod.readings.spectrum import (
    illuminant,
    led,
    lux_worth,
    read_spectrum,
    refuse_narrow,
)
from tests.readings.bench import told

#: REFERENCES: trapezoid, 400 to 700 nm, spectra and V(λ) of colour-science 0.4.7; its tolerance.
TOLERANCE = 1e-3


@pytest.fixture(autouse=True)
def _spectra() -> None:
    pytest.importorskip("colour")


@pytest.mark.parametrize(
    ("name", "lux"),
    # light.md §2.3, computed there from colour-science
    [("FL1", 69.189), ("FL2", 76.481), ("FL3", 79.733), ("FL4", 80.529), ("FL5", 71.204),
     ("FL6", 79.849), ("FL7", 60.580), ("FL8", 59.432), ("FL9", 61.781), ("FL10", 74.370),
     ("FL11", 76.039), ("FL12", 78.121), ("A", 50.256), ("D50", 56.197), ("D65", 55.498),
     ("D75", 54.585)],
)  # fmt: skip
def test_illuminants_of_the_cie(name: str, lux: float) -> None:
    assert lux_worth(illuminant(name)).lux_per_umol == pytest.approx(lux, rel=TOLERANCE)


@pytest.mark.parametrize(
    ("name", "published"),
    # Thimijan & Heins 1983, HortScience 18:818-822, as quoted: cool white 74, incandescent 50, sun 54
    [("FL2", 74), ("A", 50), ("D65", 54)],
)
def test_against_a_paper(name: str, published: float) -> None:
    assert lux_worth(illuminant(name)).lux_per_umol == pytest.approx(published, rel=0.04)


def test_low_pressure_sodium_against_a_paper() -> None:
    # Thimijan & Heins 1983, as quoted: 9.85 foot-candles, of 10.764 lux each, for 1 µmol; its light is one
    # line at 589 nm
    assert lux_worth(led(589.3, 1)).lux_per_umol == pytest.approx(9.85 * 10.764, rel=0.02)


@pytest.mark.parametrize(
    ("centre", "width", "lux"),
    # light.md §2.2, computed there from V(λ)
    [(420, 20, 1.11), (450, 20, 7.35), (455, 20, 9.14), (520, 35, 105.7), (660, 20, 8.32)],
)
def test_leds(centre: float, width: float, lux: float) -> None:
    assert lux_worth(led(centre, width)).lux_per_umol == pytest.approx(lux, rel=0.005)


def test_one_photon_by_hand() -> None:
    # 683 lm/W × V(555) ≈ 1 × 119.6266/555 J/µmol = 147.2 lux for 1 µmol; SI 2019: N_A h c
    assert pytest.approx(6.02214076e23 * 6.62607015e-34 * 299_792_458 * 1e3) == JOULE_NM_PER_UMOL
    assert lux_worth(led(555, 2)).lux_per_umol == pytest.approx(147.2, rel=0.002)


def test_photons_by_thirds() -> None:
    # an even spectrum has photons in proportion to λ: 450, 550 and 650 of 1650
    even = Spectrum(np.array([300.0, 900.0]), np.array([1.0, 1.0]))
    assert lux_worth(even).thirds == pytest.approx((450 / 1650, 550 / 1650, 650 / 1650))


@pytest.mark.parametrize("spectrum", [led(420, 20), led(450, 20), led(465, 25), led(660, 20)])
def test_violet_blue_and_deep_red_are_refused(spectrum: Spectrum) -> None:
    faults = Faults()
    refuse_narrow(lux_worth(spectrum), faults)
    assert [each.code for each in faults] == ["PHO916"]


@pytest.mark.parametrize("name", ["FL2", "FL11", "D65", "A", "LED-B1"])
def test_white_light_is_not(name: str) -> None:
    faults = Faults()
    refuse_narrow(lux_worth(illuminant(name)), faults)
    assert faults == []


def test_five_nanometres_of_a_blue_led_are_a_quarter() -> None:
    # light.md: a 5 nm shift at 450 changes the factor by 25 %: 9.14/7.35 − 1 = 24 %
    assert lux_worth(led(450, 20)).change == pytest.approx(9.14 / 7.35 - 1, abs=0.01)


def test_an_unknown_illuminant_is_wrong_use() -> None:
    with pytest.raises(WrongUse, match="did you mean 'FL11'"):
        illuminant("FL-11")


def test_a_measured_spectrum_is_read() -> None:
    fl2 = illuminant("FL2")
    rows = "".join(f"{nm:g};{power:.3f}\n".replace(".", ",") for nm, power in
                   zip(fl2.wavelength_nm, fl2.power, strict=True))  # fmt: skip
    found, faults = read_spectrum("s.csv", f"wavelength_nm;power\n{rows}".encode())
    assert found is not None and not faults
    assert lux_worth(found).lux_per_umol == pytest.approx(76.481, rel=TOLERANCE)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("wavelength_nm,power\n380,1\n690,1\n", ("PHO916", 3, "690")),
        ("wavelength_nm,power\n420,1\n700,1\n", ("PHO916", 2, "420")),
        ("wavelength_nm,power\n380,1\n720,1\n700,2\n", ("PHO916", 4, "700")),
        ("wavelength_nm,power\n380,1\n720,-1\n", ("PHO916", 3, "-1")),
        ("wavelength_nm,power\n380,x\n720,1\n", ("PHO904", 2, "x")),
        ("wavelength_nm,power\n380,nan\n720,1\n", ("PHO904", 2, "nan")),
        ("wavelength_nm,watts\n380,1\n720,1\n", ("PHO916", 1, "wavelength_nm")),
        ("wavelength_nm,power\n380,0\n720,0\n", ("PHO916", 1, "")),
    ],
)
def test_what_is_no_spectrum(text: str, expected: tuple[str, int, str]) -> None:
    found, faults = read_spectrum("s.csv", text.encode())
    assert found is None
    (each,) = told(faults, text.encode())
    assert each == expected


def test_without_the_library_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any, **more: Any) -> Any:
        if name == "colour":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(OutsideWorldError, match="not installed") as raised:
        illuminant("FL11")
    assert "photoperiod[spectra]" in raised.value.told()
