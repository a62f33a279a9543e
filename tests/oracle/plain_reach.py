"""Where one straight piece from a corner may end, by plain search."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from photoperiod.arrays import Ints

#: Slopes closer than this to the edge of what passes are looked at in whole numbers.
NEAR = 1e-6

#: Rows that no table has: more than any number [rows].
NEVER = np.iinfo(np.int32).max


class Reach:
    """Where one piece from a corner may end."""

    def __init__(
        self,
        bottom: Ints,
        top: Ints,
        per_step: int,
        rounding: str,
        end: int | None,
        first: int = 0,
    ) -> None:
        self.bottom, self.top, self.per, self.end = bottom, top, per_step, end
        self.first = first
        self.rounding = rounding
        self._known: dict[tuple[int, int], list[tuple[int, int, int]]] = {}

    def of(self, index: int, count: int) -> list[tuple[int, int, int]]:
        """Return (index, least count, greatest count) of all ends, indices rising."""
        key = (index, count)
        if key not in self._known:
            self._known[key] = sorted(self._ends(index, count))
        return self._known[key]

    def _ends(self, index: int, count: int) -> Iterator[tuple[int, int, int]]:
        size = self.bottom.size
        last = size - 1 if self.end is None else size
        elapsed = np.arange(1, last - index + 1)
        inner = np.minimum(index + elapsed, size - 1)
        for below, above, rising in _sides(self.rounding):
            flattest = (self.bottom[inner] + below - count) / elapsed
            steepest = (self.top[inner] + above - count) / elapsed
            # A piece to an end passes the gates before it.
            floor = -np.inf if rising is not True else 0.0
            roof = np.inf if rising is not False else 0.0
            flattest = np.maximum.accumulate(np.concatenate(([floor], flattest)))[:-1]
            steepest = np.minimum.accumulate(np.concatenate(([roof], steepest)))[:-1]
            shut = np.flatnonzero(flattest > steepest + NEAR)
            open_until = int(shut[0]) if shut.size else elapsed.size
            for d in elapsed[:open_until].tolist():
                stop = index + d
                if stop % self.per and stop != size:
                    continue
                low, high = count + flattest[d - 1] * d, count + steepest[d - 1] * d
                if stop == size:
                    assert self.end is not None
                    least = greatest = self.end
                    if not low - NEAR <= self.end <= high + NEAR:
                        continue
                else:
                    least = max(int(self.bottom[stop]), self.first)
                    greatest = int(self.top[stop])
                    if np.isfinite(low):
                        least = max(least, int(np.ceil(low - NEAR)))
                    if np.isfinite(high):
                        greatest = min(greatest, int(np.floor(high + NEAR)))
                while (
                    least <= greatest
                    and least < low + NEAR
                    and not self._passes(index, count, stop, least)
                ):
                    least += 1
                while (
                    least <= greatest
                    and greatest > high - NEAR
                    and not self._passes(index, count, stop, greatest)
                ):
                    greatest -= 1
                if least <= greatest:
                    yield stop, least, greatest

    def _passes(self, index: int, count: int, stop: int, end: int) -> bool:
        """Return whether the counts put out on one piece stay between the gates, in integers."""
        elapsed = np.arange(stop - index)
        product, span = (end - count) * elapsed, stop - index
        if self.rounding == "half-up":
            moved = (2 * product + span) // (2 * span)
        elif self.rounding == "down":
            moved = product // span
        else:
            moved = np.sign(product) * (np.abs(product) // span)
        out = count + moved
        inside = (out >= self.bottom[index:stop]) & (out <= self.top[index:stop])
        return bool(inside.all())


def _sides(rounding: str) -> tuple[tuple[float, float, bool | None], ...]:
    """Return how far the line may leave whole counts: below, above, and for which slope."""
    if rounding == "half-up":
        return ((-0.5, 0.5, None),)
    if rounding == "down":
        return ((0.0, 1.0, None),)
    return ((0.0, 1.0, True), (-1.0, 0.0, False))
