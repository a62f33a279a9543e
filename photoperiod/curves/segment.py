"""Stretches of light in time: ramps with closed-form integrals."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from photoperiod.arrays import Floats, np
from photoperiod.curves.shapes import RISES, Shape


@dataclass(frozen=True, slots=True)
class Segment:
    """Light from one level to another within [start_s, end_s).

    A rising segment follows its shape from the lower to the higher light; a falling one is its
    mirror image in time.

    Parameters
    ----------
    start_s, end_s : int
        Seconds from midnight of the plan date; ``end_s`` may lie in the next day.
    start_light, end_light : float
        Light at both ends. [fraction of full]
    shape : Shape
        How it rises from its lower to its higher light.
    """

    start_s: int
    end_s: int
    start_light: float
    end_light: float
    shape: Shape = Shape.LINEAR

    def light(self, time_s: Floats) -> Floats:
        """Return the light at times inside the segment. [fraction of full]"""
        if self.start_light == self.end_light:
            return np.full(time_s.shape, self.start_light)
        p = (time_s - self.start_s) / (self.end_s - self.start_s)
        low, high = self.start_light, self.end_light
        if low > high:
            p, low, high = 1.0 - p, high, low
        return RISES[self.shape].light(p, low, high)

    def integral(self, start_s: float, end_s: float) -> float:
        """Return the integral of light over a part of the segment, in closed form. [s]"""
        start_s, end_s = max(start_s, self.start_s), min(end_s, self.end_s)
        if end_s <= start_s:
            return 0.0
        length = self.end_s - self.start_s
        p, q = (start_s - self.start_s) / length, (end_s - self.start_s) / length
        low, high = self.start_light, self.end_light
        if low > high:
            p, q, low, high = 1.0 - q, 1.0 - p, high, low
        return length * RISES[self.shape].integral(p, q, low, high)


def corners_of(segments: Iterable[Segment]) -> frozenset[int]:
    """Return the seconds at which segments begin and end, those of no length left out."""
    return frozenset(t for s in segments if s.end_s > s.start_s for t in (s.start_s, s.end_s))


def ramps(
    start_s: int,
    peaks: Sequence[tuple[int, int, float, str]],
    end_s: int,
    dusk_s: int,
    dusk_shape: str,
) -> tuple[Segment, ...]:
    """Return the segments of a dawn, peaks and a dusk.

    Parameters
    ----------
    start_s : int
        First light. [s from midnight]
    peaks : sequence of (ramp start [s], ramp length [s], light [fraction], shape)
        The first one is the dawn. They must be in order and must not overlap: nothing checks it here.
    end_s, dusk_s : int
        When dusk ends and how long it takes. [s]
    dusk_shape : str
        A `Shape`.
    """
    segments: list[Segment] = []
    light, now = 0.0, start_s
    for ramp_start, length, target, shape in peaks:
        if ramp_start > now:
            segments.append(Segment(now, ramp_start, light, light))
        if length:
            segments.append(Segment(ramp_start, ramp_start + length, light, target, Shape(shape)))
        light, now = target, ramp_start + length
    if end_s - dusk_s > now:
        segments.append(Segment(now, end_s - dusk_s, light, light))
    if dusk_s:
        segments.append(Segment(end_s - dusk_s, end_s, light, 0.0, Shape(dusk_shape)))
    return tuple(segments)
