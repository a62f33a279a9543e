"""The calls of the compiled kernel, with the memory that it works in.

A *state* is a sample and a count in one number, sample · width + count / stride. All calls return
the work spent; the caller notes it, and raises if a call says that it was too much.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from enum import IntEnum
from types import ModuleType

import numpy as np

from photoperiod.arrays import Bools, Floats, Ints, SmallInts, Words

#: A line through gates: the sign of its slope, and the lower and upper ends of the gates.
Line = tuple[int, Floats, Floats]

#: Of work: how much is spent, how much may be spent, and how many numbers may be held at once.
Work = tuple[int, int, int]


class Status(IntEnum):
    """How a search ended."""

    NO_PATH = 0
    FOUND = 1
    EXHAUSTED = 2
    NO_ROOM = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Gates:
    """The gates of a run, as `photoperiod.setpoints.segments.Corridor` has them.

    ``lines`` are its unrounded lines. The arrays are contiguous; counts are below 2^20.
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


#: So many numbers may be held as there are.
NO_BOUND = 2**60

#: Spans for which there is room at first; more is taken where that is too little.
FEW_SPANS = 250_000


#: Rooms that are larger are given back after each fit. [bytes]
MOST_KEPT_BYTES = 8 * 2**20


class _Rooms(threading.local):
    """Memory that stays from call to call: to get it anew takes longer than to use it."""

    def __init__(self) -> None:
        self.numbers: dict[str, SmallInts] = {}
        self.sets: dict[str, Words] = {}

    def of(self, name: str, size: int) -> SmallInts:
        """Return room for so many numbers, with anything in it."""
        found = self.numbers.get(name)
        if found is None or found.size < size:
            found = self.numbers[name] = np.empty(size, dtype=np.int32)
        return found[:size]

    def words(self, name: str, size: int) -> Words:
        """Return room for so many words of bits, with anything in it."""
        found = self.sets.get(name)
        if found is None or found.size < size:
            found = self.sets[name] = np.empty(size, dtype=np.uint64)
        return found[:size]

    def give_back(self) -> None:
        """Give back the large ones; who asks for one takes it anew.

        What was written to once stays in memory: a process that compiles one schedule after the other would
        hold what the widest column of them took, up to 240 MB.
        """
        for kept in (self.numbers, self.sets):
            large = [name for name, room in kept.items() if room.nbytes > MOST_KEPT_BYTES]
            for name in large:
                del kept[name]


rooms = _Rooms()


def _scratch(kernel: ModuleType) -> SmallInts:
    """Return room for what a block of corners reaches in a chunk of gates."""
    return rooms.of("scratch", 4 * kernel.MOST_SPANS)


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
    limits = (*work[:2], NO_BOUND)  # nothing is held but the states
    status, spent, state = kernel.fewest(
        search.packed(limits), begin, most_pieces, parent, frontier, fresh, *held, _scratch(kernel)
    )
    return Status(status), spent, state, parent


def spans(
    kernel: ModuleType, gates: Gates, index: Ints, count: Ints, useful: Bools, work: Work
) -> tuple[Status, int, SmallInts]:
    """Return what one piece from each corner reaches: source, index, least count, how many.

    As an array of shape (spans, 4), after how it ended and the work spent.
    """
    for room in (FEW_SPANS, work[2] // 2 + 1):  # the kernel gives up before so much is full
        found = _room_for_spans(room)
        status, spent, number = kernel.spans(
            gates.packed(), work, index, count, useful, found, _scratch(kernel)
        )
        if status != Status.NO_ROOM:
            break
    return Status(status), spent, found[:number].copy()


@dataclass(frozen=True, slots=True, kw_only=True)
class Begins:
    """States of a day that is never dark, as `photoperiod.setpoints.circle` has them.

    ``base`` is the least count of each place, ``grid`` the samples of one, ``width`` how many counts a
    place has at the most. ``source`` are the states, at the samples ``index`` and with the counts
    ``count``. ``before`` tells of how many states, before each, pieces may end at one; None if at any.
    """

    base: Ints
    source: SmallInts
    index: Ints
    count: Ints
    before: SmallInts | None
    grid: int
    width: int

    def packed(self) -> tuple[object, ...]:
        """Return them as the kernel reads them."""
        return (self.base, self.source, self.index, self.count, self.before, self.grid, self.width)


def onward(
    kernel: ModuleType, gates: Gates, begins: Begins, useful: Bools, block: int, work: Work
) -> tuple[Status, int, SmallInts]:
    """Return the single pieces from some states: where each begins, its first end, how many ends.

    As an array of shape (3, pieces), after how it ended and the work spent. ``block`` states are looked
    at before it is asked whether too much is held.
    """
    for room in (FEW_SPANS, work[2]):  # the kernel gives up before so much is full
        found = rooms.of("pieces", 3 * room) if room <= FEW_SPANS else np.empty(3 * room, np.int32)
        status, spent, number = kernel.onward(
            gates.packed(), work, begins.packed(), useful, block, found, _scratch(kernel)
        )
        if status != Status.NO_ROOM:
            break
    return Status(status), spent, found[: 3 * number].reshape(number, 3).T.copy()


def _room_for_spans(number: int) -> SmallInts:
    """Return room for so many spans, shape (number, 4); it stays only if they are few."""
    if number <= FEW_SPANS:
        return rooms.of("spans", 4 * number).reshape(number, 4)
    return np.empty((number, 4), dtype=np.int32)


def band(
    kernel: ModuleType, light: Floats, wanted: tuple[Floats, Floats], error: tuple[float, float],
    slack: float, counts: tuple[int, int],
) -> tuple[Ints, Ints]:  # fmt: skip
    """Return the least and most count whose light is within an error of what is wanted.

    Parameters
    ----------
    kernel : module
        The compiled kernel.
    light : ndarray
        The light of each count, rising.
    wanted : pair of ndarray, shape (samples,)
        The least and most light wanted.
    error : pair of float
        How far the light may be below and above.
    slack : float
        Lights that differ by less are the same.
    counts : pair of int
        The least count where some light is wanted, and the greatest.
    """
    low, high = np.empty(wanted[0].size, dtype=np.int64), np.empty(wanted[0].size, dtype=np.int64)
    kernel.band(light, *wanted, *error, slack, *counts, low, high)
    return low, high


def relaxed(
    kernel: ModuleType, light: Floats, wanted: tuple[Floats, Floats], error: tuple[float, float],
    slack: float, counts: tuple[int, int], widened: tuple[float, float, float, float],
    end: int | None,
) -> int:  # fmt: skip
    """Return how many pieces with real corners a run takes within an error, −1 if a gate is shut.

    Parameters
    ----------
    kernel : module
        The compiled kernel.
    light, wanted, error, slack, counts
        As for `band`.
    widened : tuple of float
        As `photoperiod.setpoints.corridor.widened` gives it.
    end : int or None
        The count that the run ends in.
    """
    scratch = np.empty(6 * (wanted[0].size + 2))
    return int(kernel.relaxed(light, *wanted, *error, slack, *counts, widened, end, scratch))


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
        for room in (min(FEW_SPANS, most_edges), most_edges):
            status, spent, graph = cls._within(
                kernel, search, begin, most_pieces, most_edges, work, room
            )
            if status != Status.NO_ROOM:
                return status, spent, graph
        return Status.EXHAUSTED, spent, graph  # a span has one edge at the least

    @classmethod
    def _within(
        cls, kernel: ModuleType, search: Search, begin: SmallInts, most_pieces: int,
        most_edges: int, work: Work, room: int,
    ) -> tuple[Status, int, Graph]:  # fmt: skip
        """Return the same, with room for so many spans."""
        size, length = search.states, search.gates.length
        states = np.empty(size, dtype=np.int32)
        head = np.full(size, -1, dtype=np.int32)
        rank = np.full(size, -1, dtype=np.int32)
        spans = _room_for_spans(room)
        heads = np.zeros(length + 2, dtype=np.int32)
        order = rooms.of("order", room)
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

    def _packed(self, sums: tuple[Floats, ...], coarse: float) -> tuple[object, ...]:
        gates = self.search.gates
        return (gates.length, self.search.width, gates.stride, self.states, self.head, self.rank,
                self.spans, self.heads, self.order, sums, coarse)  # fmt: skip

    def costs(self, kernel: ModuleType, begin: SmallInts, layers: int, sums: tuple[Floats, ...],
              coarse: float) -> Floats:  # fmt: skip
        """Return the least cost of each state by number of pieces, shape (states, layers).

        ``coarse`` rounds the costs of pieces, as `photoperiod.setpoints.least_squares.Cost` has it.
        """
        best = np.full((self.states.size, layers), np.inf)
        best[self.rank[begin], 0] = 0.0
        kernel.closest(self._packed(sums, coarse), self.search.needed, best, layers)
        return best

    def trace(self, kernel: ModuleType, best: Floats, number: int, layer: int,
              sums: tuple[Floats, ...], coarse: float) -> SmallInts:  # fmt: skip
        """Return the states that lead to one, given by its number, in some pieces."""
        path = np.empty(layer + 1, dtype=np.int32)
        packed = self._packed(sums, coarse)
        is_there = kernel.trace(packed, best, best.shape[1], number, layer, path)
        assert is_there, "a cost without a path"
        return path
