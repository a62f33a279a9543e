"""The digital-to-analogue converter: integer codes and the volts they give."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.arrays import Floats, Ints, np
from photoperiod.units import CONTROL_VOLTS_FULL

#: Volts that differ by less are the same: rounding of a calibration [V].
VOLTS_SLACK = 1e-9


class ConverterKind(StrEnum):
    """Where the volts of a converter's codes come from."""

    NOMINAL = "nominal"  # its reference volts and its bits
    TWO_POINT = "two-point"  # volts measured at two codes
    MEASURED = "measured"  # volts measured at several codes


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """A converter whose volts are a straight line in the code, ``offset + code × volts_per_code``.

    Or, where it was measured at several codes, straight lines between them, of which the first and the
    last go on beyond.

    Parameters
    ----------
    kind : ConverterKind
        Where the line comes from; kept for what is written about the converter.
    bits : int
        Resolution; codes are 0 to 2^bits − 1.
    offset_volts, volts_per_code : float
        The line; of several, the volts of code 0 and the mean slope. [V]
    most_volts : float
        The top of the port; no permitted code gives more than this and 10.0 V. [V]
    points : tuple of (int, float)
        Codes, rising, and the volts [V] measured at each, rising; empty for a single line.
    """

    kind: ConverterKind
    bits: int
    offset_volts: float
    volts_per_code: float
    most_volts: float = CONTROL_VOLTS_FULL
    points: tuple[tuple[int, float], ...] = ()

    @classmethod
    def nominal(cls, bits: int, full_scale_volts: float, most_volts: float) -> Converter:
        """Return an uncalibrated converter: V = Vref × code / 2^bits.

        ``full_scale_volts`` is Vref, what code 2^bits would give; ``most_volts`` the top of the port. [V]
        """
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
        """Return a converter measured at two codes, the lower one first, each (code, volts). [V]"""
        slope = (high[1] - low[1]) / (high[0] - low[0])
        return cls(
            kind=ConverterKind.TWO_POINT,
            bits=bits,
            offset_volts=low[1] - slope * low[0],
            volts_per_code=slope,
            most_volts=most_volts,
        )

    @classmethod
    def measured(
        cls, bits: int, points: Sequence[tuple[int, float]], most_volts: float
    ) -> Converter:
        """Return a converter measured at two codes or more, each (code, volts [V]), both rising."""
        (low, low_volts), (next_code, next_volts) = points[0], points[1]
        first_slope = (next_volts - low_volts) / (next_code - low)
        return cls(
            kind=ConverterKind.MEASURED,
            bits=bits,
            offset_volts=low_volts - first_slope * low,
            volts_per_code=(points[-1][1] - low_volts) / (points[-1][0] - low),
            most_volts=most_volts,
            points=tuple(points),
        )

    @property
    def last_code(self) -> int:
        """The largest code the converter takes; the next one would wrap to zero."""
        return int(2**self.bits - 1)

    @property
    def full_code(self) -> int:
        """The top permitted code: the largest whose volts are at most 10.0 V and the port's most."""
        most = min(self.most_volts, CONTROL_VOLTS_FULL)
        if self.points:
            line = self._lines(np.arange(self.last_code + 1))
            return int(np.searchsorted(line, most + VOLTS_SLACK, side="right").clip(1) - 1)
        code = math.floor((most - self.offset_volts) / self.volts_per_code + 1e-9)
        code = min(max(code, 0), self.last_code)
        while code > 0 and self.volts_at(code) > most + VOLTS_SLACK:
            code -= 1
        return code

    def volts_at(self, code: int) -> float:
        """Return the volts of one code, below 0 V too where the line goes there. [V]"""
        if self.points:
            return float(self._lines(np.array([code]))[0])
        return self.offset_volts + code * self.volts_per_code

    def _lines(self, codes: Ints) -> Floats:
        """Return volts by the lines between the points. [V]"""
        at, volts = np.array(self.points, dtype=np.float64).T
        piece = np.clip(np.searchsorted(at, codes, side="right") - 1, 0, at.size - 2)
        slope = np.diff(volts) / np.diff(at)
        return np.asarray(volts[piece] + (codes - at[piece]) * slope[piece])

    def _exact_codes(self, control_volts: Floats) -> Floats:
        """Return the code, with fractions, at which the line has some volts, in their shape. [codes]"""
        if not self.points:
            return (control_volts - self.offset_volts) / self.volts_per_code
        at, volts = np.array(self.points, dtype=np.float64).T
        piece = np.clip(np.searchsorted(volts, control_volts, side="right") - 1, 0, at.size - 2)
        slope = np.diff(at) / np.diff(volts)
        return np.asarray(at[piece] + (control_volts - volts[piece]) * slope[piece])

    def volts(self, codes: Ints) -> Floats:
        """Return the volts of codes, in their shape, never below 0 V, as single-supply outputs are. [V]"""
        if self.points:
            line = self._lines(codes)
        else:
            line = self.offset_volts + codes.astype(np.float64) * self.volts_per_code
        most = min(self.most_volts, CONTROL_VOLTS_FULL)
        line = np.where(np.abs(line - most) <= VOLTS_SLACK, most, line)
        return np.maximum(line, 0.0)

    def nearest_codes(self, control_volts: Floats) -> Ints:
        """Return the codes nearest to some volts, within what the converter takes.

        Halves go up. The result may be above `full_code`; `codes` is what may leave.
        """
        exact = self._exact_codes(control_volts)
        rounded = np.floor(np.round(exact, 9) + 0.5).astype(np.int64)
        return np.clip(rounded, 0, self.last_code)

    def codes(self, control_volts: Floats) -> Ints:
        """Return the permitted codes nearest to some volts, in their shape. [codes]"""
        return np.minimum(self.nearest_codes(control_volts), self.full_code)
