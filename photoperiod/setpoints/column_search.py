"""Search the fewest rows of one column of times that several channels share.

For given times of rows the channels do not depend on each other: what matters of a channel is the
set of counts it can have reached. So a label is a time, a number of pieces, and for each lit channel
that set as a mask of bits; a label goes on to a later time if every lit channel gets there in one
piece. Of two labels at one time with as many pieces, one whose sets contain the other's is enough:
whatever can follow the other can follow it. All times and all counts are tried, so the fewest pieces
are found.

A channel that is lit at the cut of the day must end it at the count it began with. It has one set
for each count it may begin with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Ints, Words
from photoperiod.setpoints.columns import Column, Stretch, count_needed, stretches_of
from photoperiod.setpoints.count_sets import WORD, CountSets, begin_counts, undominated
from photoperiod.setpoints.work import WorkSpent

#: Looking for the lower bound on pieces goes gate by gate and takes as long as so many gates of cones.
_BOUND_WORK = 20

#: To move a label to another place takes as long as so many gates of a cone, to keep it so many.
_MOVE_WORK = 20
_KEEP_WORK = 50


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
    stretches = list(stretches_of(column))
    work.add(_BOUND_WORK * column.steps * column.grid)
    least = count_needed(stretches, column)
    if least is None or least > most_rows:
        return None
    # With few rows the bound prunes most, so the few are tried first.
    for most in sorted({m for m in (least, least + 1) if m < most_rows} | {most_rows}):
        found = _search(column, stretches, most, work)
        if found is not None:
            return tuple(
                (column.forced[0] + index // column.grid) % column.steps for index in found
            )
    return None


@dataclass(frozen=True, slots=True)
class Label:
    """What can be reached at the first row of a stretch, or at the end of the day.

    Parameters
    ----------
    pieces : int
        Straight pieces up to there.
    row : int
        Number of the last row before, in the `_Trail`; −1 if there is none.
    sets : dict by number of channel
        The counts reached, shape (rows, words): for channels that are lit, and for all that were
        lit at the cut.
    """

    pieces: int
    row: int
    sets: Mapping[int, Words]


class _Trail:
    """Rows of all labels, each with the row before it, so that a label is traced back to the cut."""

    def __init__(self) -> None:
        self.parents: list[int] = []
        self.indices: list[int] = []

    def add(self, parent: int, index: int) -> int:
        """Return the number of a new row at some samples after the cut."""
        self.parents.append(parent)
        self.indices.append(index)
        return len(self.parents) - 1

    def back_from(self, row: int) -> list[int]:
        """Return the samples after the cut at which the rows up to one stand."""
        found = []
        while row >= 0:
            found.append(self.indices[row])
            row = self.parents[row]
        return found[::-1]


def _search(
    column: Column, stretches: Sequence[Stretch], most_rows: int, work: WorkSpent
) -> list[int] | None:
    """Return the samples after the cut at which rows stand, None if it takes more rows."""
    first = stretches[0]
    # The counts that a channel lit at the cut may begin with.
    at_cut = {n: begin_counts(run) for n, run in first.runs.items() if n not in first.opens}
    words = [-(-(c.widest // c.stride + 2) // WORD) for c in column.channels]
    trail = _Trail()
    labels = [Label(0, -1, {})]
    for stretch in stretches:
        walk = _StretchWalk(column, stretch, at_cut, words, trail, most_rows, work)
        labels = walk.from_labels(labels)
        if not labels:
            return None
    return trail.back_from(min(labels, key=lambda label: label.pieces).row)


class _Packing:
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
class _Layer:
    """Labels at one place with the same number of pieces.

    ``rows`` are their rows in the trail, ``packed`` their sets, shape (labels, size).
    """

    rows: list[int]
    packed: Words


@dataclass(frozen=True, slots=True)
class _Moved:
    """Labels one piece on: places, sets and rows before, of shape (labels,) or (labels, size)."""

    places: Ints
    packed: Words
    parents: Ints


class _StretchWalk:
    """All labels within one stretch.

    Parameters
    ----------
    column, stretch : Column, Stretch
        What is searched, and which part of it.
    at_cut : mapping of channel to ndarray
        The counts that channels which are lit at the cut may begin the day with.
    words : sequence of int
        Words in a set of each channel.
    trail : _Trail
        Where rows are noted.
    most_rows : int
        No label has more pieces.
    work : WorkSpent
        Bounds the work.
    """

    def __init__(
        self,
        column: Column,
        stretch: Stretch,
        at_cut: Mapping[int, Ints],
        words: Sequence[int],
        trail: _Trail,
        most_rows: int,
        work: WorkSpent,
    ) -> None:
        self.stretch, self.at_cut, self.trail = stretch, at_cut, trail
        self.most, self.work, self.grid = most_rows, work, column.grid
        self.closes_day = stretch.is_last and column.wraps
        self.holds_last = stretch.is_last and not column.wraps
        self.sets = {
            n: CountSets(run, words[n], at_cut[n].size if n in at_cut else 1, work)
            for n, run in stretch.runs.items()
        }
        shapes = {n: (s.rows, s.words) for n, s in self.sets.items()}
        # A channel that was lit at the cut and is dark now remembers which beginnings are alive.
        shapes |= {n: (counts.size, 1) for n, counts in at_cut.items() if n not in self.sets}
        self.packing = _Packing(shapes)
        #: By place the sets of all labels that were kept there.
        self.archive: dict[int, Words] = {}
        self.held = 0
        self.may_stand = self._may_stand(column)

    def _may_stand(self, column: Column) -> Bools:
        """Return at which places of the stretch a row may stand."""
        places = np.arange(self.stretch.length + 1)
        may_stand: Bools = places % self.grid == 0
        if column.places is not None:
            steps = column.forced[0] + (self.stretch.begin + places) // self.grid
            may_stand &= column.places[steps % column.steps]
        may_stand[self.stretch.length] = not self.holds_last
        return may_stand

    def from_labels(self, entering: Sequence[Label]) -> list[Label]:
        """Return the labels at the end of the stretch, rising in pieces."""
        waiting = self._entered(entering)
        leaving: list[Label] = []
        layers: dict[int, _Layer] = {}
        pieces = min(waiting, default=self.most)
        while pieces < self.most:
            if pieces in waiting:
                first = waiting.pop(pieces)
                kept = self._drop_dominated(0, first.packed)
                if kept.size:
                    layers[0] = _Layer([first.rows[k] for k in kept], first.packed[kept])
            if not layers and not waiting:
                break
            layers, ended = self._one_piece_on(layers, pieces)
            pieces += 1
            leaving += self._leaving(ended, pieces)
        return leaving

    def _entered(self, entering: Sequence[Label]) -> dict[int, _Layer]:
        """Return the labels at the first row of the stretch, by number of pieces."""
        waiting: dict[int, tuple[list[int], list[Words]]] = {}
        for label in entering:
            packed = self.packing.pack({n: self._begun(n, label) for n in self.packing.parts})
            if self.packing.are_alive(packed):
                rows, sets = waiting.setdefault(label.pieces, ([], []))
                rows.append(self.trail.add(label.row, self.stretch.begin))
                sets.append(packed)
        return {
            pieces: _Layer(rows, np.array(sets).reshape(len(sets), self.packing.size))
            for pieces, (rows, sets) in waiting.items()
        }

    def _begun(self, number: int, label: Label) -> Words:
        """Return the sets of one channel at the first row of the stretch."""
        reached = label.sets.get(number)
        if number not in self.sets and reached is not None:
            return reached
        sets = self.sets[number]
        if reached is None:
            return sets.each(self.at_cut[number]) if number in self.at_cut else sets.all_begins()
        if number in self.stretch.opens:  # it lights again: of beginnings that are alive, anew
            alive = np.any(reached, axis=1, keepdims=True)
            return np.where(alive, sets.all_begins(), np.uint64(0))
        return reached

    def _one_piece_on(
        self, layers: Mapping[int, _Layer], pieces: int
    ) -> tuple[dict[int, _Layer], list[tuple[int, Words]]]:
        """Return the labels one piece on, by place, and those that came to the end (row, sets)."""
        if not self.sets:  # nobody is lit: the next row is at the end
            return {}, [
                (row, layer.packed[k])
                for layer in layers.values()
                for k, row in enumerate(layer.rows)
            ]
        useful = self._useful_places(pieces)
        for sets in self.sets.values():
            sets.prepare(np.array(sorted(layers), dtype=np.int64), useful)
        moved = []
        for place in sorted(layers):
            layer = layers[place]
            if self.holds_last:
                held = self._holds(place, layer)
                if held.any():  # no label can end with fewer pieces
                    first = int(np.argmax(held))
                    return {}, [(layer.rows[first], layer.packed[first])]
            expanded = self._expand(place, layer, useful)
            if expanded is not None:
                moved.append(expanded)
        return self._merge_by_place(moved)

    def _useful_places(self, pieces: int) -> Bools:
        """Return the places on the grid from which the rows that are left may suffice."""
        useful: Bools = (self.stretch.needed <= self.most - pieces - 1) & self.may_stand
        return useful

    def _holds(self, place: int, layer: _Layer) -> Bools:
        """Return for which labels all channels can hold a count to the end of the day."""
        held = np.ones(len(layer.rows), dtype=bool)
        for number, sets in self.sets.items():
            held &= sets.holds(place, self.packing.of_channel(layer.packed, number))
        return held

    def _expand(self, place: int, layer: _Layer, useful: Bools) -> _Moved | None:
        """Return all labels that one piece from a place leads to, None if there are none."""
        reaches = [sets.reach_of(place) for sets in self.sets.values()]
        span = min(reach.shape[1] for reach in reaches)
        if not span:
            return None
        count = len(layer.rows)
        ok = np.broadcast_to(useful[place + 1 : place + 1 + span], (count, span)).copy()
        outs = []
        for (number, sets), reach in zip(self.sets.items(), reaches, strict=True):
            part = self.packing.of_channel(layer.packed, number)
            out = sets.moved(part, reach[:, :span])  # labels, span, rows × words
            ok &= out.any(axis=2)
            outs.append(out)
        label, ahead = np.nonzero(ok)
        if not label.size:
            return None
        self.work.add(_MOVE_WORK * label.size)
        self.work.hold(label.size * self.packing.size)
        # Channels that are dark now stand behind the lit ones, and keep what they remember.
        idle = [
            layer.packed[label][:, part]
            for number, part in self.packing.parts.items()
            if number not in self.sets
        ]
        return _Moved(
            places=place + 1 + ahead,
            packed=np.concatenate([*(out[label, ahead] for out in outs), *idle], axis=1),
            parents=np.array(layer.rows)[label],
        )

    def _merge_by_place(
        self, moved: Sequence[_Moved]
    ) -> tuple[dict[int, _Layer], list[tuple[int, Words]]]:
        """Return what is worth keeping of moved labels, by place, and what came to the end."""
        layers: dict[int, _Layer] = {}
        ended: list[tuple[int, Words]] = []
        if not moved:
            return layers, ended
        self.work.hold(sum(m.packed.size for m in moved))
        places = np.concatenate([m.places for m in moved])
        order = np.argsort(places, kind="stable")
        places = places[order]
        packed = np.concatenate([m.packed for m in moved])[order]
        parents = np.concatenate([m.parents for m in moved])[order]
        heads = np.flatnonzero(np.diff(np.concatenate(([-1], places))))
        for head, stop in zip(heads, [*heads[1:], places.size], strict=True):
            place, group = int(places[head]), packed[head:stop]
            kept = self._drop_dominated(place, group)
            if not kept.size:
                continue
            self.work.add(_KEEP_WORK * kept.size)
            before = parents[head:stop][kept].tolist()
            if place == self.stretch.length:  # its row is the first of the next stretch
                ended.extend(zip(before, group[kept], strict=True))
            else:
                rows = [self.trail.add(row, self.stretch.begin + place) for row in before]
                layers[place] = _Layer(rows, group[kept])
        return layers, ended

    def _drop_dominated(self, place: int, packed: Words) -> Ints:
        """Return which labels at a place are worth keeping, and note them in the archive.

        A label that came there earlier, with no more pieces, makes all needless whose sets it
        contains.
        """
        known = self.archive.get(place)
        kept = undominated(packed, known)
        if kept.size:
            new = packed[kept]
            self.held += new.size
            self.work.hold(self.held)
            self.archive[place] = new if known is None else np.concatenate((known, new))
        return kept

    def _leaving(self, ended: Sequence[tuple[int, Words]], pieces: int) -> list[Label]:
        """Return labels at the end of the stretch as the next one takes them."""
        result = []
        for row, packed in ended:
            label = Label(pieces, row, self._kept_sets(packed))
            if self.closes_day:
                if self._ends_as_it_began(label):
                    return [label]
            else:
                result.append(label)
        return result

    def _kept_sets(self, packed: Words) -> dict[int, Words]:
        """Return the sets that the next stretch needs: of channels that go dark, who is alive."""
        sets = {}
        for number, reached in self.packing.unpack(packed).items():
            if number not in self.stretch.closes:
                sets[number] = reached
            elif number in self.at_cut:
                sets[number] = reached[:, :1]  # dark is count 0, the first bit
        return sets

    def _ends_as_it_began(self, label: Label) -> bool:
        """Return whether every channel that is lit at the cut can end at a count it began with."""
        return all(
            number not in self.sets
            or number in self.stretch.closes
            or bool((label.sets[number] & self.sets[number].at_end(counts)).any())
            for number, counts in self.at_cut.items()
        )
