"""From control volts to light: the response of a ballast above its floor.

Light is a fraction of full. Below its floor volts a ballast holds its floor; only a relay, or for
some ballasts a standby threshold, makes it dark.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from photoperiod.arrays import Floats, np, stretch_of_true

#: Dips of a measured response up to this are taken for noise of the meter [fraction of full].
#: Our choice, no source.
NOISE_LIGHT = 0.02


class ResponseKind(StrEnum):
    """How light rises with the control volts, from floor to full."""

    LINEAR = "linear"  # evenly
    SQUARE_LAW = "square-law"  # its root evenly
    LOG_LAW = "log-law"  # its logarithm evenly
    MEASURED = "measured"  # straight lines between measured points


class DarkKind(StrEnum):
    """What makes a ballast dark."""

    RELAY = "relay"  # the mains is switched off
    STANDBY = "standby"  # the control volts are low enough
    NEVER = "never"


class BelowFloor(StrEnum):
    """What a lamp does where its plan asks for less light than its floor."""

    NEAREST = "nearest"  # floor or dark, whichever is nearer
    DARK = "dark"
    FLOOR = "floor"


@dataclass(frozen=True, slots=True, kw_only=True)
class BallastCurve:
    """A ballast's response.

    Parameters
    ----------
    kind : ResponseKind
        How light rises from floor to full; a measured one has ``volts`` and ``light``.
    floor_volts, full_volts : float
        Ends of the working range. [V]
    floor_light : float
        Light at and below the floor volts, above 0. [fraction of full]
    dark : DarkKind
        What makes it dark.
    standby_volts : float
        Below these volts a standby ballast is dark. [V]
    keeps_mains : bool
        True if the mains of a standby ballast stay on in the dark, although rows hold a relay state.
    below_floor : BelowFloor
        What becomes of light wanted below the floor.
    volts, light : tuple of float
        The measured points from floor to full, rising. [V], [fraction of full]
    """

    kind: ResponseKind
    floor_volts: float
    full_volts: float
    floor_light: float
    dark: DarkKind
    standby_volts: float = 0.0
    keeps_mains: bool = False
    below_floor: BelowFloor = BelowFloor.NEAREST
    volts: tuple[float, ...] = ()
    light: tuple[float, ...] = ()

    def light_at(self, control_volts: Floats) -> Floats:
        """Return the light of a lamp that burns, flat below the floor and above full.

        Parameters
        ----------
        control_volts : ndarray, any shape
            Volts at the control pair. [V]

        Returns
        -------
        ndarray, the same shape
            Light, from ``floor_light`` to 1. [fraction of full]
        """
        v = np.clip(control_volts, self.floor_volts, self.full_volts)
        if self.kind == ResponseKind.MEASURED:
            return np.interp(v, self.volts, self.light)
        share = (v - self.floor_volts) / (self.full_volts - self.floor_volts)
        if self.kind == ResponseKind.LINEAR:
            return self.floor_light + (1.0 - self.floor_light) * share
        if self.kind == ResponseKind.SQUARE_LAW:
            root = math.sqrt(self.floor_light)
            return (root + (1.0 - root) * share) ** 2
        if self.kind == ResponseKind.LOG_LAW:
            return np.exp(math.log(self.floor_light) * (1.0 - share))
        raise ValueError(f"unknown response kind {self.kind!r}")

    def reachable(self, wanted: Floats, most_light: float) -> Floats:
        """Return the reachable light nearest to the light wanted: within floor, darkness and top.

        Parameters
        ----------
        wanted : ndarray, any shape
            Light wanted, 0 to 1. [fraction of full]
        most_light : float
            Light at the top permitted code. [fraction of full]

        Returns
        -------
        ndarray, the same shape
            0 where it is to be dark, else from ``floor_light`` to ``most_light``.
        """
        most = max(most_light, self.floor_light)
        if self.dark == DarkKind.NEVER:
            return np.minimum(np.maximum(wanted, self.floor_light), most)
        least = self._lit_from()
        is_lit = wanted >= least if least > 0.0 else wanted > 0.0
        light = np.zeros(wanted.shape)
        # A lamp is dark half of the day: nothing else is reckoned there.
        within = stretch_of_true(is_lit)
        np.maximum(wanted[within], self.floor_light, out=light[within])
        np.minimum(light[within], most, out=light[within])
        if not is_lit[within].all():
            light[~is_lit] = 0.0
        return light

    def _lit_from(self) -> float:
        """Return the least light wanted that lights a lamp, 0 if any does. [fraction of full]"""
        if self.below_floor == BelowFloor.NEAREST:
            return self.floor_light / 2
        return self.floor_light if self.below_floor == BelowFloor.DARK else 0.0


def levelled(
    light: Sequence[float], weights: Sequence[float] | None = None
) -> tuple[list[float], float]:
    """Return measured light made non-falling, and the largest change of a point.

    Neighbours that fall are replaced by their mean until none fall: the least-squares repair known
    as "pool adjacent violators" (Ayer et al., Annals of Mathematical Statistics, 1955; from memory).

    Parameters
    ----------
    light : sequence of float
        Light at rising volts. [fraction of full]
    weights : sequence of float or None
        How much each point counts, above 0, such as the number of its readings; None for all alike.

    Returns
    -------
    light : list of float
        Non-falling light.
    moved : float
        The largest change of a point. [fraction of full]
    """
    pools: list[_Pool] = []
    for value, weight in zip(light, weights or [1.0] * len(light), strict=True):
        pools.append(_Pool(value * weight, weight, 1))
        while len(pools) > 1 and pools[-2].mean > pools[-1].mean:
            last = pools.pop()
            pools[-1] = pools[-1].with_next(last)
    result = [pool.mean for pool in pools for _ in range(pool.points)]
    return result, max((abs(a - b) for a, b in zip(light, result, strict=True)), default=0.0)


class _Pool(NamedTuple):
    """Neighbouring points that have one light: the weighted sum of theirs, and their weights' sum."""

    weighed: float
    weight: float
    points: int

    @property
    def mean(self) -> float:
        """The light that all of its points have, by their weights."""
        return self.weighed / self.weight

    def with_next(self, other: _Pool) -> _Pool:
        """Return this pool and the next as one."""
        return _Pool(
            self.weighed + other.weighed, self.weight + other.weight, self.points + other.points
        )
