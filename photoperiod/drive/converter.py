"""The digital-to-analogue converter: integer codes and the volts they give."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.arrays import Floats, Ints, np
from photoperiod.units import CONTROL_VOLTS_FULL

#: Volts that differ by less are the same: rounding of a calibration [V].
VOLTS_SLACK = 1e-9


class ConverterKind(StrEnum):
    """Where the line of a converter comes from."""

    NOMINAL = "nominal"  # its reference volts and its bits
    TWO_POINT = "two-point"  # volts measured at two codes


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """A converter whose volts are a straight line in the code, ``offset + code × volts_per_code``.

    Parameters
    ----------
    kind : ConverterKind
        Where the line comes from; kept for what is written about the converter.
    bits : int
        Resolution; codes are 0 to 2^bits − 1.
    offset_volts, volts_per_code : float
        The line. [V]
    most_volts : float
        The top of the port; no permitted code gives more than this and 10.0 V. [V]
    """

    kind: ConverterKind
    bits: int
    offset_volts: float
    volts_per_code: float
    most_volts: float = CONTROL_VOLTS_FULL

    @classmethod
    def nominal(cls, bits: int, full_scale_volts: float, most_volts: float) -> Converter:
        """Return an uncalibrated converter: V = Vref × code / 2^bits."""
        return cls(
            kind=ConverterKind.NOMINAL,
            bits=bits,
            offset_volts=0.0,
            volts_per_code=full_scale_volts / 2**bits,
            most_volts=most_volts,
        )

    @classmethod
    def two_point(
        cls, bits: int, low: tuple[int, float], high: tuple[int, float], most_volts: float
    ) -> Converter:
        """Return a converter measured at two codes, each (code, volts)."""
        slope = (high[1] - low[1]) / (high[0] - low[0])
        return cls(
            kind=ConverterKind.TWO_POINT,
            bits=bits,
            offset_volts=low[1] - slope * low[0],
            volts_per_code=slope,
            most_volts=most_volts,
        )

    @property
    def last_code(self) -> int:
        """The largest code the converter takes; the next one would wrap to zero."""
        return int(2**self.bits - 1)

    @property
    def full_code(self) -> int:
        """The top permitted code: the largest whose volts are at most 10.0 V and the port's most."""
        most = min(self.most_volts, CONTROL_VOLTS_FULL)
        code = math.floor((most - self.offset_volts) / self.volts_per_code + 1e-9)
        code = min(max(code, 0), self.last_code)
        while code > 0 and self._line(code) > most + VOLTS_SLACK:
            code -= 1
        return code

    def _line(self, code: int) -> float:
        return self.offset_volts + code * self.volts_per_code

    def volts(self, codes: Ints) -> Floats:
        """Return the volts of codes, never below 0 V, as single-supply outputs are. [V]"""
        line = self.offset_volts + codes.astype(np.float64) * self.volts_per_code
        most = min(self.most_volts, CONTROL_VOLTS_FULL)
        line = np.where(np.abs(line - most) <= VOLTS_SLACK, most, line)
        return np.maximum(line, 0.0)

    def nearest_codes(self, control_volts: Floats) -> Ints:
        """Return the codes nearest to some volts, within what the converter takes.

        Halves go up. The result may be above `full_code`; `codes` is what may leave.
        """
        exact = (control_volts - self.offset_volts) / self.volts_per_code
        rounded = np.floor(np.round(exact, 9) + 0.5).astype(np.int64)
        return np.clip(rounded, 0, self.last_code)

    def codes(self, control_volts: Floats) -> Ints:
        """Return the permitted codes nearest to some volts."""
        return np.minimum(self.nearest_codes(control_volts), self.full_code)
