"""The second objective: of all tables that keep an error, the one closest to the plan in the mean.

Least squares over the same corners and pieces that the search allows (Bellman & Roth, "Curve fitting
by segmented straight lines", Journal of the American Statistical Association 64:1079–1084, 1969;
from memory), with corners on the controller's grid. The distance is measured in counts, weighted by
the light that one count is worth there, so that it stands for light.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photoperiod.table.bands import Ladder
from photoperiod.table.search import MOST_STATES, Found, Reach, Run, WorkSpent, pieces_needed

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Pieces that may be looked at: a bound on memory and time.
MOST_PIECES = 1_500_000

#: Held rows beyond these bring a lamp no nearer to its plan than anyone sees.
MOST_HELD = 64

#: When so many more pieces brought nothing, no more are tried.
IDLE_PIECES = 6


def closest(run: Run, starts: Sequence[int], most_pieces: int, ladder: Ladder, wanted: Floats,
            work: WorkSpent) -> list[tuple[float, Found]]:  # fmt: skip
    """Return for each number of pieces the path closest to the plan, as (cost, path).

    Parameters
    ----------
    run : Run
        The gates.
    starts : sequence of int
        Counts that may stand at index 0.
    most_pieces : int
        No path has more pieces.
    ladder : Ladder
        Light of every count.
    wanted : ndarray, shape (length,)
        The reachable plan at the samples of the run. [fraction of full]
    work : WorkSpent
        Bounds the work.

    Returns
    -------
    list of (float, Found)
        Rising in pieces, falling in cost; empty if there is no path.
    """
    width = int(run.high.max()) + 2
    if (run.length + 1) * width > MOST_STATES:
        raise WorkSpent.Exhausted
    begin = run.begins(starts)
    edges = _edges(run, begin, most_pieces, width, work)
    if edges is None:
        return []
    source, target = edges
    cost_of = _Cost(run, ladder, wanted)
    edge_cost = cost_of(source // width, source % width, target // width, target % width)
    order = np.lexsort((source, target))
    source, target, edge_cost = source[order], target[order], edge_cost[order]
    heads = np.flatnonzero(np.diff(np.concatenate(([-1], target))) != 0)
    states = np.unique(np.concatenate((begin, source, target)))
    from_state = np.searchsorted(states, source)
    to_state = np.searchsorted(states, target[heads])
    best = np.full(states.size, np.inf)
    best[np.searchsorted(states, begin)] = 0.0
    layers = [best]
    results: list[tuple[float, Found]] = []
    end_states, end_cost = _ends(run, states, width, cost_of)
    for pieces in range(1, most_pieces + 1):
        if results and pieces > results[-1][1].pieces + IDLE_PIECES:
            break
        # After this many pieces the end may have been reached.
        if run.end is None:
            total = layers[-1][end_states] + end_cost
            _keep(results, total, end_states, layers, states, source, target, edge_cost, heads,
                  from_state, to_state, width, closing=0)  # fmt: skip
        if pieces == most_pieces and run.end is None:
            break
        following = np.full(states.size, np.inf)
        if heads.size:
            values = layers[-1][from_state] + edge_cost
            following[to_state] = np.minimum.reduceat(values, heads)
        layers.append(following)
        if run.end is not None:
            total = following[end_states]
            _keep(results, total, end_states, layers, states, source, target, edge_cost, heads,
                  from_state, to_state, width, closing=1)  # fmt: skip
    return results


def closest_held(run: Run, most_pieces: int, ladder: Ladder,
                 wanted: Floats) -> list[tuple[float, Found]]:  # fmt: skip
    """Return the same for levels that are held from row to row: cost and path by number of rows.

    Parameters
    ----------
    run, most_pieces, ladder, wanted
        As for `closest`.
    """
    most_pieces = min(most_pieces, MOST_HELD)
    stops = [*range(run.grid, run.length, run.grid), run.length]
    place = {0: 0} | {stop: number + 1 for number, stop in enumerate(stops)}
    sums = np.concatenate(([0.0], np.cumsum(wanted)))
    squares = np.concatenate(([0.0], np.cumsum(wanted**2)))
    best = np.full((most_pieces + 1, len(place)), np.inf)
    best[0, 0] = 0.0
    parent = np.zeros((most_pieces + 1, len(place), 2), dtype=np.int64)
    for begin, number in list(place.items())[:-1]:
        if not np.isfinite(best[:, number]).any():
            continue
        low = np.maximum.accumulate(np.maximum(run.low[begin:], run.first))
        high = np.minimum.accumulate(run.high[begin:])
        open_s = int(np.argmin(np.append(low <= high, False)))
        ends = np.array([stop for stop in stops if begin < stop <= begin + open_s], dtype=np.int64)
        if not ends.size:
            continue
        length = ends - begin
        mean = (sums[ends] - sums[begin]) / length
        count = np.searchsorted(0.5 * (ladder.light[1:] + ladder.light[:-1]), mean)
        count = np.clip(count, low[length - 1], high[length - 1])
        light = ladder.light[count]
        cost = squares[ends] - squares[begin] - 2 * light * (sums[ends] - sums[begin])
        cost = np.maximum(cost + length * light**2, 0.0)
        into = np.array([place[int(end)] for end in ends])
        total = best[:-1, number][:, None] + cost[None, :]
        row, column = np.nonzero(total < best[1:, into])
        best[row + 1, into[column]] = total[row, column]
        parent[row + 1, into[column], 0] = number
        parent[row + 1, into[column], 1] = count[column]
    results: list[tuple[float, Found]] = []
    starts = list(place)
    for pieces in range(1, most_pieces + 1):
        cost_here = float(best[pieces, -1])
        if np.isfinite(cost_here) and (not results or cost_here < results[-1][0] * (1 - 1e-9)):
            corners, at = [], len(place) - 1
            for layer in range(pieces, 0, -1):
                at, count_here = (int(value) for value in parent[layer, at])
                corners.append((starts[at], count_here))
            results.append((cost_here, Found(tuple(reversed(corners)))))
    return results


def _edges(run: Run, begin: Ints, most_pieces: int, width: int,
           work: WorkSpent) -> tuple[Ints, Ints] | None:  # fmt: skip
    """Return all pieces on some path of at most so many pieces, as (source, target)."""
    needed = pieces_needed(run)
    if (run.low > run.high).any() or needed[0] > most_pieces or not begin.size:
        return None
    places = run.places()
    reach = Reach(run, work)
    seen = np.zeros((run.length + 1) * width, dtype=bool)
    seen[begin] = True
    frontier = begin
    found: list[tuple[Ints, Ints]] = []
    held = 0
    for pieces in range(1, most_pieces + 1):
        useful = (needed <= most_pieces - pieces) & places
        inner = frontier[frontier // width < run.length]
        if not inner.size:
            break
        number, index, count = reach.corners(inner // width, inner % width, useful)
        held += number.size
        if held > MOST_PIECES:
            raise WorkSpent.Exhausted
        target = index * width + count
        found.append((inner[number], target))
        fresh = np.unique(target[~seen[target]])
        seen[fresh] = True
        frontier = fresh
    if not found:
        empty = np.zeros(0, dtype=np.int64)
        return empty, empty
    return np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])


class _Cost:
    """Weighted squares between a line and the plan, by prefix sums."""

    def __init__(self, run: Run, ladder: Ladder, wanted: Floats) -> None:
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

    def __call__(self, i: Ints, a: Ints, j: Ints, b: Ints) -> Floats:
        """Return the cost of lines from (i, a) to (j, b), the sample at j left out."""
        w0, w1, w2, y0, y1, y2 = (s[j] - s[i] for s in self.sums)
        slope = (b - a) / (j - i)
        along = a * (w1 - i * w0) - (y1 - i * y0)
        square = w2 - 2.0 * i * w1 + (i * i) * w0
        cost = a * a * w0 - 2.0 * a * y0 + y2 + 2.0 * slope * along + slope * slope * square
        return np.asarray(np.maximum(cost, 0.0))


def _ends(run: Run, states: Ints, width: int, cost_of: _Cost) -> tuple[Ints, Floats]:
    """Return which states end a path, and what it still costs from there."""
    index, count = states // width, states % width
    if run.end is not None:
        at_end = np.flatnonzero(index == run.length)
        return at_end, np.zeros(at_end.size)
    holds = np.flatnonzero(run.holds_to_end(index, count))
    stop = np.full(holds.size, run.length)
    return holds, cost_of(index[holds], count[holds], stop, count[holds])


def _keep(results: list[tuple[float, Found]], total: Floats, end_states: Ints,
          layers: list[Floats], states: Ints, source: Ints, target: Ints, edge_cost: Floats,
          heads: Ints, from_state: Ints, to_state: Ints, width: int, closing: int) -> None:  # fmt: skip
    """Add the path that is best with this many pieces, if it is better than with fewer."""
    if not total.size:
        return
    at = int(total.argmin())
    cost = float(total[at])
    if not np.isfinite(cost) or (results and cost >= results[-1][0] * (1.0 - 1e-9)):
        return
    state = int(end_states[at])
    path = [state]
    for layer in range(len(layers) - 1, 0, -1):
        head = int(np.searchsorted(to_state, state))
        stop = int(heads[head + 1]) if head + 1 < heads.size else source.size
        part = slice(int(heads[head]), stop)
        values = layers[layer - 1][from_state[part]] + edge_cost[part]
        state = int(from_state[part][int(values.argmin())])
        path.append(state)
    corners = [(int(states[s] // width), int(states[s] % width)) for s in reversed(path)]
    results.append((cost, Found(tuple(corners[: len(corners) - closing]))))
