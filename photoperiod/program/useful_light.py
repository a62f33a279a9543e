"""What a dose of light is worth to photosynthesis: when it begins and ends, and how much goes beyond Ek."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats, runs_of_true
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

#: Photosynthesis of this share of its most is worth being called day [share]. Our choice, no source.
USEFUL_SHARE = 0.5

#: The light at which it has that share, beside Ek: tanh(I/Ek) is USEFUL_SHARE [ratio].
USEFUL_LIGHT = math.atanh(USEFUL_SHARE)


@dataclass(frozen=True, slots=True, kw_only=True)
class UsefulLight:
    """What the light of a day is worth where a zone gives Ek.

    Parameters
    ----------
    hours_above_ek : float
        How long PPFD is at Ek or above it. [h]
    share_above_ek : float
        The part of the dose that lies above Ek, ∫max(I − Ek, 0)dt / ∫I dt. [share]
    begin_s, end_s : int or None
        Onset and end of the useful day, in which photosynthesis has at least half of its most but for
        breaks shorter than its night; None if it never has. [s of the table's day]

    References
    ----------
    Photosynthesis is tanh(I/Ek) of its most: Jassby & Platt, Limnology and Oceanography 21:540–547, 1976.
    """

    hours_above_ek: float
    share_above_ek: float
    begin_s: int | None
    end_s: int | None


def useful_light(
    ppfd_umol_m2_s: Floats, passing_umol_m2_s: Floats, ek_umol_m2_s: float
) -> UsefulLight:
    """Return what the light of a day is worth.

    Parameters
    ----------
    ppfd_umol_m2_s : ndarray, shape (86400,)
        PPFD of a table's day, which repeats: onset and end are of this. [µmol m⁻² s⁻¹]
    passing_umol_m2_s : ndarray, shape (any,)
        PPFD of each second that really passes of the date: hours and shares are of this. [µmol m⁻² s⁻¹]
    ek_umol_m2_s : float
        PPFD at which photosynthesis begins to saturate. [µmol m⁻² s⁻¹]
    """
    total = float(passing_umol_m2_s.sum())
    above = float(np.maximum(passing_umol_m2_s - ek_umol_m2_s, 0.0).sum())
    begin_s, end_s = _useful_day(ppfd_umol_m2_s >= USEFUL_LIGHT * ek_umol_m2_s)
    return UsefulLight(
        hours_above_ek=int((passing_umol_m2_s >= ek_umol_m2_s).sum()) / SECONDS_PER_HOUR,
        share_above_ek=above / total if total > 0 else 0.0,
        begin_s=begin_s,
        end_s=end_s,
    )


def _useful_day(is_useful: Bools) -> tuple[int | None, int | None]:
    """Return where the useful day begins and ends: all but the longest run without. [s of the day]"""
    nights = runs_of_true(~is_useful, repeats=True)
    if not nights:
        return 0, SECONDS_PER_DAY
    begin, end = max(nights, key=lambda run: run[1] - run[0])
    if end - begin == SECONDS_PER_DAY:
        return None, None
    return end % SECONDS_PER_DAY, begin or SECONDS_PER_DAY
