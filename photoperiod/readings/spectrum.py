"""What a lux is worth: lux per µmol m⁻² s⁻¹ of a spectrum.

Lux weighs light as eyes do, PPFD counts photons from 400 to 700 nm. What one is of the other hangs on the
spectrum alone. Spectra of the CIE and the sensitivity of eyes come from the library colour-science,
which is the extra ``spectra``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from photoperiod.arrays import np
from photoperiod.errors import OutsideWorldError, WrongUse
from photoperiod.readings.columns import Column, Kind, Quantity
from photoperiod.readings.dialect import decimal_mark, read_csv
from photoperiod.readings.faults import Faults
from photoperiod.readings.photon_shares import FIRST_NM, LAST_NM, Spectrum, photon_shares, photons
from photoperiod.text import extra_text, number_text, short, suggestion

#: Lumens of one watt at 555 nm, by the definition of the candela. [lm/W]
LUMENS_PER_WATT = 683.0

#: Spectra are compared with themselves moved by so much. [nm]
SHIFT_NM = 5.0

#: A spectrum whose worth changes by more than this if it is moved by `SHIFT_NM` is refused [share]: LEDs of
#: one bin differ by as much, and a meter's own error there is larger. Our choice, no source.
MOST_CHANGE = 0.15

#: Full width at half maximum of a normal distribution, in standard deviations.
FWHM = 2.354820045

#: The columns of a file with a spectrum, and of one with an action spectrum.
SPECTRUM_COLUMNS = ("wavelength_nm", "power")
ACTION_COLUMNS = ("wavelength_nm", "weight")


@dataclass(frozen=True, slots=True, kw_only=True)
class LuxWorth:
    """What lux are of a spectrum.

    Parameters
    ----------
    lux_per_umol : float
        Lux of 1 µmol m⁻² s⁻¹.
    change : float
        By how much that changes if the spectrum is moved by `SHIFT_NM`. [share]
    thirds : (float, float, float)
        Shares of its photons at 400–500, 500–600 and 600–700 nm.
    """

    lux_per_umol: float
    change: float
    thirds: tuple[float, float, float]


def lux_worth(spectrum: Spectrum) -> LuxWorth:
    """Return what lux are of a spectrum.

    Integrals are trapezoids at 1 nm. For reference: CIE FL2 76.48, FL11 76.04, A 50.26, D65 55.50.
    """
    once = _lux_per_umol(spectrum)
    moved = [_lux_per_umol(spectrum.moved(by)) for by in (-SHIFT_NM, SHIFT_NM)]
    return LuxWorth(
        lux_per_umol=once,
        change=max(abs(each / once - 1.0) for each in moved),
        thirds=photon_shares(spectrum, None).thirds,
    )


def _lux_per_umol(spectrum: Spectrum) -> float:
    eyes = _eyes()
    nm = np.arange(360.0, 831.0)
    lumens = LUMENS_PER_WATT * float(np.trapezoid(spectrum.at(nm) * eyes.at(nm), nm))
    return lumens / photons(spectrum, FIRST_NM, LAST_NM)


def _colour() -> Any:
    """Return the part of colour-science that holds spectra."""
    try:
        from colour import colorimetry
    except ImportError as error:
        raise OutsideWorldError(
            "PHO916",
            "spectra need a library that is not installed",
            extra_text("spectra"),
        ) from error
    return colorimetry


def _eyes() -> Spectrum:
    """Return V(λ), CIE 1924."""
    curve = _colour().SDS_LEFS_PHOTOPIC["CIE 1924 Photopic Standard Observer"]
    return Spectrum(np.asarray(curve.wavelengths), np.asarray(curve.values))


def illuminant(name: str) -> Spectrum:
    """Return a spectrum of the CIE by its name, such as FL11, D65 or LED-B3.

    Raises
    ------
    WrongUse
        If there is none of that name.
    """
    known: Mapping[str, Any] = _colour().SDS_ILLUMINANTS
    names = [each for each in known if not each.startswith("ISO")]
    if name not in names:
        raise WrongUse(f"there is no illuminant '{short(name)}'; {suggestion(name, names)}")
    return Spectrum(np.asarray(known[name].wavelengths), np.asarray(known[name].values))


def led(centre_nm: float, width_nm: float) -> Spectrum:
    """Return an LED as a normal distribution; the width is that at half of its maximum. [nm]"""
    nm = np.arange(300.0, 901.0)
    return Spectrum(nm, np.exp(-0.5 * ((nm - centre_nm) / (width_nm / FWHM)) ** 2))


def read_spectrum(name: str, raw: bytes) -> tuple[Spectrum | None, Faults]:
    """Return the spectrum in a CSV file with columns `wavelength_nm` and `power`, and what was found."""
    what = "a spectrum has the columns `wavelength_nm` and `power` (per nm, in any unit)"
    return _read(name, raw, SPECTRUM_COLUMNS, what)


def read_action_spectrum(name: str, raw: bytes) -> tuple[Spectrum | None, Faults]:
    """Return the weights in a CSV file with columns `wavelength_nm` and `weight`, and what was found."""
    what = "an action spectrum has the columns `wavelength_nm` and `weight` (of a photon, 0 to 1)"
    found, faults = _read(name, raw, ACTION_COLUMNS, what)
    if found is not None and found.power.max() > 1:
        most = number_text(float(found.power.max()), 4)
        faults.add(
            "PHO916", None, f"the largest weight is {most}", "divide all of them by the largest"
        )
        return None, faults
    return found, faults


def _read(
    name: str, raw: bytes, names: tuple[str, str], what: str
) -> tuple[Spectrum | None, Faults]:
    table, faults = read_csv(name, raw, names)
    if table is None:
        return None, faults
    if sorted(table.header) != sorted(names):
        faults.add(
            "PHO916",
            table.place(-1, 0),
            f"the columns are {short(', '.join(table.header))}",
            what,
        )
        return None, faults
    kind = Kind(Quantity.LIGHT)
    columns = [Column(table.header.index(each), each, kind) for each in names]
    mark = decimal_mark(table, [column.index for column in columns], faults)
    if mark is None:
        return None, faults
    values: list[list[float]] = [[], []]
    for record, cells in enumerate(table.records):
        for column, found in zip(columns, values, strict=True):
            cell = cells[column.index].strip().replace(mark, ".") if len(cells) > 1 else ""
            found.append(_number(cell))
            if not np.isfinite(found[-1]):
                place = table.place(record, column.index)
                faults.add(
                    "PHO904", place, f"'{short(cell)}' is not a number", "write the number alone"
                )
    nm, power = np.array(values[0]), np.array(values[1])
    for wrong, column, words in (
        (np.append(False, np.diff(nm) <= 0), columns[0], "wavelengths must rise"),
        (power < 0, columns[1], f"{names[1]} is not below 0"),
    ):
        for at in np.flatnonzero(wrong):
            where = table.place(int(at), column.index)
            faults.add(
                "PHO916", where, words, "is the file sorted, and has its dark been taken off?"
            )
    if not faults and (nm[0] > FIRST_NM or nm[-1] < LAST_NM):
        faults.add(
            "PHO916",
            table.place(0 if nm[0] > FIRST_NM else nm.size - 1, columns[0].index),
            f"the spectrum reaches from {number_text(float(nm[0]))} to {number_text(float(nm[-1]))} nm",
            "PPFD counts from 400 to 700 nm, and all of that must be there",
        )
    if not faults and not Spectrum(nm, power).at(np.arange(FIRST_NM, LAST_NM + 1)).max() > 0:
        faults.add(
            "PHO916", None, "the spectrum is dark from 400 to 700 nm", "is it the right column?"
        )
    return (None if faults.has_errors else Spectrum(nm, power)), faults


def _number(cell: str) -> float:
    try:
        return float(cell)
    except ValueError:
        return np.nan


def refuse_narrow(worth: LuxWorth, faults: Faults) -> None:
    """Add a finding for a spectrum of which lux tell too little."""
    if worth.change > MOST_CHANGE:
        faults.add(
            "PHO916",
            None,
            f"lux tell too little of this light: if its colour were {number_text(SHIFT_NM)} nm off, a lux"
            f" would be worth {number_text(worth.change * 100, 0)} % more or less",
            "measure PPFD; or add --force, and trust the dose no more than that",
        )
