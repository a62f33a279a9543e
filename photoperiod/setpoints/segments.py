"""Search the fewest straight pieces through gates, with all corners on the controller's grid.

A run is a stretch of samples during which a lamp is lit. At every sample there is a gate: the counts
that the controller may emit there; the gates of a run are its `Corridor`. A path of k pieces has its
corners on grid times and whole counts, and at every sample between them the emitted count, rounded as
the controller rounds, is within the gate. The search goes breadth first over (time, count), so the
first path that it finds has the fewest pieces.

Nothing on the grid is missed: a piece fits if and only if its slope lies in the cone of slopes that
pass all gates between its ends, and all whole counts in that cone at the far end are tried. A lower
bound on the pieces still needed prunes the search; because it never is too high, the answer is the
same without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from photoperiod.arrays import AnyInts, Bools, Ints, SmallInts
from photoperiod.kernel import paths, which
from photoperiod.setpoints.bound import pieces_needed
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.work import WorkSpent

#: Places that corners can have in a run, another bound on memory.
MOST_STATES = 9_000_000

#: States that were reached with fewer pieces, and those that are reached now.
_BEFORE, _NOW = 1, 2


@dataclass(frozen=True, slots=True)
class Found:
    """A path: its corners as (index, count), first to last; ``end`` corners are not among them."""

    corners: tuple[tuple[int, int], ...]

    @property
    def pieces(self) -> int:
        """Straight pieces up to the end."""
        return len(self.corners)


def fewest(
    run: Corridor, starts: Sequence[int], most_pieces: int, work: WorkSpent, at_least: int = 1
) -> Found | None:
    """Return a path with the fewest pieces, or None if it takes more than ``most_pieces``.

    Parameters
    ----------
    run : Corridor
        The gates.
    starts : sequence of int
        Counts that may stand at index 0.
    most_pieces : int
        No path with more pieces is looked for.
    work : WorkSpent
        Bounds the work.
    at_least : int
        It is known to take so many.
    """
    if (run.low > run.high).any():
        return None
    needed = pieces_needed(run)
    # With few pieces the bound prunes most, so the few are tried first.
    least = max(int(needed[0]), 1)
    for most in sorted(
        {m for m in (least, least + 1, least + 2) if m < most_pieces} | {most_pieces}
    ):
        if max(least, at_least) <= most:
            found = _breadth_first(run, starts, most, work, needed)
            if found is not None:
                return found
    return None


def _breadth_first(
    run: Corridor, starts: Sequence[int], most_pieces: int, work: WorkSpent, needed: Ints
) -> Found | None:
    width = width_of(run)
    size = run.length + 1
    if size * width > MOST_STATES:
        raise WorkSpent.Exhausted
    kernel = which.compiled()
    if kernel is not None:
        return _compiled(kernel, run, starts, most_pieces, work, needed)

    from photoperiod.setpoints.cones import Reach, counted_up  # the compiled kernel has its own

    parent = np.empty(size * width, dtype=np.int32)
    frontier = (run.begins(starts) // run.stride).astype(np.int32)
    parent[frontier] = -1
    seen = np.zeros(size * width, dtype=np.uint8)
    seen[frontier] = _BEFORE
    reach = Reach(run, work)
    places = run.places()
    for pieces in range(1, most_pieces + 1):
        if run.end is None:
            holds = run.holds_to_end(frontier // width, frontier % width * run.stride)
            at_end = frontier[holds]
            if at_end.size:
                return _trace(parent, int(at_end[0]), width, run.stride)
        if not frontier.size:
            return None
        useful = (needed <= most_pieces - pieces) & places
        smallest, largest = size * width, 0
        for source, index, least, number in reach.streamed(
            frontier // width, frontier % width * run.stride, useful
        ):
            if run.end is not None:
                done = np.flatnonzero(index == run.length)
                if done.size:
                    return _trace(parent, int(frontier[source[done[0]]]), width, run.stride)
            first = index * width + (least if run.stride == 1 else least // run.stride)
            smallest = min(smallest, int(first.min()))
            largest = max(largest, int((first + number).max()) - 1)
            target, origin = counted_up(first, number), np.repeat(frontier[source], number)
            fresh = seen[target] != _BEFORE
            target, origin = target[fresh], origin[fresh]
            parent[target] = origin  # of several, the last one to come
            seen[target] = _NOW
        frontier = np.flatnonzero(seen[smallest : largest + 1] == _NOW).astype(np.int32)
        frontier += np.int32(smallest)
        seen[frontier] = _BEFORE
    return None


def _compiled(kernel: ModuleType, run: Corridor, starts: Sequence[int], most_pieces: int,
              work: WorkSpent, needed: Ints) -> Found | None:  # fmt: skip
    """Return what `_breadth_first` does, by the compiled kernel."""
    width = width_of(run)
    search = paths.Search(gates=run.gates(), needed=needed, places=run.places(), width=width)
    begin = (run.begins(starts) // run.stride).astype(np.int32)
    status, spent, state, parent = paths.fewest(
        kernel, search, begin, most_pieces, work.left(), run.held_to_end()
    )
    work.note(spent, is_too_much=status == paths.Status.EXHAUSTED)
    return _trace(parent, state, width, run.stride) if status == paths.Status.FOUND else None


def width_of(run: Corridor) -> int:
    """Return how many states a sample has: more than any count of the run has strides."""
    return max(int(run.high.max()), run.end or 0) // run.stride + 2


def marked(flags: Bools, states: AnyInts) -> SmallInts:
    """Return the different ones of some states, rising; their flags are set for a moment."""
    if not states.size:
        return states.astype(np.int32)
    flags[states] = True
    first, last = int(states.min()), int(states.max()) + 1
    different = np.flatnonzero(flags[first:last]).astype(np.int32) + np.int32(first)
    flags[different] = False
    return different


def _trace(parent: AnyInts, state: int, width: int, stride: int) -> Found:
    corners = []
    while state >= 0:
        corners.append((state // width, state % width * stride))
        state = int(parent[state])
    return Found(tuple(reversed(corners)))
