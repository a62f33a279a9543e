"""Light at whole minutes of many days, kept only where it is lit: ten years of a channel in 10 MB."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np

from photoperiod.arrays import Floats, Singles


class DaySamples:
    """Samples of days, each in single precision, put in one after the other.

    Parameters
    ----------
    days : iterable of ndarray, all of one shape
        Light of each day at the same times. [fraction of full]
    """

    def __init__(self, days: Iterable[Singles] = ()) -> None:
        self._size = 0
        self._lit: list[tuple[int, Singles]] = []
        for samples in days:
            self.append(samples)

    @classmethod
    def of(cls, days: Iterable[Singles]) -> DaySamples:
        """Return some days as such samples; those that are so already are the same ones."""
        return days if isinstance(days, DaySamples) else cls(days)

    def append(self, samples: Singles | Floats) -> None:
        """Put in another day."""
        lit = np.flatnonzero(samples)
        first, stop = (int(lit[0]), int(lit[-1]) + 1) if lit.size else (0, 0)
        self._size = samples.size
        self._lit.append((first, samples[first:stop].astype(np.float32)))

    def __len__(self) -> int:
        return len(self._lit)

    def __iter__(self) -> Iterator[Singles]:
        return (self[day] for day in range(len(self)))

    def __getitem__(self, day: int) -> Singles:
        """Return the samples of a day."""
        found: Singles = self.rows(day, day + 1)[0]
        return found

    def rows(self, first: int, stop: int) -> Singles:
        """Return the samples of the days from one to before another, shape (days, samples)."""
        lit = self._lit[first:stop]
        found = np.zeros((len(lit), self._size), dtype=np.float32)
        for row, (begin, light) in zip(found, lit, strict=True):
            row[begin : begin + light.size] = light
        return found

    def max(self) -> float:
        """The most light of all days. [fraction of full]"""
        return max((float(light.max(initial=0.0)) for _, light in self._lit), default=0.0)

    def means(self) -> Floats:
        """Return the mean of each day, shape (days,). [fraction of full]"""
        return np.array([samples.mean(dtype=np.float64) for samples in self])


class SamplesAgain:
    """Samples of days, made anew each time: of days that are seldom asked for none is kept.

    Parameters
    ----------
    light_on : callable
        Returns the light at the times of a day. [fraction of full]
    days : int
        How many days there are.
    """

    def __init__(self, light_on: Callable[[int], Floats], days: int) -> None:
        self._light_on, self._days = light_on, days

    def __getitem__(self, day: int) -> Singles:
        """Return the samples of a day."""
        return self._light_on(day).astype(np.float32)

    def rows(self, first: int, stop: int) -> Singles:
        """Return the samples of the days from one to before another, shape (days, samples)."""
        return np.array([self[day] for day in range(first, min(stop, self._days))])


class NearSamples:
    """The least and the most of samples near each, for some days at a time.

    Parameters
    ----------
    samples : DaySamples or SamplesAgain
        The days; each repeats.
    reach : int
        So many samples on either side are near.
    """

    #: So many days are worked out together, and so many times as many are kept: dates are gone through in
    #: order, and a run seldom reaches over more.
    DAYS, BLOCKS = 32, 2

    def __init__(self, samples: DaySamples | SamplesAgain, reach: int) -> None:
        self._samples, self._reach = samples, reach
        self._blocks: dict[int, tuple[Singles, Singles]] = {}

    def bounds(self, day: int) -> tuple[Floats, Floats]:
        """Return the least and the most near each sample of a day, shape (samples,)."""
        number, row = divmod(day, self.DAYS)
        if number not in self._blocks:
            while len(self._blocks) >= self.BLOCKS:
                self._blocks.pop(next(iter(self._blocks)))
            wanted = self._samples.rows(number * self.DAYS, (number + 1) * self.DAYS)
            least, most = (nearby(wanted, self._reach, pick) for pick in (np.minimum, np.maximum))
            self._blocks[number] = least, most
        low, high = self._blocks[number]
        return low[row].astype(np.float64), high[row].astype(np.float64)


def nearby(wanted: Singles, reach: int, best: Callable[..., Singles]) -> Singles:
    """Return the least, or the most, of each day within some samples of each, shape as ``wanted``.

    By windows twice as long each time, so that a reach of hours costs little more than one of minutes.
    """
    length, window, found = 2 * reach + 1, 1, wanted
    while 2 * window <= length:
        found = best(found, np.roll(found, -window, axis=1))
        window *= 2
    found = best(found, np.roll(found, window - length, axis=1))
    return np.roll(found, reach, axis=1)
