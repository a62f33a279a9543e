"""Scales, ticks and coordinates: from values to places on a drawing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

#: Steps between ticks are one of these times a power of ten.
NICE_STEPS = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale: ``low`` stands at ``begin``, ``high`` at ``end``.

    Parameters
    ----------
    low, high : float
        Two values; if they are the same, every value stands at ``begin``.
    begin, end : float
        Their places. [user units of the drawing]
    """

    low: float
    high: float
    begin: float
    end: float

    def at(self, value: float) -> float:
        """Return the place of a value. [user units]"""
        if self.high == self.low:
            return self.begin
        return self.begin + (value - self.low) / (self.high - self.low) * (self.end - self.begin)


def tick_step(high: float, most: int) -> float:
    """Return the step of ticks from 0 to a value: 1, 2 or 5 times a power of ten; 1 for 0.

    Parameters
    ----------
    high : float
        The end of the scale; not negative.
    most : int
        How many steps there may be.
    """
    if high <= 0:
        return 1.0
    rough = high / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(nice for nice in NICE_STEPS if nice * power >= rough * (1 - 1e-9)) * power


def ticks(high: float, most: int = 4) -> tuple[float, ...]:
    """Return even ticks from 0 up to a value, at most ``most`` steps."""
    step = tick_step(high, most)
    return tuple(step * n for n in range(int(high / step + 1e-9) + 1))


def top_of(*values: float) -> float:
    """Return the end of a scale on which values have some room: a twelfth more; 1 where all are 0."""
    return max(values, default=0.0) * 13 / 12 or 1.0


def round_top(value: float) -> float:
    """Return the end of a scale that is a round number, so that its label says it: never below the value.

    It is a multiple of a step of which five or fewer reach the value; 1 for 0.
    """
    if value <= 0:
        return 1.0
    step = tick_step(value, 5)
    return step * math.ceil(value / step * (1 - 1e-9))


def place_text(place: float) -> str:
    """Return a coordinate as it is written: one decimal, no trailing zero."""
    text = f"{place:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def apart(places: Sequence[float], gap: float, most: float) -> list[float]:
    """Return where labels stand that want some rising places: a gap apart, and none beyond the most."""
    found: list[float] = []
    for place in places:
        found.append(max(place, found[-1] + gap) if found else place)
    for number in reversed(range(len(found))):
        found[number] = min(found[number], most)
        most = found[number] - gap
    return found
