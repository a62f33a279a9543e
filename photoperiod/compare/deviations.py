"""How far a log is off the table at each record, and how far it may be off.

What may be off shrinks with the light: 2 % of full is little at noon, all of a moonlight, and twice the
floor of a lamp that should be dark.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Floats
from photoperiod.compare.clock_drift import ClockShift
from photoperiod.compare.expected import LoggedLight, band
from photoperiod.compare.model import Limits
from photoperiod.compare.noise import SIGMAS, noise_of, wrong_in_blocks

#: Light below this is darkness [fraction of full]: no more than a tenth of the floor of most ballasts.
#: Our choice.
DARK_LIGHT = 0.001

#: Dim light may be off by this part of itself, and by no more than the limit. Our choice.
DIM_PART = 0.5

#: What a meter reads is wrong once it is so for this long in all: a single reading of each minute may be a
#: slip of the meter. Records of a player are exact: each counts. Our choice. [s]
LEAST_WRONG_S = 120.0

#: The table is dark where it gives no more than this. [fraction of full]
_NOTHING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviations:
    """The records of a channel or zone beside the table, all arrays of shape (records,).

    Parameters
    ----------
    off : ndarray
        How far a record is above (positive) or below what the tolerance in time allows. [fraction of full]
    nearest : ndarray
        The nearest value that it allows, in the unit of the light.
    planned : ndarray
        What the table has at the same instant, in the unit of the light.
    noise : ndarray
        Standard deviation of the noise of readings; 0 for records of a player. [fraction of full]
    seconds : ndarray
        For how long a record stands. [s]
    is_dark : ndarray of bool
        True where the table is dark within the tolerance in time.
    wrong : ndarray of bool
        True where a record is wrong beyond doubt.
    brief : ndarray of bool
        True where a reading of a meter is off, but for so short a time that it may be a slip.
    """

    off: Floats
    nearest: Floats
    planned: Floats
    noise: Floats
    seconds: Floats
    is_dark: Bools
    wrong: Bools
    brief: Bools

    @property
    def away(self) -> Floats:
        """How far each record is off, whatever the side. [fraction of full]"""
        return np.abs(self.off)


def deviations_of(light: LoggedLight, limits: Limits, shift: ClockShift) -> Deviations:
    """Return how far the records of a light are off the table."""
    instants = light.unix_s + shift.at(light.unix_s)
    planned, low, high = band(light.expected, instants, limits.time_s + shift.doubt_s)
    nearest = np.clip(light.values, low, high)
    # The zero of a meter may be a little low: no light is less than none.
    off = (np.maximum(light.values, 0.0) - nearest) / light.scale
    is_dark = high <= _NOTHING * light.scale
    noise = np.zeros(instants.shape)
    read = ~light.held
    if read.any():
        beside = (light.values - planned) / light.scale
        noise[read] = noise_of(
            light.unix_s[read], beside[read], planned[read] / light.scale, limits.gap_s
        )
    seconds = seconds_of(light.unix_s, limits.gap_s, holds=light.held)
    wrong, brief = _wrong(light, limits, off, nearest, noise, seconds, is_dark)
    return Deviations(
        off=off,
        nearest=nearest,
        planned=planned,
        noise=noise,
        seconds=seconds,
        is_dark=is_dark,
        wrong=wrong,
        brief=brief,
    )


def dark_limit(light: LoggedLight, limits: Limits) -> float:
    """Return below which light counts as darkness. [fraction of full]"""
    return limits.dark_ppfd / light.scale if light.is_zone else DARK_LIGHT


def _wrong(
    light: LoggedLight,
    limits: Limits,
    off: Floats,
    nearest: Floats,
    noise: Floats,
    seconds: Floats,
    is_dark: Bools,
) -> tuple[Bools, Bools]:
    """Return which records are wrong beyond doubt, and which are off for a short time only."""
    least = dark_limit(light, limits)
    allowed = np.minimum(least + DIM_PART * nearest / light.scale, max(limits.light, least))
    wrong = np.abs(off) > allowed + SIGMAS * noise
    brief = np.zeros(wrong.shape, dtype=np.bool_)
    for kind in (is_dark & ~light.held, ~is_dark & ~light.held):
        if float(seconds[wrong & kind].sum()) < LEAST_WRONG_S:
            brief |= wrong & kind
            wrong &= ~kind
        if kind.any():
            wrong[kind] |= wrong_in_blocks(
                light.unix_s[kind],
                off[kind],
                allowed[kind],
                noise[kind],
                seconds[kind],
                LEAST_WRONG_S,
            )
    return wrong, brief & ~wrong


def seconds_of(unix_s: Floats, gap_s: float, *, holds: bool | Bools) -> Floats:
    """Return for how long each record stands, at most ``gap_s`` of it known. [s]

    A record of a player stands until the next one, a reading of a meter half way to both sides. After a
    record of a player a reading stands from its own instant on.
    """
    if unix_s.size < 2:
        return np.full(unix_s.shape, gap_s)
    lengths = np.minimum(np.diff(unix_s), gap_s)
    usual = float(np.median(lengths))
    after = np.append(lengths, usual)
    held = np.broadcast_to(holds, unix_s.shape)
    before = np.where(np.append(held[0], held[:-1]), 0.0, 0.5 * np.append(usual, lengths))
    return before + np.where(held, after, 0.5 * after)
