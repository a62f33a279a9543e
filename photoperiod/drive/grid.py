"""The grids a table stands on: the controller's times, its levels, its relay."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.drive.converter import Converter
from photoperiod.units import CONTROL_VOLTS_FULL, SECONDS_PER_DAY

#: What a whole range is in each unit; codes have no fixed range.
RANGE = {"percent": 100, "millivolts": 10_000}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeGrid:
    """Times of rows, and how the controller goes from row to row.

    ``step_s`` divides the day [s]; ``between`` is ``line`` or ``hold``; ``after_last_row`` is
    ``wrap`` or ``hold``.
    """

    step_s: int
    between: str
    after_last_row: str

    @property
    def wraps(self) -> bool:
        """True if the table goes on across midnight."""
        return self.after_last_row == "wrap"

    def nearest(self, second: float) -> int:
        """Return the grid time nearest to a second, 0 to 86,400; halves go up."""
        return int((second + self.step_s / 2) // self.step_s) * self.step_s


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelGrid:
    """Levels in whole counts of a step, and how the controller rounds between rows.

    Parameters
    ----------
    unit : str
        ``percent`` of 10 V, ``millivolts`` or ``code``.
    step : Fraction
        One count, in that unit.
    every_seconds : int
        How often the output moves. [s]
    rounding : str
        ``half-up``, ``down`` or ``toward-last-row``.
    """

    unit: str
    step: Fraction
    every_seconds: int
    rounding: str

    def top_count(self, converter: Converter) -> int:
        """Return the largest count; counts run from 0 to it."""
        if self.unit == "code":
            return int(converter.full_code // self.step)
        most = min(converter.most_volts, CONTROL_VOLTS_FULL) / CONTROL_VOLTS_FULL
        return int(Fraction(most).limit_denominator(10**6) * RANGE[self.unit] // self.step)

    def codes(self, converter: Converter) -> Ints:
        """Return the converter code of every count, shape (top + 1,)."""
        counts = np.arange(self.top_count(converter) + 1)
        if self.unit == "code":
            return counts * int(self.step)
        per_count = CONTROL_VOLTS_FULL * float(self.step) / RANGE[self.unit]
        return converter.codes(counts.astype(np.float64) * per_count)

    def level_percents(self, converter: Converter) -> Floats:
        """Return the level of every count, shape (top + 1,). [% of 10 V]

        A level in codes is that of the calibrated volts; any other is exact to rounding.
        """
        if self.unit == "code":
            return converter.volts(self.codes(converter)) * (100 / CONTROL_VOLTS_FULL)
        counts = np.arange(self.top_count(converter) + 1, dtype=np.float64)
        return counts * float(self.step * 100 / RANGE[self.unit])


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayMode:
    """How the mains is switched: ``column``, ``follows-level`` at ``on_level_percent``, ``none``."""

    kind: str
    on_level_percent: float = 0.0


@dataclass(frozen=True, slots=True, order=True)
class Row:
    """A setpoint: a second of the day, a level in counts, and a relay state.

    ``relay`` is None where the table holds no relay state.
    """

    second: int
    count: int
    relay: bool | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.second < SECONDS_PER_DAY:
            raise ValueError(f"second {self.second} is outside a day")
        if self.count < 0:
            raise ValueError(f"count {self.count} is below zero")
