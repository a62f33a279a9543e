"""The second objective: of all tables that keep an error, the one closest to the plan in the mean.

Least squares over the same corners and pieces that the search allows (Bellman & Roth, "Curve fitting
by segmented straight lines", Journal of the American Statistical Association 64:1079–1084, 1969;
from memory), with corners on the controller's grid. The distance is measured in counts, weighted by
the light that one count is worth there, so that it stands for light.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from types import ModuleType
from typing import Protocol

import numpy as np

from photoperiod.arrays import AnyInts, Floats, Ints, SmallInts
from photoperiod.kernel import paths, which
from photoperiod.setpoints.bound import pieces_needed
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.segments import MOST_STATES, Found, marked, width_of
from photoperiod.setpoints.tolerance import Ladder
from photoperiod.setpoints.work import WorkSpent

#: Pieces that may be looked at: a bound on memory and time.
MOST_PIECES = 2_000_000

#: Costs of states by number of pieces that may be held: a bound on memory.
MOST_COSTS = 30_000_000

#: Pieces whose costs are worked out at once, so that few numbers are held.
BLOCK = 100_000

#: When so many more pieces brought nothing, no more are tried.
IDLE_PIECES = 6

#: Costs of pieces are rounded to 0.7 to 1.4 times this share of the square of the plan's peak: an error of
#: less than 1/3,000 of the peak at one single sample. What sums that cancel leave of themselves is less by
#: far, so that ways that cost the same, such as one and its mirror image, do so to the last bit on every
#: processor.
COST_STEP = 2.0**-24


class Pieces:
    """All pieces of a run on some path of at most so many of them.

    Parameters
    ----------
    run : Corridor
        The gates.
    starts : sequence of int
        Counts that may stand at index 0.
    most_pieces : int
        No path has more pieces.
    ladder : Ladder
        Light of every count.
    work : WorkSpent
        Bounds the work.
    """

    def __init__(
        self,
        run: Corridor,
        starts: Sequence[int],
        most_pieces: int,
        ladder: Ladder,
        work: WorkSpent,
    ) -> None:
        self.run, self.most, self.ladder = run, most_pieces, ladder
        self.width = width_of(run)
        if (run.length + 1) * self.width > MOST_STATES:
            raise WorkSpent.Exhausted
        self.begin = (run.begins(starts) // run.stride).astype(np.int32)
        needed = pieces_needed(run)
        if (run.low > run.high).any() or needed[0] > most_pieces:
            self.begin = self.begin[:0]
        kernel = which.compiled()
        self.graph: Graph
        if kernel is None:
            self.graph = _NumpyGraph(run, self.begin, most_pieces, self.width, needed, work)
        else:
            self.graph = _CompiledGraph(
                kernel, run, self.begin, most_pieces, self.width, needed, work
            )

        if self.graph.states.size * (most_pieces + 1) > MOST_COSTS:
            raise WorkSpent.Exhausted

    def closest(self, wanted: Floats) -> list[tuple[float, Found]]:
        """Return for each number of pieces the path closest to a plan, as (cost, path).

        Parameters
        ----------
        wanted : ndarray, shape (length,)
            The plan at the samples of the run. [fraction of full]

        Returns
        -------
        list of (float, Found)
            Rising in pieces, falling in cost; empty if there is no path.
        """
        states = self.graph.states
        if not states.size:
            return []
        cost_of = Cost(self.run, self.ladder, wanted)
        end_states, end_cost = _ends(self.run, states, self.width, cost_of)
        if not end_states.size:
            return []
        self.graph.begin(cost_of)
        closing = int(self.run.end is not None)  # one piece more, which no corner ends
        results: list[tuple[float, Found]] = []
        for pieces in range(1, self.most + 1):
            if results and pieces > results[-1][1].pieces + IDLE_PIECES:
                break
            total = self.graph.layer(pieces - 1 + closing)[end_states] + end_cost
            at = int(total.argmin())
            cost = float(total[at])
            if np.isfinite(cost) and (not results or cost < results[-1][0] * (1.0 - 1e-9)):
                path = self.graph.trace(int(end_states[at]), pieces - 1 + closing)
                corners = [divmod(int(state), self.width) for state in path]
                corners = [(index, number * self.run.stride) for index, number in corners]
                results.append((cost, Found(tuple(corners[: len(corners) - closing]))))
        return results


class Graph(Protocol):
    """All pieces of a run on some path of at most so many of them, from state to state.

    ``states`` are the states on such paths, rising.
    """

    states: SmallInts

    def begin(self, cost_of: Cost) -> None:
        """Forget all layers: from now on pieces have other costs."""
        ...

    def layer(self, pieces: int) -> Floats:
        """Return the least cost of coming to each state in exactly so many pieces."""
        ...

    def trace(self, number: int, pieces: int) -> SmallInts:
        """Return the states that lead to one, given by its number, in so many pieces.

        Of two ways that cost the same it is the one from the lower state.
        """
        ...


class _CompiledGraph:
    """The graph by the compiled kernel; parameters as for `_NumpyGraph`."""

    def __init__(self, kernel: ModuleType, run: Corridor, begin: SmallInts, most_pieces: int,
                 width: int, needed: Ints, work: WorkSpent) -> None:  # fmt: skip
        self.kernel, self.start = kernel, begin
        self.layers = most_pieces + 1
        search = paths.Search(gates=run.gates(), needed=needed, places=run.places(), width=width)
        status, spent, self.graph = paths.Graph.of(
            kernel, search, begin, most_pieces, MOST_PIECES, work.left()
        )
        work.note(spent, is_too_much=status == paths.Status.EXHAUSTED)
        self.states = self.graph.states

    def begin(self, cost_of: Cost) -> None:
        """Work out all layers at once."""
        self.sums, self.coarse = tuple(cost_of.sums), cost_of.coarse
        self.best = self.graph.costs(self.kernel, self.start, self.layers, self.sums, self.coarse)

    def layer(self, pieces: int) -> Floats:
        """Return one of them."""
        return self.best[:, pieces]

    def trace(self, number: int, pieces: int) -> SmallInts:
        """Return the states that lead to one."""
        return self.graph.trace(self.kernel, self.best, number, pieces, self.sums, self.coarse)


class _NumpyGraph:
    """The graph by numpy.

    Parameters
    ----------
    run : Corridor
        The gates.
    begin : ndarray
        States that may stand at index 0.
    most_pieces : int
        No path has more pieces.
    width : int
        States of a sample.
    needed : ndarray, shape (length + 1,)
        A lower bound on the pieces from each place.
    work : WorkSpent
        Bounds the work.
    """

    def __init__(self, run: Corridor, begin: SmallInts, most_pieces: int, width: int, needed: Ints,
                 work: WorkSpent) -> None:  # fmt: skip
        self.run, self.width, self.start = run, width, begin
        source, target = _edges(run, begin, most_pieces, width, needed, work)
        # Sorted by target and then by source, as one number: faster than by two.
        size = (run.length + 1) * width
        both = target * np.int64(size) + source
        both.sort()
        self.target, self.source = np.divmod(both, size)
        self.heads = np.flatnonzero(np.diff(self.target, prepend=-1))
        seen = np.zeros(size, dtype=bool)
        for states in (begin, source, target):
            seen[states] = True
        self.states = np.flatnonzero(seen).astype(np.int32)
        number = np.cumsum(seen, dtype=np.int32) - np.int32(1)
        self.first = number[begin]
        self.from_state, self.to_state = number[self.source], number[self.target[self.heads]]

    def begin(self, cost_of: Cost) -> None:
        """Work out the costs of all pieces."""
        width, stride = self.width, self.run.stride
        self.edge_cost = np.empty(self.source.size)
        for start in range(0, self.source.size, BLOCK):
            part = slice(start, start + BLOCK)
            source, target = self.source[part], self.target[part]
            self.edge_cost[part] = cost_of(
                source // width, source % width * stride, target // width, target % width * stride
            )
        best = np.full(self.states.size, np.inf)
        best[self.first] = 0.0
        self.layers = [best]

    def layer(self, pieces: int) -> Floats:
        """Return a layer, and work it out from the one before it if that was not done yet."""
        while pieces >= len(self.layers):
            following = np.full(self.states.size, np.inf)
            if self.heads.size:
                values = self.layers[-1][self.from_state] + self.edge_cost
                following[self.to_state] = np.minimum.reduceat(values, self.heads)
            self.layers.append(following)
        return self.layers[pieces]

    def trace(self, number: int, pieces: int) -> SmallInts:
        """Return the states that lead to one."""
        path = [number]
        for layer in reversed(self.layers[:pieces]):
            head = int(np.searchsorted(self.to_state, number))
            stop = int(self.heads[head + 1]) if head + 1 < self.heads.size else self.source.size
            part = slice(int(self.heads[head]), stop)
            values = layer[self.from_state[part]] + self.edge_cost[part]
            number = int(self.from_state[part][int(values.argmin())])
            path.append(number)
        return self.states[path[::-1]]


def _edges(run: Corridor, begin: SmallInts, most_pieces: int, width: int, needed: Ints,
           work: WorkSpent) -> tuple[SmallInts, SmallInts]:  # fmt: skip
    """Return all pieces on some path of at most so many pieces, as (source, target)."""
    from photoperiod.setpoints.cones import Reach  # the compiled kernel has its own

    places = run.places()
    reach = Reach(run, work)
    seen = np.zeros((run.length + 1) * width, dtype=bool)
    seen[begin] = True
    flags = np.zeros_like(seen)
    frontier = begin
    found: list[tuple[SmallInts, SmallInts]] = []
    held = 0
    for pieces in range(1, most_pieces + 1):
        useful = (needed <= most_pieces - pieces) & places
        inner = frontier[frontier // width < run.length]
        if not inner.size:
            break
        number, index, count = reach.corners(inner // width, inner % width * run.stride, useful)
        held += number.size
        if held > MOST_PIECES:
            raise WorkSpent.Exhausted
        target = index * width + count // run.stride
        found.append((inner[number], target))
        fresh = marked(flags, target[~seen[target]])
        seen[fresh] = True
        frontier = fresh
    if not found:
        empty = np.zeros(0, dtype=np.int32)
        return empty, empty
    return np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])


class Cost:
    """Weighted squares between a line and the plan, by prefix sums, rounded.

    ``coarse`` is what rounds them: a double has 52 bits behind its first, so that added to it a cost keeps
    what is a multiple of the step.
    """

    def __init__(self, run: Corridor, ladder: Ladder, wanted: Floats) -> None:
        counts = np.arange(ladder.light.size, dtype=np.float64)
        plan = np.interp(wanted, ladder.light, counts)
        whole = np.clip(plan.astype(np.int64), 0, max(ladder.light.size - 2, 0))
        upper = np.minimum(whole + 1, ladder.light.size - 1)
        worth = (ladder.light[upper] - ladder.light[whole]) ** 2
        weight = np.maximum(worth, 1e-6 * max(float(worth.max()), 1e-12))
        place = np.arange(run.length, dtype=np.float64)
        terms = (weight, weight * place, weight * place**2, weight * plan,
                 weight * plan * place, weight * plan**2)  # fmt: skip
        self.sums = [np.concatenate(([0.0], np.cumsum(term))) for term in terms]
        self.coarse = _rounding_to(float(wanted.max(initial=0.0)))

    def __call__(self, i: AnyInts, a: AnyInts, j: AnyInts, b: AnyInts) -> Floats:
        """Return the cost of lines from (i, a) to (j, b), the sample at j left out."""
        i, a = i.astype(np.int64), a.astype(np.int64)  # for their squares
        w0, w1, w2, y0, y1, y2 = (s[j] - s[i] for s in self.sums)
        slope = (b - a) / (j - i)
        along = a * (w1 - i * w0) - (y1 - i * y0)
        square = w2 - 2.0 * i * w1 + (i * i) * w0
        cost = a * a * w0 - 2.0 * a * y0 + y2 + 2.0 * slope * along + slope * slope * square
        return np.asarray((np.maximum(cost, 0.0) + self.coarse) - self.coarse)


def _rounding_to(peak: float) -> float:
    """Return what rounds costs where a plan has some peak, as `Cost` has it."""
    # A power of two, which makes rounding exact; the factor keeps it the same about usual peaks.
    exponent = math.frexp(max(1.4 * peak * peak, 1e-12))[1]
    return math.ldexp(1.5 * 2.0**51 * COST_STEP, exponent)


def _ends(run: Corridor, states: SmallInts, width: int, cost_of: Cost) -> tuple[Ints, Floats]:
    """Return which states end a path, and what it still costs from there."""
    index, count = states // width, states % width * run.stride
    if run.end is not None:
        at_end = np.flatnonzero(index == run.length)
        return at_end, np.zeros(at_end.size)
    holds = np.flatnonzero(run.holds_to_end(index, count))
    stop = np.full(holds.size, run.length)
    return holds, cost_of(index[holds], count[holds], stop, count[holds])
