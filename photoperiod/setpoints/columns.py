"""Search the fewest rows of one column of times that several channels share.

For given times of rows the channels do not depend on each other: what matters of a channel is the
set of counts it can have reached. So a label is a time, a number of pieces, and for each lit channel
that set as a mask of bits; a label goes on to a later time if every lit channel gets there in one
piece. Of two labels at one time with as many pieces, one whose sets contain the other's is enough.
All times and all counts are tried, so the fewest pieces are found.

Every switching of any channel is a row, so between two of them (a *stretch*) the same channels are
lit. The day is cut at one of them. A channel that is lit at the cut must end the day at the count it
began with: it has one set for each count it may begin with.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from photoperiod.arrays import Bools, Ints, Words
from photoperiod.drive.grid import Between, Rounding
from photoperiod.setpoints.segments import Corridor, Reach, WorkSpent, farthest
from photoperiod.setpoints.tolerance import Band

_WORD = 64
_BITS = np.uint64(1) << np.arange(_WORD, dtype=np.uint64)

#: The sets of the first so many bits.
_BELOW = np.append(_BITS - np.uint64(1), ~np.uint64(0))
_ONE = np.zeros(1, dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnChannel:
    """One channel of a column at a given error.

    Parameters
    ----------
    band : Band
        Counts that may be emitted at each sample of the day.
    lit : ndarray, shape (steps,)
        Whether the channel is lit in each step of the time grid.
    first : int
        No row of a lit channel has a lower count.
    stride : int
        Rows have counts that are multiples of this; 1 for an exact search.
    """

    band: Band
    lit: Bools
    first: int
    stride: int = 1

    @property
    def widest(self) -> int:
        """The most counts, less one, that a gate has."""
        return max(int((self.band.high - np.maximum(self.band.low, self.first)).max()), 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """What a search needs to know of the channels that share a column of times.

    Parameters
    ----------
    strands : sequence of ColumnChannel
        The channels.
    forced : tuple of int
        Steps of the grid at which a row must stand, rising; the first of them is the cut.
    grid : int
        Samples in one time step.
    rounding, between : Rounding, Between
        How the controller goes from row to row.
    wraps : bool
        False if the last row is held until the end of the day, which then begins at step 0.
    """

    strands: Sequence[ColumnChannel]
    forced: tuple[int, ...]
    grid: int
    rounding: Rounding
    between: Between
    wraps: bool

    @property
    def steps(self) -> int:
        """Time steps in a day."""
        return int(self.strands[0].lit.size)


@dataclass(slots=True)
class _Stretch:
    """A part of the day in which the same channels are lit, from one forced row to the next."""

    begin: int  # samples after the cut
    length: int
    runs: dict[int, Corridor]  # by number of strand; only lit ones
    opens: list[int]  # strands that light at its first row
    closes: list[int]  # strands that go dark at its end
    is_last: bool
    needed: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))


def fewest_times(column: Column, most_rows: int, work: WorkSpent) -> tuple[int, ...] | None:
    """Return the times of the fewest rows with which all channels keep their bands.

    Parameters
    ----------
    column : Column
        The channels and their bands.
    most_rows : int
        No column with more rows is looked for.
    work : WorkSpent
        Bounds the work.

    Returns
    -------
    tuple of int or None
        Steps of the grid, in the order of the day from the cut on; None if it takes more rows.
    """
    stretches = list(_stretches(column))
    work.add(20 * column.steps * column.grid)  # what follows is done gate by gate
    least = _count_needed(stretches, column)
    if least is None or least > most_rows:
        return None
    for most in sorted({m for m in (least, least + 1) if m < most_rows} | {most_rows}):
        found = _Labels(column, stretches, most, work).search()
        if found is not None:
            return tuple((column.forced[0] + index // column.grid) % column.steps
                         for index in found)  # fmt: skip
    return None


def least_rows(column: Column) -> int | None:
    """Return a number of rows that no column can do with less, None if no column fits at all."""
    return _count_needed(list(_stretches(column)), column)


def hold_times(column: Column, most_rows: int, work: WorkSpent) -> tuple[int, ...] | None:
    """Return the same for held levels: each row lasts as long as all channels allow."""
    found: list[int] = []
    for stretch in _stretches(column):
        begin = 0
        while begin < stretch.length:
            if len(found) == most_rows:
                return None
            found.append((column.forced[0] + (stretch.begin + begin) // column.grid) % column.steps)
            lasts = stretch.length - begin
            for run in stretch.runs.values():
                least = np.maximum.accumulate(np.maximum(run.low[begin:], run.first))
                most = np.minimum.accumulate(run.high[begin:])
                work.add(least.size)
                least = -(-least // run.stride) * run.stride
                lasts = min(lasts, int(np.argmin(np.append(least <= most, False))))
            if lasts < stretch.length - begin:
                lasts -= lasts % column.grid
            if lasts <= 0:
                return None
            begin += lasts
    return tuple(found)


def _stretches(column: Column) -> Iterator[_Stretch]:
    """Yield the stretches of the day in order from the cut on."""
    cut, steps, per = column.forced[0], column.steps, column.grid
    stops = [*column.forced[1:], cut + steps]
    begin = cut
    for stop in stops:
        is_last = stop == cut + steps
        ends_day = is_last and not column.wraps
        runs: dict[int, Corridor] = {}
        opens, closes = [], []
        for number, strand in enumerate(column.strands):
            if not strand.lit[begin % steps]:
                continue
            goes_dark = not ends_day and not strand.lit[stop % steps]
            size = (stop - begin) * per
            at = np.arange(begin * per, begin * per + size + (not goes_dark and not ends_day))
            at %= strand.band.low.size
            runs[number] = Corridor(
                low=strand.band.low[at],
                high=strand.band.high[at],
                grid=per,
                first=strand.first,
                end=0 if goes_dark else None,
                rounding=column.rounding,
                stride=strand.stride,
            )
            if (begin == cut and not column.wraps) or not strand.lit[(begin - 1) % steps]:
                opens.append(number)
            if goes_dark:
                closes.append(number)
        yield _Stretch((begin - cut) * per, (stop - begin) * per, runs, opens, closes, is_last)
        begin = stop


def _count_needed(stretches: list[_Stretch], column: Column) -> int | None:
    """Set for each place of every stretch a lower bound on the pieces from there to the end.

    Pieces may have any real corners and need not meet, as in `search.pieces_needed`; a piece ends
    where the first channel can go no further.
    """
    after = 0
    for stretch in reversed(stretches):
        needed = np.full(stretch.length + 1, after, dtype=np.int64)
        if not stretch.runs:
            needed[:-1] = after = after + 1
            stretch.needed = needed
            continue
        ends = []
        for run in stretch.runs.values():
            if (run.low > run.high).any():
                return None
            low, high = run.real_ends()
            ends.append((low.tolist(), high.tolist()))
        stop = stretch.length
        while stop > 0:
            begin = max(farthest(low, high, min(stop, len(low) - 1)) for low, high in ends)
            if begin == stop:
                return None
            after += 1
            needed[begin:stop] = after
            stop = begin
        stretch.needed = needed
    return after


class _Labels:
    """The labels of one search."""

    def __init__(
        self, column: Column, stretches: list[_Stretch], most_rows: int, work: WorkSpent
    ) -> None:
        self.column, self.stretches, self.most, self.work = column, stretches, most_rows, work
        self.words = [
            -(-(strand.widest // strand.stride + 2) // _WORD) for strand in column.strands
        ]
        self.parents: list[int] = []
        self.indices: list[int] = []

    def search(self) -> list[int] | None:
        """Return the samples after the cut at which rows stand, None if there are too few."""
        first = self.stretches[0]
        carried = {}  # counts that strands lit at the cut may begin with
        for number, run in first.runs.items():
            if number not in first.opens:
                carried[number] = _starts(run)
        entering: list[tuple[int, int, dict[int, Words]]] = [(0, -1, {})]
        for stretch in self.stretches:
            layers = self._walk(stretch, entering, carried)
            entering = layers
            if not entering:
                return None
        best = min(entering, key=lambda label: label[0])
        return self._trace(best[1])

    def _trace(self, label: int) -> list[int]:
        found = []
        while label >= 0:
            found.append(self.indices[label])
            label = self.parents[label]
        return found[::-1]

    def _rows_of(self, number: int, carried: dict[int, Ints]) -> int:
        return carried[number].size if number in carried else 1

    def _add(self, parent: int, index: int) -> int:
        self.parents.append(parent)
        self.indices.append(index)
        return len(self.parents) - 1

    def _walk(self, stretch: _Stretch, entering: list[tuple[int, int, dict[int, Words]]],
              carried: dict[int, Ints]) -> list[tuple[int, int, dict[int, Words]]]:  # fmt: skip
        """Return the labels (pieces, label, sets) that stand at the end of a stretch."""
        sets = {
            number: _Sets(run, self.words[number], carried.get(number, _ONE).size, self.work)
            for number, run in stretch.runs.items()
        }
        widths = {number: s.rows * s.words for number, s in sets.items()}
        # A strand that was lit at the cut and is dark now remembers which beginnings are alive.
        widths |= {n: counts.size for n, counts in carried.items() if n not in sets}
        total = sum(widths.values())
        offsets, at = {}, 0
        for number, width in widths.items():
            offsets[number] = slice(at, at + width)
            at += width
        # Labels of a layer, by place in the stretch: identity and sets, laid side by side.
        waiting: dict[int, list[tuple[int, Words]]] = {}
        for pieces, parent, masks in entering:
            flat = np.zeros(total, dtype=np.uint64)
            for number in widths:
                if number not in sets:
                    flat[offsets[number]] = masks[number].ravel()
                elif number not in masks and number in carried:
                    flat[offsets[number]] = sets[number].each(carried[number]).ravel()
                elif number not in masks:
                    flat[offsets[number]] = sets[number].all_begins().ravel()
                elif number in stretch.opens:
                    alive = np.any(masks[number], axis=1, keepdims=True)
                    flat[offsets[number]] = np.where(
                        alive, sets[number].all_begins(), np.uint64(0)
                    ).ravel()
                else:
                    flat[offsets[number]] = masks[number].ravel()
            if all(flat[part].any() for part in offsets.values()):
                identity = self._add(parent, stretch.begin)
                waiting.setdefault(pieces, []).append((identity, flat))
        done: dict[int, list[tuple[int, Words]]] = {}
        archive: dict[int, Words] = {}
        layer: dict[int, tuple[list[int], Words]] = {}
        pieces = min(waiting, default=self.most)
        while pieces < self.most:
            if pieces in waiting:
                begin = waiting.pop(pieces)
                flats = np.array([flat for _, flat in begin]).reshape(len(begin), total)
                kept = _undominated(flats, archive.get(0))
                archive[0] = _stacked(archive.get(0), flats[kept])
                if kept.size:
                    layer[0] = ([begin[k][0] for k in kept], flats[kept])
            if not layer and not waiting:
                break
            layer, ended = self._step(stretch, layer, sets, offsets, archive, pieces)
            pieces += 1
            if ended:
                done.setdefault(pieces, []).extend(ended)
        return self._leaving(stretch, done, sets, offsets, carried)

    def _step(self, stretch: _Stretch, layer: dict[int, tuple[list[int], Words]],
              sets: dict[int, _Sets], offsets: dict[int, slice], archive: dict[int, Words],
              pieces: int) -> tuple[dict[int, tuple[list[int], Words]],
                                    list[tuple[int, Words]]]:  # fmt: skip
        """Return the labels one piece on, and those that came to the end of the stretch."""
        places = np.arange(stretch.length + 1)
        useful = (stretch.needed <= self.most - pieces - 1) & (places % self.column.grid == 0)
        ended: list[tuple[int, Words]] = []
        holds_last = stretch.is_last and not self.column.wraps
        if not sets:  # nobody is lit: the next row is at the end
            for ids, flats in layer.values():
                ended.extend((ids[k], flats[k]) for k in range(len(ids)))
            return {}, ended
        useful[stretch.length] &= not holds_last
        for s in sets.values():
            s.prepare(np.array(sorted(layer), dtype=np.int64), useful)
        to_place: list[Ints] = []
        to_flat: list[Words] = []
        to_parent: list[Ints] = []
        for place in sorted(layer):
            ids, flats = layer[place]
            if holds_last:
                held = np.ones(len(ids), dtype=bool)
                for number, s in sets.items():
                    part = flats[:, offsets[number]].reshape(len(ids), s.rows, s.words)
                    held &= s.holds(place, part)
                if held.any():
                    return {}, [(ids[int(np.argmax(held))], flats[int(np.argmax(held))])]
            reaches = [s.reach_of(place) for s in sets.values()]
            span = min(r.shape[1] for r in reaches)
            if not span:
                continue
            ok = np.broadcast_to(useful[place + 1 : place + 1 + span], (len(ids), span)).copy()
            outs = []
            for (number, s), reach in zip(sets.items(), reaches, strict=True):
                part = flats[:, offsets[number]].reshape(len(ids), s.rows, s.words)
                out = s.moved(place, part, reach[:, :span])  # labels, span, rows × words
                ok &= out.any(axis=2)
                outs.append(out)
            label, ahead = np.nonzero(ok)
            if not label.size:
                continue
            self.work.add(20 * label.size)
            to_place.append(place + 1 + ahead)
            idle = [flats[label][:, part] for n, part in offsets.items() if n not in sets]
            to_flat.append(np.concatenate([*(out[label, ahead] for out in outs), *idle], axis=1))
            to_parent.append(np.array(ids)[label])
        following: dict[int, tuple[list[int], Words]] = {}
        if not to_place:
            return following, ended
        place_of, flat_of = np.concatenate(to_place), np.concatenate(to_flat)
        parent_of = np.concatenate(to_parent)
        order = np.argsort(place_of, kind="stable")
        place_of, flat_of, parent_of = place_of[order], flat_of[order], parent_of[order]
        heads = np.flatnonzero(np.diff(np.concatenate(([-1], place_of))))
        for head, stop in zip(heads, [*heads[1:], place_of.size], strict=True):
            place = int(place_of[head])
            group = flat_of[head:stop]
            kept = _undominated(group, archive.get(place))
            if not kept.size:
                continue
            archive[place] = _stacked(archive.get(place), group[kept])
            self.work.add(50 * kept.size)
            parents = parent_of[head:stop][kept].tolist()
            if place == stretch.length:
                ended.extend((parents[n], group[k]) for n, k in enumerate(kept))
            else:
                ids = [self._add(parent, stretch.begin + place) for parent in parents]
                following[place] = (ids, group[kept])
        return following, ended

    def _leaving(self, stretch: _Stretch, done: dict[int, list[tuple[int, Words]]],
                 sets: dict[int, _Sets], offsets: dict[int, slice], carried: dict[int, Ints]
                 ) -> list[tuple[int, int, dict[int, Words]]]:  # fmt: skip
        """Return the labels at the end of a stretch as the next one takes them."""
        result = []
        for pieces in sorted(done):
            for label, flat in done[pieces]:
                masks = {
                    number: flat[part].reshape(self._rows_of(number, carried), -1)
                    for number, part in offsets.items()
                    if number in carried or number not in stretch.closes
                }
                for number in carried:
                    if number in stretch.closes:  # dark is count 0, the first bit
                        masks[number] = masks[number][:, :1]
                if stretch.is_last and self.column.wraps:
                    # Whoever is lit at the cut ends the day where it began.
                    if all(
                        number not in sets
                        or number in stretch.closes
                        or (masks[number] & sets[number].at_end(counts)).any()
                        for number, counts in carried.items()
                    ):
                        result.append((pieces, label, masks))
                        break
                else:
                    result.append((pieces, label, masks))
        return result


class _Sets:
    """Sets of counts of one strand in one stretch, as bits above the gate's lower end."""

    def __init__(self, run: Corridor, words: int, rows: int, work: WorkSpent) -> None:
        self.run, self.words, self.rows, self.work = run, words, rows, work
        self.reach = Reach(run, work)
        self._known: dict[int, Words] = {}
        # The least count a row may have: bit 0.
        self._base = -(-np.maximum(run.low, run.first) // run.stride) * run.stride

    def _bits(self, place: int, counts: Ints) -> Words:
        """Return each count as a set of its own, shape (counts, words)."""
        number = (counts - int(self._base[place])) // self.run.stride
        result = np.zeros((counts.size, self.words), dtype=np.uint64)
        result[np.arange(counts.size), number // _WORD] = _BITS[number % _WORD]
        return result

    def each(self, counts: Ints) -> Words:
        """Return a set for each count a strand may begin with, shape (rows, words)."""
        return self._bits(0, counts)

    def all_begins(self) -> Words:
        """Return the set of all counts at the first row, shape (1, words)."""
        counts = _starts(self.run)
        if not counts.size:
            return np.zeros((1, self.words), dtype=np.uint64)
        union: Words = np.bitwise_or.reduce(self._bits(0, counts), axis=0, keepdims=True)
        return union

    def at_end(self, counts: Ints) -> Words:
        """Return a set for each count at the end of the stretch, shape (rows, words)."""
        last = self._base.size - 1
        inside = (counts >= self._base[last]) & (counts <= self.run.high[last])
        bits = self._bits(last, np.where(inside, counts, self._base[last]))
        bits[~inside] = 0
        return bits

    def prepare(self, places: Ints, useful: Bools) -> None:
        """Work out what is reached from some places, if that is not known yet."""
        new = np.array([p for p in places.tolist() if p not in self._known], dtype=np.int64)
        if not new.size:
            return
        stride = self.run.stride
        sizes = np.maximum((self.run.high[new] - self._base[new]) // stride + 1, 0)
        place = np.repeat(new, sizes)
        number = np.arange(place.size) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        size = self.run.length + (self.run.end is not None)
        allowed = np.zeros(self.run.length + 1, dtype=bool)
        allowed[:size] = useful[:size]
        source, index, least, many = self.reach.spans(
            place, self._base[place] + number * stride, allowed
        )
        base = np.append(self._base, 0)[index] if self.run.end is not None else self._base[index]
        bit = (least - base) // stride
        masks = np.empty((bit.size, self.words), dtype=np.uint64)
        for word in range(self.words):
            begin = np.clip(bit - word * _WORD, 0, _WORD)
            stop = np.clip(bit + many - word * _WORD, 0, _WORD)
            masks[:, word] = _BELOW[stop] & ~_BELOW[begin]
        which = np.searchsorted(new, place[source])
        order = np.argsort(which, kind="stable")
        stops = np.searchsorted(which[order], np.arange(new.size + 1))
        begins = np.concatenate(([0], np.cumsum(sizes)))
        for n, p in enumerate(new.tolist()):
            part = order[stops[n] : stops[n + 1]]
            ahead = index[part] - p - 1
            far = int(ahead.max()) + 1 if ahead.size else 0
            table = np.zeros((int(sizes[n]), far, self.words), dtype=np.uint64)
            if len(self.reach.lines) == 1:
                table[source[part] - begins[n], ahead] = masks[part]
            else:  # rising and falling lines may meet the same place
                np.bitwise_or.at(table, (source[part] - begins[n], ahead), masks[part])
            self.work.add(table.size // 4)
            self._known[p] = table

    def reach_of(self, place: int) -> Words:
        """Return the sets reached from each count at a place, shape (counts, places on, words)."""
        return self._known[place]

    def moved(self, place: int, masks: Words, reach: Words) -> Words:
        """Return the sets reached from sets at a place.

        Parameters
        ----------
        place : int
            Where they stand.
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
        self.work.add(int(bits.sum()) * span // 8)
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
        allowed = np.bitwise_or.reduce(self._bits(place, kept), axis=0)
        result: Bools = (masks & allowed).any(axis=(1, 2))
        return result


def _starts(run: Corridor) -> Ints:
    return run.begins(range(int(run.low[0]), int(run.high[0]) + 1))


def _undominated(group: Words, archive: Words | None) -> Ints:
    """Return which sets no other one contains, shape (kept,); the first of equal ones is kept."""
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


def _stacked(known: Words | None, more: Words) -> Words:
    return more if known is None else np.concatenate((known, more))
