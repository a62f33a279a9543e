"""Converter codes of all counts as one straight line in whole numbers, in place of a list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

#: A line of codes is shifted by no more than this. [bits]
MOST_SHIFT = 24

#: The largest number that a 32-bit player can hold.
MOST_INT32 = 2**31 - 1


@dataclass(frozen=True, slots=True)
class CodeLine:
    """Converter codes as ``(count × factor + addend) >> shift``, kept within 0 and the full code."""

    factor: int
    addend: int
    shift: int

    def most(self, top_count: int) -> int:
        """Return the largest number that a player meets before the shift."""
        return top_count * self.factor + max(self.addend, 0)

    def code(self, count: int, full_code: int) -> int:
        """Return the code of a count."""
        return min(max((count * self.factor + self.addend) >> self.shift, 0), full_code)


def code_line(
    codes: Sequence[int], full_code: int, codes_per_count: float
) -> CodeLine | tuple[int, ...]:
    """Return codes as a line in integers if one gives every code exactly, else as they are.

    For a factor f and a shift s, each count c bounds the addend:
    ``code·2^s ≤ c·f + addend < (code + 1)·2^s``. A line that needs 32 bits only is preferred, then
    the one with the least shift.

    Parameters
    ----------
    codes : sequence of int
        The code of each count.
    full_code : int
        The top permitted code; no code is above it.
    codes_per_count : float
        The slope of the line that they were rounded from.
    """
    code = np.array(codes, dtype=np.int64)
    count = np.arange(code.size, dtype=np.int64)
    for most in (MOST_INT32, code.size * MOST_INT32):
        for shift in range(MOST_SHIFT + 1):
            exact = codes_per_count * 2**shift
            for factor in sorted({math.floor(exact), math.ceil(exact)}):
                if factor > MOST_INT32:
                    continue
                least = ((code << shift) - count * factor)[code > 0]
                largest = (((code + 1) << shift) - 1 - count * factor)[code < full_code]
                low = max(int(least.max(initial=-MOST_INT32)), -MOST_INT32)
                high = min(
                    int(largest.min(initial=MOST_INT32)), MOST_INT32,
                    most - factor * (code.size - 1),
                )  # fmt: skip
                if low <= high:
                    return CodeLine(factor, min(max(0, low), high), shift)
    return tuple(codes)
