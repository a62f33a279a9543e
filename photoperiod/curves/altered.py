"""Light over time that is dimmed, moved or shortened: the same day, a little other."""

from __future__ import annotations

from dataclasses import dataclass, replace

from photoperiod.arrays import Floats, np
from photoperiod.curves.curve import Profile, Samples, Signal
from photoperiod.units import SECONDS_PER_DAY


@dataclass(frozen=True, slots=True)
class Shortened:
    """A signal that begins later and ends earlier, by the same time; its ramps keep their lengths.

    It is never above the signal at ``cut_s`` before or after. So a plateau is cut about its middle, and a day
    without one gets lower as well.

    Parameters
    ----------
    signal : Signal
        Light over time.
    cut_s : int
        What is lost at each end. [s]
    """

    signal: Signal
    cut_s: int

    def raw(self, time_s: Floats) -> Floats:
        """Return the light at seconds from the midnight of its date. [fraction of full]"""
        return np.minimum(
            self.signal.raw(time_s - self.cut_s), self.signal.raw(time_s + self.cut_s)
        )

    def raw_integral(self, start_s: float, end_s: float) -> float:
        """Return the integral of light between two moments, by the midpoint of each second. [s]"""
        middles: Floats = np.arange(start_s, end_s, dtype=np.float64) + 0.5
        return float(self.raw(middles).sum())

    def raw_corners(self) -> frozenset[int]:
        """Return the seconds at which it may change its course."""
        return frozenset(
            corner + way
            for corner in self.signal.raw_corners()
            for way in (-self.cut_s, self.cut_s)
        )

    def lit_span(self) -> tuple[int, int]:
        """Return between which seconds all its light lies: the first, and the first after it."""
        first, stop = self.signal.lit_span()
        return first + self.cut_s, max(stop - self.cut_s, first + self.cut_s)

    @property
    def most_light(self) -> float:
        """The most light that the signal before gives. [fraction of full]"""
        return self.signal.most_light


def dimmed(signal: Signal, factor: float) -> Signal:
    """Return a signal whose lights are multiplied by a factor; ramps keep their shape.

    A `perceptual` ramp to a lower peak is even in L* up to that peak, so that its light is not in proportion.
    """
    match signal:
        case Profile():
            return Profile(
                tuple(
                    replace(s, start_light=s.start_light * factor, end_light=s.end_light * factor)
                    for s in signal.segments
                )
            )
        case Samples():
            return Samples.of(signal.start_s, signal.step_s, signal.values * factor)
    raise TypeError(f"{type(signal).__name__} can't be dimmed")


def moved(signal: Signal, seconds: int) -> Signal:
    """Return a signal that comes later by some seconds, earlier if they are below zero."""
    match signal:
        case Profile():
            return Profile(
                tuple(
                    replace(s, start_s=s.start_s + seconds, end_s=s.end_s + seconds)
                    for s in signal.segments
                )
            )
        case Samples():
            return replace(signal, start_s=signal.start_s + seconds)
    raise TypeError(f"{type(signal).__name__} can't be moved")


def within_day(profile: Profile) -> Profile:
    """Return a profile that repeats every day, moved by whole days so that it begins on its date."""
    if not profile.segments:
        return profile
    days = profile.segments[0].start_s // SECONDS_PER_DAY
    whole = moved(profile, -days * SECONDS_PER_DAY)
    assert isinstance(whole, Profile)
    return whole


def plateau_light(signal: Signal) -> float:
    """Return the light of the lowest plateau, or the most light if there is none. [fraction of full]"""
    if isinstance(signal, Profile):
        held = [s.start_light for s in signal.segments if s.start_light == s.end_light > 0]
        if held:
            return min(held)
    return signal.most_light


def lit_length_s(signal: Signal) -> int:
    """Return the time from the first light of a signal to the last. [s]"""
    corners = signal.raw_corners()
    return max(corners) - min(corners) if corners else 0
