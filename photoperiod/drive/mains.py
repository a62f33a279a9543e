"""What a ballast takes from the mains: a straight line in light between its floor and full."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.arrays import Bools, Floats, np


@dataclass(frozen=True, slots=True)
class PowerLine:
    """The line of one ballast.

    Parameters
    ----------
    floor_light : float
        Light at the floor. [fraction of full]
    floor, full, dark : float
        Power at the floor, at full, and in the dark while the mains is on. [W]
    """

    floor_light: float
    floor: float
    full: float
    dark: float

    def watts(self, light: Floats, lit: Bools, has_mains: Bools) -> Floats:
        """Return the power at each moment. [W]

        Parameters
        ----------
        light : ndarray, any shape
            Light that it gives. [fraction of full]
        lit : ndarray, the same shape
            Whether its lamp burns.
        has_mains : ndarray, the same shape
            Whether it takes its power in the dark: not behind an open relay.
        """
        share = (light - self.floor_light) / (1.0 - self.floor_light)
        dark = np.where(has_mains, self.dark, 0.0)
        return np.where(lit, self.floor + (self.full - self.floor) * share, dark)
