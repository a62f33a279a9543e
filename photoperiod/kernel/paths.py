"""The calls of the compiled kernel, with the memory that it works in.

A *state* is a sample and a count in one number, sample · width + count / stride. All calls return
the work spent; the caller notes it, and raises if a call says that it was too much.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from types import ModuleType

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints, SmallInts

#: A line through gates: the sign of its slope, and the lower and upper ends of the gates.
Line = tuple[int, Floats, Floats]

#: Of work: how much is spent, how much may be spent, and how many numbers may be held at once.
Work = tuple[int, int, int]


class Status(IntEnum):
    """How a search ended."""

    NO_PATH = 0
    FOUND = 1
    EXHAUSTED = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Gates:
    """The gates of a run, as `photoperiod.setpoints.segments.Corridor` has them.

    ``lines`` are its unrounded lines. The arrays are contiguous; counts have at most 16 bits.
    """

    low: Ints
    high: Ints
    first: int
    end: int | None
    stride: int
    lines: tuple[Line, ...]

    @property
    def length(self) -> int:
        """How many samples the run has."""
        return int(self.low.size)

    def packed(self) -> tuple[object, ...]:
        """Return the gates as the kernel reads them."""
        end = -1 if self.end is None else self.end
        return (self.low, self.high, self.first, end, self.stride, self.lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """Where corners may stand: the gates, a bound on the pieces still needed, and places on the grid.

    ``needed`` and ``places`` have the shape (length + 1,). No state has a count of ``width`` strides.
    """

    gates: Gates
    needed: Ints
    places: Bools
    width: int

    @property
    def states(self) -> int:
        """How many states there could be."""
        return (self.gates.length + 1) * self.width

    def packed(self, work: Work) -> tuple[object, ...]:
        """Return the search as the kernel reads it."""
        useful = np.zeros(self.gates.length + 1, dtype=bool)
        return (self.gates.packed(), work, self.needed, self.places, useful, self.width)


def _scratch(kernel: ModuleType) -> SmallInts:
    """Return room for what a block of corners reaches in a chunk of gates."""
    return np.empty(4 * kernel.MOST_SPANS, dtype=np.int32)


def fewest(
    kernel: ModuleType, search: Search, begin: SmallInts, most_pieces: int, work: Work,
    held: tuple[Ints, Ints],
) -> tuple[Status, int, int, SmallInts]:  # fmt: skip
    """Go breadth first from some states.

    ``held`` are the least and most count that can be held from each sample to the end; they count for a
    run without an end.

    Returns
    -------
    status, spent, state, parent
        How it ended, the work spent, the last state of the path that was found, and for each state the
        one before it; −1 for those that begin.
    """
    parent = np.full(search.states, -2, dtype=np.int32)
    frontier = np.empty(search.states, dtype=np.int32)
    fresh = np.zeros(search.states, dtype=bool)
    status, spent, state = kernel.fewest(
        search.packed(work), begin, most_pieces, parent, frontier, fresh, *held, _scratch(kernel)
    )
    return Status(status), spent, state, parent


def spans(
    kernel: ModuleType, gates: Gates, index: Ints, count: Ints, useful: Bools, work: Work
) -> tuple[Status, int, SmallInts]:
    """Return what one piece from each corner reaches: source, index, least count, how many.

    As an array of shape (spans, 4), after how it ended and the work spent.
    """
    found = np.empty((work[2] // 2 + 1, 4), dtype=np.int32)  # the kernel gives up before it is full
    status, spent, number = kernel.spans(
        gates.packed(), work, index, count, useful, found, _scratch(kernel)
    )
    return Status(status), spent, found[:number].copy()


def needed(kernel: ModuleType, low: Floats, high: Floats, size: int) -> Ints:
    """Return for each index a lower bound on the pieces from there to the last gate, shape (size,)."""
    result = np.zeros(size, dtype=np.int64)
    kernel.needed(low, high, result, np.empty(4 * low.size + 4))
    return result


def farthest(kernel: ModuleType, low: Floats, high: Floats, stop: int) -> int:
    """Return the least index from which one straight line passes all gates up to ``stop``."""
    return int(kernel.farthest(low, high, stop, np.empty(4 * low.size + 4)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Graph:
    """All pieces on some path of at most so many of them.

    ``states`` are the states on it, rising. The others are for the kernel: for each state that there
    could be its first span (``head``) and its number (``rank``); the spans; and where those stand in
    ``order`` that end at each place.
    """

    search: Search
    states: SmallInts
    head: SmallInts
    rank: SmallInts
    spans: SmallInts
    heads: SmallInts
    order: SmallInts

    @classmethod
    def of(
        cls, kernel: ModuleType, search: Search, begin: SmallInts, most_pieces: int,
        most_edges: int, work: Work,
    ) -> tuple[Status, int, Graph]:  # fmt: skip
        """Return how the search for all pieces ended, the work spent, and the pieces."""
        size, length = search.states, search.gates.length
        states = np.empty(size, dtype=np.int32)
        head = np.full(size, -1, dtype=np.int32)
        rank = np.full(size, -1, dtype=np.int32)
        spans = np.empty((most_edges, 4), dtype=np.int32)
        heads = np.zeros(length + 2, dtype=np.int32)
        order = np.empty(most_edges, dtype=np.int32)
        seen, fresh = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
        status, spent, number, many = kernel.pieces(
            search.packed(work), begin, most_pieces, most_edges, seen, fresh, states, head, rank,
            spans, heads, order, _scratch(kernel),
        )  # fmt: skip
        graph = cls(
            search=search,
            states=states[:number].copy(),
            head=head,
            rank=rank,
            spans=spans[:many].copy(),  # what is left of the room is given back
            heads=heads,
            order=order[:many].copy(),
        )
        return Status(status), spent, graph

    def _packed(self, sums: tuple[Floats, ...]) -> tuple[object, ...]:
        gates = self.search.gates
        return (gates.length, self.search.width, gates.stride, self.states, self.head, self.rank,
                self.spans, self.heads, self.order, sums)  # fmt: skip

    def costs(
        self, kernel: ModuleType, begin: SmallInts, layers: int, sums: tuple[Floats, ...]
    ) -> Floats:
        """Return the least cost of each state by number of pieces, shape (states, layers)."""
        best = np.full((self.states.size, layers), np.inf)
        best[self.rank[begin], 0] = 0.0
        kernel.closest(self._packed(sums), self.search.needed, best, layers)
        return best

    def trace(
        self, kernel: ModuleType, best: Floats, number: int, layer: int, sums: tuple[Floats, ...]
    ) -> SmallInts:
        """Return the states that lead to one, given by its number, in some pieces."""
        path = np.empty(layer + 1, dtype=np.int32)
        is_there = kernel.trace(self._packed(sums), best, best.shape[1], number, layer, path)
        assert is_there, "a cost without a path"
        return path
