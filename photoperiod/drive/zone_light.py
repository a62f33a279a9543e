"""The light of a zone: what channels give to it, each by its PPFD at full.

A channel gives a zone ``full_ppfd`` × light of its tubes × light. Every sum of PPFD is made here, so
that no sum forgets what the tubes have lost since PPFD was measured.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from photoperiod.arrays import Floats

#: Two PPFD that differ by less than this are the same [µmol m⁻² s⁻¹].
PPFD_SLACK = 1e-6

#: Light of one channel, or PPFD, at one moment or at many.
Light = TypeVar("Light", float, Floats)


def full_ppfd_now(measured_umol_m2_s: float, brightness: float) -> float:
    """Return the PPFD that a channel gives to a zone at full on a date. [µmol m⁻² s⁻¹]

    Parameters
    ----------
    measured_umol_m2_s : float
        The channel's ``full_ppfd`` in the zone, as measured. [µmol m⁻² s⁻¹]
    brightness : float
        Light of the channel's tubes on the date, divided by that on the day of measurement. [ratio]
    """
    return measured_umol_m2_s * brightness


def zone_ppfd(sources: Iterable[tuple[float, Light]], dark: Light) -> Light:
    """Return the PPFD that channels give to a zone together. [µmol m⁻² s⁻¹]

    Parameters
    ----------
    sources : iterable of (float, float or ndarray)
        For each channel its PPFD at full as `full_ppfd_now` gives it [µmol m⁻² s⁻¹], and its light
        [fraction of full]. Sums are made in this order.
    dark : float or ndarray
        Zero, in the shape of the lights: the PPFD where no channel lights the zone.
    """
    total = dark
    for full_ppfd, light in sources:
        total = total + full_ppfd * light
    return total
