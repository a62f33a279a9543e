"""The photons of a spectrum: how many are blue, green and red, and what they are worth to photosynthesis."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.arrays import Floats, np

#: Photons that count for PPFD. [nm]
FIRST_NM, LAST_NM = 400.0, 700.0

#: A light is not the one that was meant if a smaller share of it counts for PPFD [share; nm]. Our choice.
LEAST_VISIBLE, WIDE_NM = 0.01, (200.0, 1200.0)

#: Energy of photons × their wavelength, N_A h c of the SI of 2019. [J nm/µmol]
JOULE_NM_PER_UMOL = 119.626565638697


@dataclass(frozen=True, slots=True)
class Spectrum:
    """Power by wavelength: nm, rising, and power per nm in any unit."""

    wavelength_nm: Floats
    power: Floats

    def at(self, wavelength_nm: Floats) -> Floats:
        """Return the power at some wavelengths by straight lines, 0 outside."""
        return np.interp(wavelength_nm, self.wavelength_nm, self.power, left=0.0, right=0.0)

    def moved(self, by_nm: float) -> Spectrum:
        """Return the same spectrum at other wavelengths."""
        return Spectrum(self.wavelength_nm + by_nm, self.power)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotonShares:
    """What the photons of a channel from 400 to 700 nm are.

    Parameters
    ----------
    thirds : (float, float, float)
        Shares of them at 400-500, 500-600 and 600-700 nm.
    usable : float or None
        What an action spectrum lets one of them count for in the mean, None without one. [share]
    """

    thirds: tuple[float, float, float]
    usable: float | None


def photon_shares(spectrum: Spectrum, action: Spectrum | None) -> PhotonShares:
    """Return the shares of a spectrum's photons, and what they are worth by an action spectrum.

    Photons are as the power times the wavelength; integrals are trapezoids at 1 nm. The usable share is
    that of Morel, Deep-Sea Research 25:673–688, 1978, for photons: Σ weight × photons / Σ photons.

    Raises
    ------
    ValueError
        If there is hardly any light from 400 to 700 nm.

    Examples
    --------
    >>> even = Spectrum(np.array([300.0, 900.0]), np.array([1.0, 1.0]))
    >>> [round(each, 4) for each in photon_shares(even, None).thirds]  # 450, 550 and 650 of 1650
    [0.2727, 0.3333, 0.3939]
    """
    every = [photons(spectrum, low, low + 100.0) for low in (400.0, 500.0, 600.0)]
    whole = photons(spectrum, *WIDE_NM)
    if not sum(every) > LEAST_VISIBLE * whole:
        raise ValueError("the spectrum has hardly any light from 400 to 700 nm")
    blue, green, red = (each / sum(every) for each in every)
    usable = None
    if action is not None:
        nm = np.arange(FIRST_NM, LAST_NM + 1.0)
        number = spectrum.at(nm) * nm
        usable = float(np.trapezoid(number * action.at(nm), nm) / np.trapezoid(number, nm))
    return PhotonShares(thirds=(blue, green, red), usable=usable)


def photons(spectrum: Spectrum, first_nm: float, last_nm: float) -> float:
    """Return the photons between two wavelengths [nm]: µmol m⁻² s⁻¹ where the power is W m⁻² per nm."""
    nm = np.arange(first_nm, last_nm + 1.0)
    return float(np.trapezoid(spectrum.at(nm) * nm, nm)) / JOULE_NM_PER_UMOL
