"""The second objective: of all tables that keep an error, the one closest to the plan in the mean.

Least squares over the same corners and pieces that the search allows (Bellman & Roth, "Curve fitting
by segmented straight lines", Journal of the American Statistical Association 64:1079–1084, 1969;
from memory), with corners on the controller's grid. The distance is measured in counts, weighted by
the light that one count is worth there, so that it stands for light.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from photoperiod.arrays import AnyInts, Floats, Ints, SmallInts
from photoperiod.setpoints.segments import (
    MOST_STATES,
    Corridor,
    Found,
    Reach,
    pieces_needed,
    unique,
)
from photoperiod.setpoints.tolerance import Ladder
from photoperiod.setpoints.work import WorkSpent

#: Pieces that may be looked at: a bound on memory and time.
MOST_PIECES = 2_000_000

#: Pieces whose costs are worked out at once, so that few numbers are held.
BLOCK = 100_000

#: When so many more pieces brought nothing, no more are tried.
IDLE_PIECES = 6


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
        self.width = int(run.high.max()) // run.stride + 2
        if (run.length + 1) * self.width > MOST_STATES:
            raise WorkSpent.Exhausted
        self.begin = (run.begins(starts) // run.stride).astype(np.int32)
        source, target = _edges(run, self.begin, most_pieces, self.width, work)
        order = np.lexsort((source, target))
        self.source, self.target = source[order], target[order]
        self.heads = np.flatnonzero(np.diff(np.concatenate(([-1], self.target))) != 0)
        self.states = unique(np.concatenate((self.begin, source, target)))
        self.from_state = np.searchsorted(self.states, self.source)
        self.to_state = np.searchsorted(self.states, self.target[self.heads])

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
        if not self.states.size:
            return []
        width, stride, states = self.width, self.run.stride, self.states
        cost_of = Cost(self.run, self.ladder, wanted)
        edge_cost = np.empty(self.source.size)
        for start in range(0, self.source.size, BLOCK):
            part = slice(start, start + BLOCK)
            source, target = self.source[part], self.target[part]
            edge_cost[part] = cost_of(
                source // width, source % width * stride, target // width, target % width * stride
            )
        best = np.full(states.size, np.inf)
        best[np.searchsorted(states, self.begin)] = 0.0
        layers = [best]
        end_states, end_cost = _ends(self.run, states, width, cost_of)
        closing = int(self.run.end is not None)  # one piece more, which no corner ends
        results: list[tuple[float, Found]] = []
        for pieces in range(1, self.most + 1):
            if results and pieces > results[-1][1].pieces + IDLE_PIECES:
                break
            if pieces > 1 or closing:
                following = np.full(states.size, np.inf)
                if self.heads.size:
                    values = layers[-1][self.from_state] + edge_cost
                    following[self.to_state] = np.minimum.reduceat(values, self.heads)
                layers.append(following)
            total = layers[-1][end_states] + end_cost
            if not total.size:
                continue
            at = int(total.argmin())
            cost = float(total[at])
            if np.isfinite(cost) and (not results or cost < results[-1][0] * (1.0 - 1e-9)):
                corners = self._trace(int(end_states[at]), layers, edge_cost)
                results.append((cost, Found(tuple(corners[: len(corners) - closing]))))
        return results

    def _trace(self, state: int, layers: list[Floats], edge_cost: Floats) -> list[tuple[int, int]]:
        """Return the corners that lead to a state in the last layer."""
        path = [state]
        for layer in reversed(layers[:-1]):
            head = int(np.searchsorted(self.to_state, state))
            stop = int(self.heads[head + 1]) if head + 1 < self.heads.size else self.source.size
            part = slice(int(self.heads[head]), stop)
            values = layer[self.from_state[part]] + edge_cost[part]
            state = int(self.from_state[part][int(values.argmin())])
            path.append(state)
        width, stride = self.width, self.run.stride
        found = [divmod(int(self.states[s]), width) for s in reversed(path)]
        return [(index, number * stride) for index, number in found]


def _edges(run: Corridor, begin: SmallInts, most_pieces: int, width: int,
           work: WorkSpent) -> tuple[SmallInts, SmallInts]:  # fmt: skip
    """Return all pieces on some path of at most so many pieces, as (source, target)."""
    needed = pieces_needed(run)
    if (run.low > run.high).any() or needed[0] > most_pieces:
        begin = begin[:0]
    places = run.places()
    reach = Reach(run, work)
    seen = np.zeros((run.length + 1) * width, dtype=bool)
    seen[begin] = True
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
        fresh = unique(target[~seen[target]])
        seen[fresh] = True
        frontier = fresh
    if not found:
        empty = np.zeros(0, dtype=np.int32)
        return empty, empty
    return np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])


class Cost:
    """Weighted squares between a line and the plan, by prefix sums."""

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

    def __call__(self, i: AnyInts, a: AnyInts, j: AnyInts, b: AnyInts) -> Floats:
        """Return the cost of lines from (i, a) to (j, b), the sample at j left out."""
        i, a = i.astype(np.int64), a.astype(np.int64)  # for their squares
        w0, w1, w2, y0, y1, y2 = (s[j] - s[i] for s in self.sums)
        slope = (b - a) / (j - i)
        along = a * (w1 - i * w0) - (y1 - i * y0)
        square = w2 - 2.0 * i * w1 + (i * i) * w0
        cost = a * a * w0 - 2.0 * a * y0 + y2 + 2.0 * slope * along + slope * slope * square
        return np.asarray(np.maximum(cost, 0.0))


def _ends(run: Corridor, states: SmallInts, width: int, cost_of: Cost) -> tuple[Ints, Floats]:
    """Return which states end a path, and what it still costs from there."""
    index, count = states // width, states % width * run.stride
    if run.end is not None:
        at_end = np.flatnonzero(index == run.length)
        return at_end, np.zeros(at_end.size)
    holds = np.flatnonzero(run.holds_to_end(index, count))
    stop = np.full(holds.size, run.length)
    return holds, cost_of(index[holds], count[holds], stop, count[holds])
