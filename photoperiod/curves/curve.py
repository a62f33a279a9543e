"""The light of a day as a function of time: ramps with closed-form integrals.

Light is a fraction of a channel's full light, time is in seconds from the midnight that begins the
plan date. A curve repeats every day; one that crosses midnight shines into the next morning.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Protocol

from photoperiod.arrays import Bools, Floats, np, runs_of_true, stretch_of_true, where_true
from photoperiod.curves.segment import Segment, corners_of, ramps
from photoperiod.units import SECONDS_PER_DAY

#: A sample is a double.
BYTES_PER_SAMPLE = 8


@functools.cache
def day_seconds() -> Floats:
    """Return the beginning of every second of a day, shape (86400,), for reading only. [s]"""
    return _read_only(np.arange(SECONDS_PER_DAY, dtype=np.float64))


@functools.cache
def day_middles() -> Floats:
    """Return the middle of every second of a day, shape (86400,), for reading only. [s]"""
    return _read_only(day_seconds() + 0.5)


def _read_only(values: Floats) -> Floats:
    values.setflags(write=False)
    return values


def _is_each_second(time_s: Floats) -> bool:
    """Return whether some times are those of `day_seconds` or of `day_middles`."""
    return time_s is day_seconds() or time_s is day_middles()


def _between(time_s: Floats, first_s: int, stop_s: int) -> slice | Bools:
    """Return what picks the times from one whole second up to another, which is not one of them."""
    if _is_each_second(time_s):
        return slice(max(first_s, 0), max(stop_s, 0))
    return where_true((time_s >= first_s) & (time_s < stop_s))


def lines_between(values: Floats, step_s: int, offset_s: float = 0.0) -> Floats:
    """Return straight lines between samples that are equally far apart, at each second of them.

    The same as `numpy.interp` gives, bit by bit, which looks for its place among the samples each time.

    Parameters
    ----------
    values : ndarray, shape (samples,)
        Any quantity.
    step_s : int
        How far the samples are apart. [s]
    offset_s : float
        So long after the beginning of each second, less than one. [s]

    Returns
    -------
    ndarray, shape (step_s * (samples - 1),)
        From the first sample on to the last one, which is not in it.
    """
    slopes = (values[1:] - values[:-1]) / step_s
    lines: Floats = slopes[:, None] * (np.arange(step_s) + offset_s)
    lines += values[:-1, None]
    return lines.reshape(-1)


class Signal(Protocol):
    """Light over time from the midnight of a date on, unwrapped: it may shine on after 24 hours."""

    def raw(self, time_s: Floats) -> Floats:
        """Return the light at seconds from that midnight. [fraction of full]"""
        ...

    def raw_integral(self, start_s: float, end_s: float) -> float:
        """Return the integral of light between two moments. [s]"""
        ...

    def raw_corners(self) -> frozenset[int]:
        """Return the seconds at which it changes its course."""
        ...

    def lit_span(self) -> tuple[int, int]:
        """Return between which seconds all its light lies: the first, and the first after it."""
        ...

    @property
    def most_light(self) -> float:
        """The most light it ever gives. [fraction of full]"""
        ...


@dataclass(frozen=True, slots=True)
class Profile:
    """Segments in a row, such as a day or a night of moonlight; dark outside them.

    The segments touch, their times rise, and the whole lasts at most 24 hours.
    """

    segments: tuple[Segment, ...]

    def raw(self, time_s: Floats) -> Floats:
        """Return the light at seconds from the midnight of its date. [fraction of full]"""
        result = np.zeros(time_s.shape)
        for segment in self.segments:
            inside = where_true((time_s >= segment.start_s) & (time_s < segment.end_s))
            if (within := time_s[inside]).size:
                result[inside] = segment.light(within)
        return result

    def raw_integral(self, start_s: float, end_s: float) -> float:
        """Return the integral of light between two moments, in closed form. [s]"""
        return sum(s.integral(start_s, end_s) for s in self.segments)

    def raw_corners(self) -> frozenset[int]:
        """Return the seconds from the midnight of its date at which segments begin and end."""
        return corners_of(self.segments)

    def lit_span(self) -> tuple[int, int]:
        """Return between which seconds all its light lies: the first, and the first after it."""
        return (self.segments[0].start_s, self.segments[-1].end_s) if self.segments else (0, 0)

    @property
    def most_light(self) -> float:
        """The most light it ever gives. [fraction of full]"""
        return max((max(s.start_light, s.end_light) for s in self.segments), default=0.0)

    def light(self, time_s: Floats) -> Floats:
        """Return the light at seconds of a day, with what shines in from the day before."""
        if _is_each_second(
            time_s
        ):  # most segments end on their day, and all are stretches of the day
            result = np.zeros(time_s.shape)
            for segment in self.segments:
                for midnight in (0, SECONDS_PER_DAY):
                    inside = _between(time_s, segment.start_s - midnight, segment.end_s - midnight)
                    if (within := time_s[inside]).size:
                        light = segment.light(within + midnight)
                        result[inside] = np.maximum(result[inside], light)
            return result
        of_day = time_s % SECONDS_PER_DAY
        return np.maximum(self.raw(of_day), self.raw(of_day + SECONDS_PER_DAY))

    def integral(self) -> float:
        """Return the integral of light over one whole day. [s]"""
        return sum(s.integral(s.start_s, s.end_s) for s in self.segments)

    def centre_s(self) -> float:
        """Return the moment on either side of which half the light lies, as its centroid. [s]

        Seconds from the midnight that begins the date; over 86,400 if it lies on the next.
        """
        return _centre_s(self, self.segments[0].start_s, self.segments[-1].end_s)

    def corners(self) -> set[int]:
        """Return the seconds of the day at which segments begin and end."""
        return {t % SECONDS_PER_DAY for t in self.raw_corners()}


def _centre_s(signal: Signal, begin: int, end: int) -> float:
    middles: Floats = np.arange(begin, end).astype(np.float64) + 0.5
    light = signal.raw(middles)
    total = float(light.sum())
    return float((light * middles).sum()) / total if total > 0 else (begin + end) / 2


@dataclass(frozen=True, slots=True)
class Samples:
    """Light in straight lines between samples that are equally far apart; dark outside them.

    Parameters
    ----------
    start_s, step_s : int
        When the first sample is, from the midnight of the date, and how far they are apart. [s]
    packed : bytes
        Light at the samples as float64, so that days can be compared and kept. [fraction of full]
    """

    start_s: int
    step_s: int
    packed: bytes

    @classmethod
    def of(cls, start_s: int, step_s: int, values: Floats) -> Samples:
        """Return the light between samples, shape (any,); what is dark around it is not kept.

        But for one sample before and two after it: an area up to the last one is a sum of all before.
        """
        lit = stretch_of_true(values != 0)
        first = max(lit.start - 1, 0)
        near = values[first : lit.stop + 2]
        return cls(start_s + first * step_s, step_s, near.astype(np.float64).tobytes())

    @property
    def values(self) -> Floats:
        """Light at the samples. [fraction of full]"""
        return np.frombuffer(self.packed, dtype=np.float64)

    def raw(self, time_s: Floats) -> Floats:
        """Return the light at seconds from the midnight of its date. [fraction of full]"""
        return np.asarray(np.interp(time_s, self._times(), self.values, left=0.0, right=0.0))

    def raw_by_second(self, first_s: int, stop_s: int, offset_s: float) -> Floats:
        """Return `raw` so long after each second from one of its lit span to another, which is not in it.

        Shape (stop_s - first_s,). [fraction of full]
        """
        values, step_s = self.values, self.step_s
        first, stop = first_s - self.start_s, stop_s - self.start_s
        begin, end = first // step_s, min(-(-stop // step_s), values.size - 1)
        lines = lines_between(values[begin : end + 1], step_s, offset_s)
        if stop > end * step_s:  # the second of the last sample
            lines = np.append(lines, 0.0 if offset_s else values[-1])
        return lines[first - begin * step_s : stop - begin * step_s]

    def raw_integral(self, start_s: float, end_s: float) -> float:
        """Return the integral of light between two moments, in closed form. [s]"""
        last_s = self.start_s + self.step_s * (len(self.packed) // BYTES_PER_SAMPLE - 1)
        if end_s <= self.start_s or start_s >= last_s:
            return 0.0
        times, values = self._times(), self.values
        areas = np.concatenate(([0.0], np.cumsum((values[1:] + values[:-1]) * (0.5 * self.step_s))))
        return self._area(end_s, times, values, areas) - self._area(start_s, times, values, areas)

    def _area(self, time_s: float, times: Floats, values: Floats, areas: Floats) -> float:
        """Return the integral up to a moment. [s]"""
        time_s = min(max(time_s, times[0]), times[-1])
        index = min(int((time_s - times[0]) // self.step_s), len(values) - 2)
        rest = time_s - times[index]
        slope = (values[index + 1] - values[index]) / self.step_s
        return float(areas[index] + values[index] * rest + 0.5 * slope * rest * rest)

    def raw_corners(self) -> frozenset[int]:
        """Return where it begins and ends to be lit, and where it is brightest."""
        values = self.values
        runs = runs_of_true(values > 0, repeats=False)
        if not runs:
            return frozenset()
        found = {int(values.argmax())}
        found |= {begin - 1 for begin, _ in runs if begin > 0}  # the last dark sample
        found |= {end for _, end in runs if end < values.size}
        return frozenset(self.start_s + index * self.step_s for index in found)

    def lit_span(self) -> tuple[int, int]:
        """Return between which seconds all its light lies: the first, and the first after it."""
        values = self.values
        lit = np.flatnonzero(values > 0)
        if not lit.size:
            return self.start_s, self.start_s
        first, last = max(int(lit[0]) - 1, 0), min(int(lit[-1]) + 1, values.size - 1)
        return self.start_s + first * self.step_s, self.start_s + last * self.step_s + 1

    @property
    def most_light(self) -> float:
        """The most light it ever gives. [fraction of full]"""
        return float(self.values.max())

    def _times(self) -> Floats:
        count = len(self.values)
        return self.start_s + self.step_s * np.arange(count, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Slice:
    """What a signal gives between two moments, moved in time into one day.

    Parameters
    ----------
    signal : Signal
        Light over time from some midnight on.
    start_s, stop_s : int
        The moments, in the time of the signal. [s]
    shift_s : int
        What is added to them to get seconds of this day. [s]
    """

    signal: Signal
    start_s: int
    stop_s: int
    shift_s: int

    def light(self, time_s: Floats) -> Floats:
        """Return the light at seconds of this day. [fraction of full]"""
        result = np.zeros(time_s.shape)
        self.brighten(result, time_s)
        return result

    def brighten(self, light: Floats, time_s: Floats) -> None:
        """Raise light at seconds of this day to what the signal gives where that is more."""
        first, stop = self.signal.lit_span()
        first, stop = max(first, self.start_s), min(stop, self.stop_s)
        inside = _between(time_s, first + self.shift_s, stop + self.shift_s)
        if not (within := time_s[inside]).size:
            return
        if isinstance(self.signal, Samples) and _is_each_second(time_s):
            begin_s = math.floor(within[0])
            own_s = begin_s - self.shift_s
            found = self.signal.raw_by_second(own_s, own_s + within.size, within[0] - begin_s)
        else:
            found = self.signal.raw(within - self.shift_s)
        light[inside] = np.maximum(light[inside], found)

    def integral(self) -> float:
        """Return the integral of light within the window. [s]"""
        return self.signal.raw_integral(self.start_s, self.stop_s)

    def centre_s(self) -> float:
        """Return the centroid of its light, in seconds of this day. [s]"""
        return _centre_s(self.signal, self.start_s, self.stop_s) + self.shift_s

    def corners(self) -> set[int]:
        """Return the seconds of the day at which the signal changes its course."""
        return {
            (t + self.shift_s) % SECONDS_PER_DAY
            for t in self.signal.raw_corners()
            if self.start_s <= t <= self.stop_s
        }

    @property
    def most_light(self) -> float:
        """The most light that the signal ever gives. [fraction of full]"""
        return self.signal.most_light


@dataclass(frozen=True, slots=True)
class Curve:
    """Light wanted of a channel on a day: the brightest of its parts at each moment."""

    parts: tuple[Profile | Slice, ...]

    @property
    def signals(self) -> tuple[Signal, ...]:
        """The parts that are the same on every date."""
        return tuple(part for part in self.parts if isinstance(part, Profile))

    @property
    def most_light(self) -> float:
        """The most light that any part ever gives. [fraction of full]"""
        return max((part.most_light for part in self.parts), default=0.0)

    def light(self, time_s: Floats) -> Floats:
        """Return the light wanted at seconds of a day.

        Parameters
        ----------
        time_s : ndarray, any shape
            Seconds from midnight, 0 to 86,400. [s]

        Returns
        -------
        ndarray, the same shape
            Light wanted, 0 to 1. [fraction of full]
        """
        result = np.zeros(time_s.shape)
        for part in self.parts:
            if isinstance(part, Slice):
                part.brighten(result, time_s)
            else:
                np.maximum(result, part.light(time_s), out=result)
        return result

    def integral(self) -> float:
        """Return the full-light seconds of one day.

        In closed form where the parts do not overlap; where they do, by the midpoint rule at one
        second, which for curves of these shapes is exact to better than 1e-6.
        """
        if self._parts_overlap():
            return float(self.light(day_middles()).sum())
        return sum(part.integral() for part in self.parts)

    def corners(self) -> set[int]:
        """Return the seconds of the day at which any part changes its course."""
        return set().union(*(part.corners() for part in self.parts))

    def _parts_overlap(self) -> bool:
        if len(self.parts) < 2:
            return False
        seen = self.parts[0].light(day_middles()) > 0
        for part in self.parts[1:]:
            lit = part.light(day_middles()) > 0
            if (seen & lit).any():
                return True
            seen |= lit
        return False


def ramp_profile(
    start_s: int, peaks: list[tuple[int, int, float, str]], end_s: int, dusk_s: int, dusk_shape: str
) -> Profile:
    """Return the day made of a dawn, peaks and a dusk; see `photoperiod.curves.segment.ramps`."""
    return Profile(ramps(start_s, peaks, end_s, dusk_s, dusk_shape))
