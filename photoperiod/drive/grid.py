"""The grids a table stands on: the controller's times, its levels, its relay."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from photoperiod.arrays import Floats, Ints, np
from photoperiod.drive.converter import Converter
from photoperiod.units import CONTROL_VOLTS_FULL, SECONDS_PER_DAY


class Between(StrEnum):
    """How the controller goes from one row to the next."""

    LINE = "line"
    HOLD = "hold"


class AfterLastRow(StrEnum):
    """What follows the last row of a day."""

    WRAP = "wrap"  # the first row of the next day, as after any other row
    HOLD = "hold"  # its level until midnight; from midnight the first row applies


class Rounding(StrEnum):
    """How the controller rounds a level between two rows to whole counts."""

    HALF_UP = "half-up"
    DOWN = "down"
    TOWARD_LAST_ROW = "toward-last-row"  # the change since the last row is cut off, as C divides


class LevelUnit(StrEnum):
    """The unit in which a controller takes levels."""

    PERCENT = "percent"  # of 10 V
    MILLIVOLTS = "millivolts"
    CODE = "code"  # of the converter


class RelayKind(StrEnum):
    """How a controller switches the mains of its ballasts."""

    COLUMN = "column"  # each row holds a relay state
    FOLLOWS_LEVEL = "follows-level"  # closed from a certain level on
    NONE = "none"


#: The whole range of a level in each unit; converter codes have no fixed range.
RANGE = {LevelUnit.PERCENT: 100, LevelUnit.MILLIVOLTS: 10_000}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeGrid:
    """Times of rows, and how the controller goes from row to row.

    ``step_s`` divides the day [s].
    """

    step_s: int
    between: Between
    after_last_row: AfterLastRow

    @property
    def wraps(self) -> bool:
        """True if the table goes on across midnight."""
        return self.after_last_row == AfterLastRow.WRAP

    def nearest(self, second: float) -> int:
        """Return the grid time nearest to a second, 0 to 86,400; halves go up. [s]"""
        return int((second + self.step_s / 2) // self.step_s) * self.step_s


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelGrid:
    """Levels in whole counts of a step, and how the controller rounds between rows.

    Parameters
    ----------
    unit : LevelUnit
        What a level is written in.
    step : Fraction
        One count, in that unit.
    every_seconds : int
        How often the output moves. [s]
    rounding : Rounding
        How levels between rows become whole counts.
    """

    unit: LevelUnit
    step: Fraction
    every_seconds: int
    rounding: Rounding

    def top_count(self, converter: Converter) -> int:
        """Return the largest count; counts run from 0 to it."""
        if self.unit == LevelUnit.CODE:
            return int(converter.full_code // self.step)
        most = min(converter.most_volts, CONTROL_VOLTS_FULL) / CONTROL_VOLTS_FULL
        return int(Fraction(most).limit_denominator(10**6) * RANGE[self.unit] // self.step)

    def codes(self, converter: Converter) -> Ints:
        """Return the converter code of every count, shape (top + 1,). [codes]"""
        counts = np.arange(self.top_count(converter) + 1)
        if self.unit == LevelUnit.CODE:
            return counts * int(self.step)
        per_count = CONTROL_VOLTS_FULL * float(self.step) / RANGE[self.unit]
        return converter.codes(counts.astype(np.float64) * per_count)

    def level_percents(self, converter: Converter) -> Floats:
        """Return the level of every count, shape (top + 1,). [% of 10 V]

        A level in codes is that of the calibrated volts; any other is exact to rounding.
        """
        if self.unit == LevelUnit.CODE:
            return converter.volts(self.codes(converter)) * (100 / CONTROL_VOLTS_FULL)
        counts = np.arange(self.top_count(converter) + 1, dtype=np.float64)
        return counts * float(self.step * 100 / RANGE[self.unit])


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayMode:
    """How the mains is switched.

    A relay that follows the level is closed from ``on_level_percent`` on. [% of 10 V]
    """

    kind: RelayKind
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
