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

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import AnyInts, Bools, Floats, Ints, SmallInts
from photoperiod.drive.grid import Rounding
from photoperiod.setpoints.work import WorkSpent

#: Open ends of gates are drawn in by this much [counts]. Lines between whole counts over at most
#: 86,400 seconds differ from a half by at least 1/172,800 unless they hit it.
OPEN_END = 1e-6

#: Slack for floating point in comparisons of slopes; far below OPEN_END [counts].
FLOAT_SLACK = 1e-9

#: Corners whose cones are followed at once, and the gates looked at first and at most in one go.
#: They fit the cache of a small processor; how few pieces are found does not depend on them.
_BLOCK = 512
_CHUNK = 96
_CHUNK_MOST = 384

#: Places that corners can have in a run, another bound on memory.
MOST_STATES = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Corridor:
    """Gates along a run, indices 0 to length.

    Parameters
    ----------
    low, high : ndarray, shape (length,)
        Least and most count that may be emitted at each sample.
    grid : int
        Corners stand at indices that are multiples of this.
    first : int
        No corner has a lower count; the end may.
    end : int or None
        The count at index ``length``, whatever the gates; None if the last row is held until then.
    rounding : Rounding
        How the controller rounds between rows.
    stride : int
        Corners have counts that are multiples of this; the end may have another.
    """

    low: Ints
    high: Ints
    grid: int
    first: int
    end: int | None
    rounding: Rounding
    stride: int = 1

    @property
    def length(self) -> int:
        """How many samples the run has."""
        return int(self.low.size)

    def lines(self) -> list[tuple[int, Floats, Floats]]:
        """Return (sign of slope, lower, upper ends of the gates for the unrounded line)."""
        low, high = self.low.astype(np.float64), self.high.astype(np.float64)
        if self.end is not None:  # the end is a point
            low, high = np.append(low, self.end), np.append(high, self.end)
        if self.rounding == Rounding.HALF_UP:
            return [(0, low - 0.5, high + 0.5 - OPEN_END)]
        if self.rounding == Rounding.DOWN:
            return [(0, low, high + 1.0 - OPEN_END)]
        return [(1, low, high + 1.0 - OPEN_END), (-1, low - 1.0 + OPEN_END, high)]

    def begins(self, counts: Iterable[int]) -> Ints:
        """Return the counts of some that may stand at index 0."""
        allowed = range(max(int(self.low[0]), self.first), int(self.high[0]) + 1)
        return np.array(
            [c for c in counts if c in allowed and c % self.stride == 0], dtype=np.int64
        )

    def places(self) -> Bools:
        """Return at which indices a corner may stand, the end among them if it is a point."""
        result: Bools = np.arange(self.length + 1) % self.grid == 0
        result[self.length] = self.end is not None
        return result

    def holds_to_end(self, index: AnyInts, count: AnyInts) -> Bools:
        """Return whether a count can be held from an index to the end of the run."""
        low = np.maximum.accumulate(self.low[::-1])[::-1]
        high = np.minimum.accumulate(self.high[::-1])[::-1]
        return np.logical_and(count >= low[index], count <= high[index])

    def real_ends(self) -> tuple[Floats, Floats]:
        """Return the widest gates of the unrounded line, whichever way it slopes."""
        lines = self.lines()
        low = np.min([line[1] for line in lines], axis=0)
        high = np.max([line[2] for line in lines], axis=0)
        if self.end is not None:
            low[-1] = high[-1] = self.end
        return low, high


def one_line_ends(run: Corridor) -> bool:
    """Return whether a single line from a count at index 0 passes all gates to the end.

    True for a run without an end, whose first level is held. A run that ends falls to count 0.
    """
    if run.end is None:
        return True
    # From count c the line is at c · left at each index, so each gate is a range of c.
    left = 1.0 - np.arange(run.length) / run.length
    for sign, low, high in run.lines():
        if sign > 0:
            continue
        least = int(np.ceil((low[:-1] / left).max() - FLOAT_SLACK))
        most = int(np.floor((high[:-1] / left).min() + FLOAT_SLACK))
        least = max(least, run.first, int(run.low[0]))
        least = -(-least // run.stride) * run.stride
        if least <= min(most, int(run.high[0])):
            return True
    return False


def pieces_needed(run: Corridor) -> Ints:
    """Return for each index a lower bound on the pieces from there to the end.

    Pieces may have any real corners and need not meet; neighbours share one gate. The greedy choice
    of the longest piece, backwards from the end, is then the best one (O'Rourke, "An on-line
    algorithm for fitting straight lines between data ranges", CACM 24:574–578, 1981).
    """
    low, high = run.real_ends()
    last = low.size - 1
    needed = np.zeros(run.length + 1, dtype=np.int64)
    lows, highs = low.tolist(), high.tolist()
    stop, count = last, 0
    while stop > 0:
        begin = farthest(lows, highs, stop)
        count += 1
        if begin == stop:  # an empty gate: nothing gets through
            needed[: stop + 1] = np.iinfo(np.int32).max
            break
        needed[begin:stop] = count
        stop = begin
    if run.end is None:
        needed[last:] = 0  # standing at the last gate, nothing more is needed
    return needed


def farthest(low: list[float], high: list[float], stop: int) -> int:
    """Return the least index from which one straight line passes all gates up to ``stop``."""
    if low[stop] > high[stop]:
        return stop
    if stop == 0:
        return 0
    if high[stop - 1] < low[stop - 1]:
        return stop
    upper: list[tuple[int, float]] = [(0, high[stop]), (1, high[stop - 1])]
    lower: list[tuple[int, float]] = [(0, low[stop]), (1, low[stop - 1])]
    upper_start = lower_start = 0
    # The two extreme lines, each by a point and a slope: the steepest from a lower to an upper gate
    # end, the flattest the other way.
    steep_x, steep_y, steep = 0, low[stop], high[stop - 1] - low[stop]
    flat_x, flat_y, flat = 0, high[stop], low[stop - 1] - high[stop]
    for x in range(2, stop + 1):
        top, bottom = high[stop - x], low[stop - x]
        highest = steep_y + steep * (x - steep_x)
        lowest = flat_y + flat * (x - flat_x)
        if top < bottom or bottom > highest + FLOAT_SLACK or top < lowest - FLOAT_SLACK:
            return stop - x + 1
        if top < highest:
            lower_start = _tangent(lower, lower_start, x, top, 1.0)
            steep_x, steep_y = lower[lower_start]
            steep = (top - steep_y) / (x - steep_x)
            while len(upper) >= upper_start + 2 and _turn(upper[-2], upper[-1], (x, top)) <= 0:
                upper.pop()
            upper.append((x, top))
        if bottom > lowest:
            upper_start = _tangent(upper, upper_start, x, bottom, -1.0)
            flat_x, flat_y = upper[upper_start]
            flat = (bottom - flat_y) / (x - flat_x)
            while len(lower) >= lower_start + 2 and _turn(lower[-2], lower[-1], (x, bottom)) >= 0:
                lower.pop()
            lower.append((x, bottom))
    return 0


def _tangent(hull: list[tuple[int, float]], start: int, x: int, y: float, sign: float) -> int:
    """Return the point of a hull from which the line to (x, y) has the least slope times sign."""
    best = start
    before_x, before_y = hull[start]
    least = sign * (y - before_y) / (x - before_x)
    for index in range(start + 1, len(hull)):
        at_x, at_y = hull[index]
        if at_x == x:  # the other end of the same gate
            break
        slope = sign * (y - at_y) / (x - at_x)
        if slope > least:
            break
        best, least = index, slope
    return best


def _turn(a: tuple[int, float], b: tuple[int, float], c: tuple[int, float]) -> float:
    """Return the cross product; positive if a, b, c turn left (upper gates form a lower hull)."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


class Reach:
    """What one piece from a corner can reach: the cone of slopes, vectorised over corners."""

    def __init__(self, run: Corridor, work: WorkSpent) -> None:
        self.run, self.work = run, work
        self.lines = run.lines()
        self.size = self.lines[0][1].size
        self.last = self.size - 1

    def corners(
        self, index: AnyInts, count: AnyInts, useful: Bools
    ) -> tuple[SmallInts, SmallInts, SmallInts]:
        """Return all useful corners that one piece reaches.

        Parameters
        ----------
        index, count : ndarray, shape (corners,)
            Where the pieces begin.
        useful : ndarray, shape (length + 1,)
            The indices at which a piece may end.

        Returns
        -------
        source, index, count : ndarray, shape (found,)
            Number of the beginning corner, and where the piece may end.
        """
        source, at, least, number = self.spans(index, count, useful)
        total = int(number.sum())
        self.work.add(total)
        self.work.hold(total + total // 2)  # three numbers of four bytes for each
        # The count rises by the stride from corner to corner, and starts anew in each span.
        reached = np.full(total, self.run.stride, dtype=np.int32)
        heads = np.cumsum(number[:-1])
        if total:
            reached[0] = least[0]
            reached[heads] = least[1:] - (least[:-1] + (number[:-1] - 1) * self.run.stride)
        return (
            np.repeat(source, number),
            np.repeat(at, number),
            np.cumsum(reached, dtype=np.int32, out=reached),
        )

    def spans(
        self, index: AnyInts, count: AnyInts, useful: Bools
    ) -> tuple[SmallInts, SmallInts, SmallInts, SmallInts]:
        """Return the same as stretches of counts: source, index, least count, how many from it on.

        The counts of a stretch are multiples of the run's stride, or the end of the run.
        """
        ends = np.flatnonzero(useful)
        if not ends.size:
            index = index[:0]
        else:  # from beyond the last useful end nothing is reached
            self.last = int(ends[-1])
        found: list[tuple[SmallInts, SmallInts, SmallInts, SmallInts]] = []
        held = 0
        for sign, low, high in self.lines:
            for start in range(0, index.size, _BLOCK):
                part = np.arange(start, min(start + _BLOCK, index.size))
                cone = _Cone.open_at(part, index[part], count[part], sign)
                for passed in self._through(cone, low, high, useful):
                    found.append(self._counts_in(passed))
                    held += found[-1][0].size
                    self.work.hold(2 * held)
        if not found:
            empty = np.zeros(0, dtype=np.int32)
            return empty, empty, empty, empty
        source, at, least, number = (np.concatenate(part) for part in zip(*found, strict=True))
        return source, at, least, number

    def _through(self, cone: _Cone, low: Floats, high: Floats, useful: Bools) -> Iterator[_ConeAt]:
        """Yield the cones at all useful indices, gate by gate, until none is open any more.

        Many gates are looked at in one go, because numpy is slow at few numbers. The chunks grow,
        because most cones close within the first.
        """
        offset, chunk = 1, _CHUNK
        while cone.source.size:
            self.work.add(cone.source.size * chunk)
            distance = np.arange(offset, offset + chunk)
            at = cone.index[:, None] + distance
            outside = at > self.last
            at = np.minimum(at, self.size - 1)
            base = cone.base[:, None]
            up = (high[at] - base) / distance
            down = (low[at] - base) / distance
            up[outside], down[outside] = -np.inf, np.inf
            # What earlier chunks left of the cone goes on in the first gate of this one.
            up[:, 0] = np.minimum(up[:, 0], cone.steepest)
            down[:, 0] = np.maximum(down[:, 0], cone.flattest)
            np.minimum.accumulate(up, axis=1, out=up)
            np.maximum.accumulate(down, axis=1, out=down)
            is_open = down <= up + FLOAT_SLACK
            row, column = np.nonzero(is_open & useful[at])
            if row.size:
                yield _ConeAt(
                    source=cone.source[row],
                    distance=distance[column],
                    at=at[row, column],
                    base=base[row, 0],
                    flattest=down[row, column],
                    steepest=up[row, column],
                )
            alive = is_open[:, -1]
            cone = _Cone(
                source=cone.source[alive],
                index=cone.index[alive],
                base=cone.base[alive],
                flattest=down[alive, -1],
                steepest=up[alive, -1],
            )
            offset += chunk
            chunk = min(chunk * 2, _CHUNK_MOST)

    def _counts_in(self, cone: _ConeAt) -> tuple[SmallInts, SmallInts, SmallInts, SmallInts]:
        """Return the whole counts within some cones: source, index, least count, how many."""
        run, at = self.run, cone.at
        least = np.ceil(cone.base + cone.flattest * cone.distance - FLOAT_SLACK).astype(np.int64)
        most = np.floor(cone.base + cone.steepest * cone.distance + FLOAT_SLACK).astype(np.int64)
        is_end = at == run.length
        inner = np.minimum(at, run.length - 1)  # a corner stands inside its own gate
        corner = np.maximum(np.maximum(least, run.first), run.low[inner])
        most = np.where(is_end, most, np.minimum(most, run.high[inner]))
        least = np.where(is_end, least, -(-corner // run.stride) * run.stride)
        if run.end is not None:
            hit = is_end & (least <= run.end) & (most >= run.end)
            least = np.where(is_end, run.end, least)
            most = np.where(is_end, np.where(hit, run.end, run.end - 1), most)
        number = np.maximum((most - least) // run.stride + 1, 0)
        some = number > 0
        self.work.add(int(some.sum()))
        found = (cone.source[some], at[some], least[some], number[some])
        source, at, least, number = (part.astype(np.int32) for part in found)
        return source, at, least, number


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cone:
    """Lines from some corners: the slopes that pass all gates so far, all of shape (corners,).

    ``source`` is the number of the corner, ``index`` and ``base`` its sample and count. [counts]
    ``flattest`` and ``steepest`` bound the slopes. [counts per sample]
    """

    source: Ints
    index: AnyInts
    base: Floats
    flattest: Floats
    steepest: Floats

    @classmethod
    def open_at(cls, source: Ints, index: AnyInts, count: AnyInts, sign: int) -> _Cone:
        """Return the cones before any gate: all slopes, or all that rise or fall as ``sign`` says."""
        return cls(
            source=source,
            index=index,
            base=count.astype(np.float64),
            flattest=np.full(source.size, -np.inf if sign <= 0 else 0.0),
            steepest=np.full(source.size, np.inf if sign >= 0 else 0.0),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _ConeAt:
    """Cones at the indices ``at``, ``distance`` samples after their corners; else as `_Cone`."""

    source: Ints
    distance: Ints
    at: Ints
    base: Floats
    flattest: Floats
    steepest: Floats


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
    width = int(run.high.max()) // run.stride + 2
    size = run.length + 1
    if size * width > MOST_STATES:
        raise WorkSpent.Exhausted
    parent = np.full(size * width, -2, dtype=np.int32)
    frontier = (run.begins(starts) // run.stride).astype(np.int32)
    parent[frontier] = -1
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
        source, index, count = reach.corners(
            frontier // width, frontier % width * run.stride, useful
        )
        if run.end is not None:
            done = np.flatnonzero(index == run.length)
            if done.size:
                return _trace(parent, int(frontier[source[done[0]]]), width, run.stride)
        target = index * width + count // run.stride
        fresh = parent[target] == -2
        target, origin = target[fresh], frontier[source[fresh]]
        parent[target] = origin
        frontier = unique(target)
    return None


def unique(values: SmallInts) -> SmallInts:
    """Return the different values, rising; for the sizes here faster than numpy's own."""
    ordered = np.sort(values)
    different: SmallInts = ordered[np.diff(ordered, prepend=-1) != 0]
    return different


def _trace(parent: AnyInts, state: int, width: int, stride: int) -> Found:
    corners = []
    while state >= 0:
        corners.append((state // width, state % width * stride))
        state = int(parent[state])
    return Found(tuple(reversed(corners)))
