"""Sets of counts that a channel can have reached, as masks of bits.

A gate holds few counts, so a set of them is a few 64-bit words: bit k stands for the count k strides
above the least one that a row may have in that gate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import AnyInts, Bools, Ints, Words
from photoperiod.drive.grid import Rounding
from photoperiod.setpoints.cones import Reach
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.work import MOST_HELD, WorkSpent

#: Bits of a word.
WORD = 64
_BITS = np.uint64(1) << np.arange(WORD, dtype=np.uint64)

#: The sets of the first so many bits.
_BELOW = np.append(_BITS - np.uint64(1), ~np.uint64(0))

#: More work than any can be.
_PLENTY = 2**60


@dataclass(frozen=True, slots=True)
class _Reached:
    """What is reached from one place.

    ``counts`` may stand there. For each piece from which of them it is, how many places on, and which
    counts it reaches there, as a mask.
    """

    counts: int
    count: AnyInts
    ahead: AnyInts
    masks: Words


class CountSets:
    """Sets of counts of one channel in one stretch.

    Parameters
    ----------
    run : Corridor
        The gates of the stretch.
    words : int
        Words in a set: enough for the widest gate.
    rows : int
        Sets that a label has of this channel: one for each count that it may have begun the day
        with if it was lit at the cut, else one.
    """

    def __init__(self, run: Corridor, words: int, rows: int) -> None:
        self.run, self.words, self.rows = run, words, rows
        self._known: dict[int, _Reached] = {}
        self._pieces = 0
        # The least count a row may have: bit 0.
        self._base = -(-np.maximum(run.low, run.first) // run.stride) * run.stride

    def _bits(self, place: int, counts: Ints) -> Words:
        """Return each count as a set of its own, shape (counts, words)."""
        number = (counts - int(self._base[place])) // self.run.stride
        result = np.zeros((counts.size, self.words), dtype=np.uint64)
        result[np.arange(counts.size), number // WORD] = _BITS[number % WORD]
        return result

    def _together(self, place: int, counts: Ints) -> Words:
        """Return some counts as one set, shape (words,).

        A set of its own for each of them would take hundreds of megabytes where a gate is wide.
        """
        number = (counts - int(self._base[place])) // self.run.stride
        result = np.zeros(self.words, dtype=np.uint64)
        np.bitwise_or.at(result, number // WORD, _BITS[number % WORD])
        return result

    def each(self, counts: Ints) -> Words:
        """Return a set for each count a channel may begin with, shape (rows, words)."""
        return self._bits(0, counts)

    def all_begins(self) -> Words:
        """Return the set of all counts at the first row, shape (1, words)."""
        return self._together(0, begin_counts(self.run))[np.newaxis]

    def at_end(self, counts: Ints) -> Words:
        """Return a set for each count at the end of the stretch, shape (rows, words)."""
        last = self._base.size - 1
        inside = (counts >= self._base[last]) & (counts <= self.run.high[last])
        bits = self._bits(last, np.where(inside, counts, self._base[last]))
        bits[~inside] = 0
        return bits

    def prepare(self, places: Ints, useful: Bools, pieces: int) -> None:
        """Work out what is reached from some places; what was known of others is forgotten.

        ``useful`` are the places that labels of so many pieces may go to.

        Raises
        ------
        WorkSpent.Exhausted
            If that is more than may be held at once.
        """
        stride = self.run.stride
        sizes = self.sizes(places)
        place = np.repeat(places, sizes)
        number = np.arange(place.size) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        size = self.run.length + (self.run.end is not None)
        allowed = np.zeros(self.run.length + 1, dtype=bool)
        allowed[:size] = useful[:size]
        reach = Reach(self.run, WorkSpent(_PLENTY))  # what it takes is counted place by place
        source, index, least, many = reach.spans(
            place, self._base[place] + number * stride, allowed
        )
        base = np.append(self._base, 0)[index] if self.run.end is not None else self._base[index]
        bit = (least - base) // stride
        if places.size > 1 and bit.size * self.words > MOST_HELD // 4:
            raise WorkSpent.Exhausted
        masks = np.empty((bit.size, self.words), dtype=np.uint64)
        for word in range(self.words):
            begin = np.clip(bit - word * WORD, 0, WORD)
            stop = np.clip(bit + many - word * WORD, 0, WORD)
            masks[:, word] = _BELOW[stop] & ~_BELOW[begin]
        which = np.searchsorted(places, place[source])
        order = np.argsort(which, kind="stable")
        stops = np.searchsorted(which[order], np.arange(places.size + 1))
        begins = np.concatenate(([0], np.cumsum(sizes)))
        self._known, self._pieces = {}, pieces
        for n, p in enumerate(places.tolist()):
            part = order[stops[n] : stops[n + 1]]
            self._known[p] = _Reached(
                int(sizes[n]), source[part] - begins[n], index[part] - p - 1, masks[part]
            )

    def is_prepared(self, place: int, pieces: int) -> bool:
        """Return whether it is known what labels of so many pieces, or more, reach from a place."""
        return place in self._known and self._pieces <= pieces

    def sizes(self, places: Ints) -> Ints:
        """Return how many counts a row may have at some places."""
        room = self.run.high[places] - self._base[places]
        sizes: Ints = np.maximum(room // self.run.stride + 1, 0)
        return sizes

    def room(self, place: int, useful: Bools) -> tuple[int, int]:
        """Return how many counts may stand at a place, and how far on the last useful place is."""
        known = self._known[place]
        ahead = known.ahead[useful[place + 1 + known.ahead]]
        return known.counts, int(ahead.max()) + 1 if ahead.size else 0

    def reach_of(self, place: int, far: int) -> Words:
        """Return the sets reached from each count at a place, shape (counts, far, words)."""
        known = self._known[place]
        count, ahead, masks = known.count, known.ahead, known.masks
        inside = ahead < far
        if not inside.all():
            count, ahead, masks = count[inside], ahead[inside], masks[inside]
        table = np.zeros((known.counts, far, self.words), dtype=np.uint64)
        if self.run.rounding != Rounding.TOWARD_LAST_ROW:
            table[count, ahead] = masks
        else:  # rising and falling lines may meet the same place
            np.bitwise_or.at(table, (count, ahead), masks)
        return table

    def moved(self, masks: Words, reach: Words) -> Words:
        """Return the sets reached from sets at one place.

        Parameters
        ----------
        masks : ndarray, shape (labels, rows, words)
            The sets.
        reach : ndarray, shape (counts, places on, words)
            What each count reaches.

        Returns
        -------
        ndarray, shape (labels, places on, rows × words)
        """
        labels, rows, words = masks.shape
        counts, span, _ = reach.shape
        octets = np.ascontiguousarray(masks.astype("<u8")).view(np.uint8)
        bits = np.unpackbits(octets.reshape(labels * rows, words * 8), axis=1, bitorder="little")
        bits = bits[:, :counts].astype(bool)
        out = np.zeros((labels * rows, span, words), dtype=np.uint64)
        for count in np.flatnonzero(bits.any(axis=0)):
            out[bits[:, count]] |= reach[count]
        return out.reshape(labels, rows, span, words).transpose(0, 2, 1, 3).reshape(
            labels, span, rows * words)  # fmt: skip

    def holds(self, place: int, masks: Words) -> Bools:
        """Return for which labels some count can be held to the end of the day, shape (labels,)."""
        sizes = max((int(self.run.high[place]) - int(self._base[place])) // self.run.stride + 1, 0)
        counts = self._base[place] + np.arange(sizes) * self.run.stride
        index = np.full(counts.size, place)
        kept = counts[self.run.holds_to_end(index, counts)]
        if not kept.size:
            return np.zeros(masks.shape[0], dtype=bool)
        return np.asarray((masks & self._together(place, kept)).any(axis=(1, 2)))


def begin_counts(run: Corridor) -> Ints:
    """Return the counts that may stand at the first sample of a run."""
    return run.begins(range(int(run.low[0]), int(run.high[0]) + 1))


def undominated(group: Words, archive: Words | None) -> Ints:
    """Return which sets no other one contains, shape (kept,); the first of equal ones is kept.

    Parameters
    ----------
    group : ndarray, shape (labels, words)
        The sets of labels at one time: all channels side by side.
    archive : ndarray, shape (known, words) or None
        Sets of labels that came there with as many rows or fewer.
    """
    left = np.arange(group.shape[0])
    if archive is not None:
        inside = np.zeros(left.size, dtype=bool)
        for known in archive:
            inside |= ~(group & ~known).any(axis=1)
        left = left[~inside]
    if left.size <= 1:
        return left
    size = np.bitwise_count(group[left]).sum(axis=1)
    left = left[np.argsort(-size.astype(np.int64), kind="stable")]
    kept = []
    while left.size:
        best = left[0]
        kept.append(int(best))
        left = left[(group[left] & ~group[best]).any(axis=1)]
    return np.array(sorted(kept), dtype=np.int64)
