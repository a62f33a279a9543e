"""All labels within one stretch of a column, place by place.

A *label* is a place, a number of pieces up to there, and for each channel the set of counts it can have
reached (`photoperiod.setpoints.count_sets`). Pieces go to later places only, so when a place is looked at,
all its labels are known, those with few pieces and those with many; a set that another one contains which
came with no more pieces is dropped there (`photoperiod.setpoints.column_search` says why).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from photoperiod.arrays import Bools, Ints, Words
from photoperiod.kernel import which
from photoperiod.kernel.labels import LitChannel, LitStretch, through_stretch
from photoperiod.kernel.paths import Status
from photoperiod.setpoints.columns import Stretch
from photoperiod.setpoints.count_sets import CountSets, undominated
from photoperiod.setpoints.work import MOST_HELD, WorkSpent

#: To move a label to another place takes as long as so many gates of a cone, to keep it so many.
MOVE_WORK = 20
KEEP_WORK = 50

#: Counts whose cones are followed at once, where few are enough.
_COUNTS_AT_ONCE = 512

#: Places in a block of those at which labels wait.
_BLOCK = 64


class Trail:
    """Rows of all labels, each with the row before it, so that a label is traced back to the cut."""

    def __init__(self) -> None:
        self.parents: list[int] = []
        self.indices: list[int] = []

    def add(self, parents: Sequence[int], index: int) -> Ints:
        """Return the numbers of new rows at some samples after the cut, one for each row before."""
        first = len(self.parents)
        self.parents += parents
        self.indices += [index] * len(parents)
        return np.arange(first, len(self.parents))

    def back_from(self, row: int) -> list[int]:
        """Return the samples after the cut at which the rows up to one stand."""
        found = []
        while row >= 0:
            found.append(self.indices[row])
            row = self.parents[row]
        return found[::-1]


class Packing:
    """How the sets of one label lie side by side in a row of an array, channel after channel.

    Parameters
    ----------
    shapes : mapping of channel to (rows, words)
        The shapes of its sets.
    """

    def __init__(self, shapes: Mapping[int, tuple[int, int]]) -> None:
        self.shapes = shapes
        self.parts: dict[int, slice] = {}
        self.size = 0
        for number, (rows, words) in shapes.items():
            self.parts[number] = slice(self.size, self.size + rows * words)
            self.size += rows * words

    def pack(self, sets: Mapping[int, Words]) -> Words:
        """Return the sets of all channels side by side, shape (size,)."""
        packed = np.zeros(self.size, dtype=np.uint64)
        for number, part in self.parts.items():
            packed[part] = sets[number].ravel()
        return packed

    def unpack(self, packed: Words) -> dict[int, Words]:
        """Return the sets of each channel, shape (rows, words)."""
        return {n: packed[part].reshape(self.shapes[n]) for n, part in self.parts.items()}

    def of_channel(self, packed: Words, number: int) -> Words:
        """Return the sets of one channel of some labels, shape (labels, rows, words)."""
        return packed[:, self.parts[number]].reshape(len(packed), *self.shapes[number])

    def are_alive(self, packed: Words) -> bool:
        """Return whether every channel of a label has some count left."""
        return all(packed[part].any() for part in self.parts.values())


@dataclass(frozen=True, slots=True)
class Labels:
    """Labels at one place: pieces up to there, the row before, and the packed sets.

    Of shape (labels,), and (labels, size) for the sets.
    """

    pieces: Ints
    rows: Ints
    packed: Words

    @classmethod
    def joined(cls, parts: Sequence[Labels]) -> Labels:
        """Return all labels of some parts."""
        if len(parts) == 1:
            return parts[0]
        return cls(
            np.concatenate([part.pieces for part in parts]),
            np.concatenate([part.rows for part in parts]),
            np.concatenate([part.packed for part in parts]),
        )

    def at(self, which: Ints | Bools | slice) -> Labels:
        """Return some of them."""
        return Labels(self.pieces[which], self.rows[which], self.packed[which])

    def undominated(self) -> Labels:
        """Return those that are worth keeping, rising in pieces.

        One that came with no more pieces makes all needless whose sets it contains.
        """
        if self.pieces.size <= 1:
            return self
        order = np.argsort(self.pieces, kind="stable")
        heads = _heads(self.pieces[order])
        archive: Words | None = None
        kept = []
        for head, stop in itertools.pairwise([*heads, order.size]):
            group = order[head:stop]
            some = group[undominated(self.packed[group], archive)]
            kept.append(some)
            new = self.packed[some]
            archive = new if archive is None else np.concatenate((archive, new))
        return self.at(np.concatenate(kept))


def _heads(values: Ints) -> list[int]:
    """Return where the same values begin in a row, shape not 0."""
    return [0, *(np.flatnonzero(values[1:] != values[:-1]) + 1).tolist()]


class _Waiting:
    """Labels that wait at places further on; ``held`` is how many words they take.

    They wait in blocks of places, which are sorted when the first of their places is looked at.
    """

    def __init__(self) -> None:
        self.held = 0
        self._blocks: dict[int, list[tuple[Labels, Ints]]] = {}
        self._now: dict[int, list[Labels]] = {}
        self._block = -1

    def add(self, labels: Labels, places: Ints) -> None:
        """Add labels to those that wait at some places, behind what waits there."""
        self.held += labels.packed.size
        order = np.argsort(places, kind="stable")
        places = places[order]
        blocks = places // _BLOCK
        for head, stop in itertools.pairwise([*_heads(blocks), order.size]):
            part = labels.at(order[head:stop]), places[head:stop]
            block = int(blocks[head])
            if block == self._block:
                self._sort(*part)
            else:
                self._blocks.setdefault(block, []).append(part)

    def taken_at(self, place: int) -> Labels | None:
        """Return what waits at a place, which is no longer held; None if nothing does."""
        if place // _BLOCK != self._block:
            self._block = place // _BLOCK
            self._now = {}
            parts = self._blocks.pop(self._block, None)
            if parts is not None:
                labels = Labels.joined([part for part, _ in parts])
                places = np.concatenate([places for _, places in parts])
                order = np.argsort(places, kind="stable")
                self._sort(labels.at(order), places[order])
        found = self._now.pop(place, None)
        if found is None:
            return None
        arrived = Labels.joined(found)
        self.held -= arrived.packed.size
        return arrived

    def near(self) -> dict[int, int]:
        """Return where labels wait in the block that is looked at, and the fewest pieces of one there."""
        return {
            place: min(int(part.pieces.min()) for part in self._now[place])
            for place in sorted(self._now)
        }

    def _sort(self, labels: Labels, places: Ints) -> None:
        """Add labels to the block that is looked at, given that the places rise."""
        heads = _heads(places)
        for head, stop in itertools.pairwise([*heads, places.size]):
            self._now.setdefault(int(places[head]), []).append(labels.at(slice(head, stop)))

    def drop_dominated(self) -> None:
        """Keep only what is worth keeping."""
        self._now = {place: [Labels.joined(p).undominated()] for place, p in self._now.items()}
        self.held = sum(parts[0].packed.size for parts in self._now.values())
        for block, parts in self._blocks.items():
            labels = Labels.joined([part for part, _ in parts])
            places = np.concatenate([places for _, places in parts])
            order = np.argsort(places, kind="stable")
            kept, stay = [], []
            for head, stop in itertools.pairwise([*_heads(places[order]), order.size]):
                kept.append(labels.at(order[head:stop]).undominated())
                stay.append(np.full(kept[-1].pieces.size, places[order[head]]))
            self._blocks[block] = [(Labels.joined(kept), np.concatenate(stay))]
            self.held += self._blocks[block][0][0].packed.size


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """What is walked through: one stretch.

    Parameters
    ----------
    stretch : Stretch
        The gates, and the bound on the pieces that are still needed.
    sets : dict by number of channel
        The channels that are lit.
    packing : Packing
        Their sets lie first, in the same order.
    may_stand : ndarray, shape (length + 1,)
        At which places a row may stand.
    most : int
        No label has more pieces.
    holds_last : bool
        True if the counts of the last row are held to the end of the stretch, which ends the day.
    """

    stretch: Stretch
    sets: Mapping[int, CountSets]
    packing: Packing
    may_stand: Bools
    most: int
    holds_last: bool

    def useful(self, pieces: int) -> Bools:
        """Return the places that labels of so many pieces may go to: the rest may then suffice."""
        useful: Bools = (self.stretch.needed <= self.most - pieces - 1) & self.may_stand
        return useful


def walked(walk: Walk, entering: Labels, trail: Trail, work: WorkSpent) -> Labels:
    """Return the labels at the end of a stretch.

    Parameters
    ----------
    walk : Walk
        The stretch.
    entering : Labels
        The labels at its first place.
    trail : Trail
        Where rows are noted.
    work : WorkSpent
        Bounds the work.

    Returns
    -------
    Labels
        Rising in pieces. If the last row is held, one of those with the fewest pieces, or none.
    """
    work.hold(entering.packed.size)
    if not entering.pieces.size:
        return entering
    kernel = which.compiled()
    if kernel is not None and len(walk.sets) <= kernel.MOST_CHANNELS:
        return _compiled(kernel, walk, entering, trail, work)
    return _PlaceByPlace(walk, trail, work).ended(entering)


def _compiled(
    kernel: ModuleType, walk: Walk, entering: Labels, trail: Trail, work: WorkSpent
) -> Labels:
    """Return the same, by the compiled kernel."""
    status, spent, rows, ended = through_stretch(
        kernel,
        LitStretch(
            channels=[
                LitChannel(
                    gates=sets.run.gates(),
                    rows=sets.rows,
                    words=sets.words,
                    held=sets.run.held_to_end() if walk.holds_last else None,
                )
                for sets in walk.sets.values()
            ],
            needed=walk.stretch.needed,
            may_stand=walk.may_stand,
            most=walk.most,
            holds_last=walk.holds_last,
            size=walk.packing.size,
        ),
        (entering.pieces.astype(np.int32), entering.rows.astype(np.int32), entering.packed),
        len(trail.parents),
        work.left(),
    )
    work.note(spent, is_too_much=status == Status.EXHAUSTED)
    trail.parents += rows[0].tolist()
    trail.indices += (rows[1] + walk.stretch.begin).tolist()
    pieces, before, packed = ended
    return Labels(pieces.astype(np.int64), before.astype(np.int64), packed)


class _PlaceByPlace:
    """`walked`, by numpy."""

    def __init__(self, walk: Walk, trail: Trail, work: WorkSpent) -> None:
        self.walk, self.trail, self.work = walk, trail, work
        self.waiting = _Waiting()
        self.limit = walk.most
        self._known_useful: dict[int, Bools] = {}

    def ended(self, entering: Labels) -> Labels:
        """Return the labels at the end of the stretch."""
        walk = self.walk
        found = entering.at(slice(0, 0))
        useful = walk.useful(int(entering.pieces.min()))
        self.waiting.add(entering, np.zeros(entering.pieces.size, dtype=np.int64))
        for place in [0, *(np.flatnonzero(useful[1:]) + 1).tolist()]:
            labels = self._kept_at(place)
            if labels is None:
                continue
            if place == walk.stretch.length:
                return labels
            before = labels.rows.tolist()
            rows = self.trail.add(before, walk.stretch.begin + place)
            labels = Labels(labels.pieces, rows, labels.packed)
            if walk.holds_last:
                holding = labels.at(self._holds(place, labels))
                if holding.pieces.size and holding.pieces[0] < self.limit:
                    first = holding.at(slice(0, 1))
                    found = Labels(first.pieces + 1, first.rows, first.packed)
                    self.limit = int(first.pieces[0])  # only fewer pieces are better
            some = labels.at(labels.pieces + walk.holds_last < self.limit)
            if some.pieces.size:
                self._expand(place, some)
        return found

    def _kept_at(self, place: int) -> Labels | None:
        """Return the labels at a place that are worth keeping, None if none came there."""
        arrived = self.waiting.taken_at(place)
        if arrived is None:
            return None
        labels = arrived.undominated()
        self.work.add(KEEP_WORK * labels.pieces.size)
        return labels

    def _holds(self, place: int, labels: Labels) -> Bools:
        """Return for which labels all channels can hold a count to the end of the day."""
        held = np.ones(labels.pieces.size, dtype=bool)
        for number, sets in self.walk.sets.items():
            held &= sets.holds(place, self.walk.packing.of_channel(labels.packed, number))
        return held

    def _expand(self, place: int, labels: Labels) -> None:
        """Move labels to all places that one piece leads to."""
        walk, size = self.walk, self.walk.packing.size
        tables = self._tables(place, int(labels.pieces[0]))
        span = min(table.shape[1] for table in tables)
        if not span:
            return
        self.work.hold(span * size)
        for number in walk.sets:
            bits = np.bitwise_count(walk.packing.of_channel(labels.packed, number))
            self.work.add(int(bits.sum(dtype=np.int64)) * span // 8)
        moved, ahead = [], []
        at_once = max(MOST_HELD // (4 * span * size), 1)
        for start in range(0, labels.pieces.size, at_once):
            some = labels.at(slice(start, start + at_once))
            ok = np.array(
                [self._useful(k)[place + 1 : place + 1 + span] for k in some.pieces.tolist()]
            )
            outs = []
            for (number, sets), table in zip(walk.sets.items(), tables, strict=True):
                part = walk.packing.of_channel(some.packed, number)
                out = sets.moved(part, table[:, :span])  # labels, span, rows × words
                ok &= out.any(axis=2)
                outs.append(out)
            label, places_on = np.nonzero(ok)
            # Channels that are dark now stand behind the lit ones, and keep what they remember.
            idle = some.packed[label, sum(out.shape[2] for out in outs) :]
            packed = np.concatenate([*(out[label, places_on] for out in outs), idle], axis=1)
            moved.append(Labels(some.pieces[label] + 1, some.rows[label], packed))
            ahead.append(places_on)
        self._wait(place, Labels.joined(moved), np.concatenate(ahead))

    def _wait(self, place: int, moved: Labels, ahead: Ints) -> None:
        """Keep labels for the places that they came to."""
        if not ahead.size:
            return
        self.work.add(MOVE_WORK * ahead.size)
        if self.waiting.held + moved.packed.size > MOST_HELD:
            self.waiting.drop_dominated()
        self.work.hold(self.waiting.held + moved.packed.size)
        self.waiting.add(moved, ahead + place + 1)

    def _useful(self, pieces: int) -> Bools:
        """Return the places that labels of so many pieces may go to."""
        found = self._known_useful.get(pieces)
        if found is None:
            found = self._known_useful[pieces] = self.walk.useful(pieces)
        return found

    def _tables(self, place: int, pieces: int) -> list[Words]:
        """Return for each channel what its counts reach from a place with so many pieces at the least."""
        held, tables, useful = 0, [], self._useful(pieces)
        for sets in self.walk.sets.values():
            if not sets.is_prepared(place, pieces):
                self._prepare(sets, place, pieces)
            counts, far = sets.room(place, useful)
            held += counts * far * sets.words
            self.work.hold(held)
            self.work.add(counts * far)
            tables.append(sets.reach_of(place, far))
        return tables

    def _prepare(self, sets: CountSets, place: int, pieces: int) -> None:
        """Work out what a channel reaches from a place, and from others near if that is little."""
        near = self.waiting.near()
        others = [goal for goal in near if goal < self.walk.stretch.length]
        places = np.array([place, *others])
        least = min(pieces, *near.values()) if near else pieces
        some = np.cumsum(sets.sizes(places)) <= _COUNTS_AT_ONCE
        some[0] = True
        try:
            sets.prepare(places[some], self._useful(least), least)
        except WorkSpent.Exhausted:
            sets.prepare(places[:1], self._useful(pieces), pieces)


def in_pieces(labels: Labels) -> Iterator[tuple[int, int, Words]]:
    """Yield pieces, row and packed sets of each label."""
    return zip(labels.pieces.tolist(), labels.rows.tolist(), labels.packed, strict=True)
