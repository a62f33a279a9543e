"""Stretches of light in time: ramps with closed-form integrals."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.arrays import Floats, np
from photoperiod.units import CIE_KAPPA


class Shape(StrEnum):
    """How a ramp rises from the lower to the higher light, with p from 0 to 1."""

    LINEAR = "linear"
    SINE = "sine"  # sin(πp/2)
    SMOOTH = "smooth"  # (1 − cos πp)/2
    PERCEPTUAL = "perceptual"  # even steps of CIE 1976 lightness


def _linear(p: Floats) -> Floats:
    return p


def _sine(p: Floats) -> Floats:
    return np.sin(0.5 * math.pi * p)


def _smooth(p: Floats) -> Floats:
    return 0.5 * (1.0 - np.cos(math.pi * p))


def _perceptual(p: Floats) -> Floats:
    lightness = 100.0 * p
    return np.where(lightness > 8.0, ((lightness + 16.0) / 116.0) ** 3, lightness / CIE_KAPPA)


def _linear_integral(p: float) -> float:
    return 0.5 * p * p


def _sine_integral(p: float) -> float:
    return (1.0 - math.cos(0.5 * math.pi * p)) * 2.0 / math.pi


def _smooth_integral(p: float) -> float:
    return 0.5 * p - math.sin(math.pi * p) / (2.0 * math.pi)


def _perceptual_integral(p: float) -> float:
    foot = min(p, 0.08)
    below = 50.0 * foot * foot / CIE_KAPPA
    if p <= 0.08:
        return below
    return below + 0.29 * (((100.0 * p + 16.0) / 116.0) ** 4 - (24.0 / 116.0) ** 4)


#: Ramp shapes: f rising from 0 to 1 over p = 0..1, and its integral from 0 to p.
#: ``perceptual`` is the inverse of CIE 1976 lightness, with p = L*/100.
SHAPES: dict[Shape, tuple[Callable[[Floats], Floats], Callable[[float], float]]] = {
    Shape.LINEAR: (_linear, _linear_integral),
    Shape.SINE: (_sine, _sine_integral),
    Shape.SMOOTH: (_smooth, _smooth_integral),
    Shape.PERCEPTUAL: (_perceptual, _perceptual_integral),
}


@dataclass(frozen=True, slots=True)
class Segment:
    """Light from one level to another within [start_s, end_s).

    A rising segment follows low + (high − low) f(p); a falling one is its mirror image in time.

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
        rise, low, high = SHAPES[self.shape][0], self.start_light, self.end_light
        if low > high:
            p, low, high = 1.0 - p, high, low
        return low + (high - low) * rise(p)

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
        area = SHAPES[self.shape][1]
        return low * (end_s - start_s) + (high - low) * length * (area(q) - area(p))


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
