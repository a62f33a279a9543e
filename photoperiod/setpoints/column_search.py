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
from photoperiod.setpoints.count_sets import WORD, CountSets, begin_counts
from photoperiod.setpoints.label_walk import Labels, Packing, Trail, Walk, in_pieces, walked
from photoperiod.setpoints.work import BOUND_WORK, WorkSpent


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
    work.add(BOUND_WORK * column.steps * column.grid)
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
        Number of the last row before, in the `Trail`; −1 if there is none.
    sets : dict by number of channel
        The counts reached, shape (rows, words): for channels that are lit, and for all that were
        lit at the cut.
    """

    pieces: int
    row: int
    sets: Mapping[int, Words]


def _search(
    column: Column, stretches: Sequence[Stretch], most_rows: int, work: WorkSpent
) -> list[int] | None:
    """Return the samples after the cut at which rows stand, None if it takes more rows."""
    first = stretches[0]
    # The counts that a channel lit at the cut may begin with.
    at_cut = {n: begin_counts(run) for n, run in first.runs.items() if n not in first.opens}
    words = [-(-(c.widest // c.stride + 2) // WORD) for c in column.channels]
    trail = Trail()
    labels = [Label(0, -1, {})]
    for stretch in stretches:
        walk = _StretchWalk(column, stretch, at_cut, words, trail, most_rows, work)
        labels = walk.from_labels(labels)
        if not labels:
            return None
    return trail.back_from(min(labels, key=lambda label: label.pieces).row)


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
    trail : Trail
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
        trail: Trail,
        most_rows: int,
        work: WorkSpent,
    ) -> None:
        self.stretch, self.at_cut, self.trail = stretch, at_cut, trail
        self.most, self.work, self.grid = most_rows, work, column.grid
        self.closes_day = stretch.is_last and column.wraps
        self.holds_last = stretch.is_last and not column.wraps
        self.sets = {
            n: CountSets(run, words[n], at_cut[n].size if n in at_cut else 1)
            for n, run in stretch.runs.items()
        }
        shapes = {n: (s.rows, s.words) for n, s in self.sets.items()}
        # A channel that was lit at the cut and is dark now remembers which beginnings are alive.
        shapes |= {n: (counts.size, 1) for n, counts in at_cut.items() if n not in self.sets}
        self.packing = Packing(shapes)
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
        begun = self._entered(entering)
        if not self.sets:  # nobody is lit: the next row is at the end
            kept = begun.undominated()
            rows = self.trail.add(kept.rows.tolist(), self.stretch.begin)
            return self._leaving(Labels(kept.pieces + 1, rows, kept.packed))
        walk = Walk(
            stretch=self.stretch,
            sets=self.sets,
            packing=self.packing,
            may_stand=self.may_stand,
            most=self.most,
            holds_last=self.holds_last,
        )
        return self._leaving(walked(walk, begun, self.trail, self.work))

    def _entered(self, entering: Sequence[Label]) -> Labels:
        """Return the labels at the first row of the stretch."""
        found: list[tuple[int, int, Words]] = []
        for label in entering:
            # A channel lit at the cut has a set for each of its counts: the sets grow with their square.
            self.work.hold((len(found) + 1) * self.packing.size)
            packed = self.packing.pack({n: self._begun(n, label) for n in self.packing.parts})
            if label.pieces < self.most and self.packing.are_alive(packed):
                found.append((label.pieces, label.row, packed))
        return Labels(
            np.array([pieces for pieces, _, _ in found], dtype=np.int64),
            np.array([row for _, row, _ in found], dtype=np.int64),
            np.array([packed for _, _, packed in found], dtype=np.uint64).reshape(
                len(found), self.packing.size
            ),
        )

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

    def _leaving(self, ended: Labels) -> list[Label]:
        """Return labels at the end of the stretch as the next one takes them."""
        result = []
        for pieces, row, packed in in_pieces(ended):
            label = Label(pieces, row, self._kept_sets(packed))
            if not self.closes_day or self._ends_as_it_began(label):
                result.append(label)
                if self.closes_day:
                    break
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
