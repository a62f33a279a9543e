"""Channels with one column of times: the fewest rows, by a plain search with sets of counts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.oracle.plain_day import Day
from tests.oracle.plain_reach import NEVER, Reach

#: Labels that the plain joint search keeps at most.
MOST_LABELS = 300_000


class TooLarge(Exception):
    """The plain search would take too long; a coarser time step is needed."""


class Column:
    """Channels with one column of times, each with an error that it must keep."""

    def __init__(self, days: Sequence[Day], errors: Sequence[float]) -> None:
        self.days = days
        self.gates = [day.gates(error) for day, error in zip(days, errors, strict=True)]
        self.wraps = days[0].times.wraps
        self.per = days[0].per_step
        self.steps = days[0].lit.size
        self._known: dict[tuple[int, int, int, int], tuple[tuple[int, int], ...]] = {}

    def _lit(self, number: int, step: int) -> bool:
        return bool(self.days[number].lit[step % self.steps])

    def _forced(self) -> set[int]:
        found = set() if self.wraps else {0}
        for day in self.days:
            for step in np.flatnonzero(day.lit != np.roll(day.lit, 1)).tolist():
                found.add(step)
                needs_zero = day.rises_from_zero and day.lit[step]
                if needs_zero and (self.wraps or step > 0):
                    found.add((step - 1) % self.steps)
        return found

    def fewest_rows(self) -> int | None:
        """Return the fewest rows with which every channel keeps its error, None if none do.

        A label is, for each channel, the set of (count at the cut, count now); −1 stands for dark,
        and for a cut at which the channel was dark.
        """
        forced = self._forced()
        cuts = sorted(forced)[:1] if forced else range(self.steps)
        found = [self._from(cut, forced) for cut in cuts]
        return min((rows for rows in found if rows is not None), default=None)

    def _from(self, cut: int, forced: set[int]) -> int | None:
        begin = []
        for number in range(len(self.days)):
            counts = self._counts(number, cut) if self._lit(number, cut) else [-1]
            through = self.wraps and self._lit(number, cut) and self._lit(number, cut - 1)
            begin.append(frozenset((c if through else -1, c) for c in counts))
        layers: dict[int, set[tuple[frozenset[tuple[int, int]], ...]]] = {cut: {tuple(begin)}}
        stop = cut + self.steps
        kept = 0
        for rows in range(1, self.steps + 1):
            following: dict[int, set[tuple[frozenset[tuple[int, int]], ...]]] = {}
            for step in sorted(layers):
                end = next(
                    s for s in range(step + 1, stop + 1) if s % self.steps in forced or s == stop
                )
                for label in sorted(layers[step], key=repr):
                    if not self.wraps and self._holds(label, step):
                        return rows
                    for then in range(step + 1, end + 1):
                        if then == stop and not self.wraps:
                            continue
                        moved = self._moved(label, step, then)
                        if moved is None:
                            continue
                        if then == stop:
                            if all(any(s in (-1, c) for s, c in pairs) for pairs in moved):
                                return rows
                            continue
                        following.setdefault(then, set()).add(moved)
            kept += sum(len(labels) for labels in following.values())
            if kept > MOST_LABELS:
                raise TooLarge
            if not following:
                return None
            layers = following
        return None

    def _counts(self, number: int, step: int) -> range:
        bottom, top = self.gates[number]
        at = step * self.per % bottom.size
        return range(max(int(bottom[at]), self.days[number].first), int(top[at]) + 1)

    def _holds(self, label: tuple[frozenset[tuple[int, int]], ...], step: int) -> bool:
        for number, pairs in enumerate(label):
            if not self._lit(number, step):
                if any(self._lit(number, later) for later in range(step, self.steps)):
                    return False
                continue
            if not all(self._lit(number, later) for later in range(step, self.steps)):
                return False
            bottom, top = self.gates[number]
            low, high = int(bottom[step * self.per :].max()), int(top[step * self.per :].min())
            if self.days[number].is_held:
                if low > high:
                    return False
            elif not any(low <= count <= high for _, count in pairs):
                return False
        return True

    def _moved(
        self, label: tuple[frozenset[tuple[int, int]], ...], step: int, then: int
    ) -> tuple[frozenset[tuple[int, int]], ...] | None:
        """Return the label one row on, None if some channel does not get there."""
        result = []
        for number, pairs in enumerate(label):
            was, will = self._lit(number, step), self._lit(number, then)
            ends: set[tuple[int, int]] = set()
            for start, count in pairs:
                if not was:
                    counts = self._counts(number, then) if will else [-1]
                    ends |= {(start, end) for end in counts}
                    continue
                for low, high in self._piece(number, step, then, count):
                    if not will and low <= 0 <= high:
                        ends.add((start, -1))
                    elif will:
                        allowed = self._counts(number, then)
                        ends |= {(start, c) for c in allowed if low <= c <= high}
            if not ends:
                return None
            result.append(frozenset(ends))
        return tuple(result)

    def _piece(self, number: int, step: int, then: int, count: int) -> tuple[tuple[int, int], ...]:
        """Return the ranges of counts in which a piece may end, whatever the gate there."""
        key = (number, step % self.steps, then - step, count)
        if key in self._known:
            return self._known[key]
        bottom, top = self.gates[number]
        at = np.arange(step * self.per, then * self.per) % bottom.size
        if self.days[number].is_held:
            fits = (bottom[at] <= count).all() and (top[at] >= count).all()
            result: tuple[tuple[int, int], ...] = ((0, NEVER),) if fits else ()
        else:
            wide = int(self.days[number].path.top_count)
            reach = Reach(
                np.append(bottom[at], 0),
                np.append(top[at], wide),
                at.size,
                self.days[number].path.levels.rounding,
                None,
            )
            result = tuple((low, high) for _, low, high in reach.of(0, count))
        self._known[key] = result
        return result
