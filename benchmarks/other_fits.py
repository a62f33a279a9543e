"""Other ways than the exact fit to choose rows of one channel; `setpoints.py` holds it against them.

``simplify``
    `photoperiod.setpoints.problem.simplify`: rows one by one where the table is farthest from the plan.
``rdp``
    Ramer-Douglas-Peucker of the package `simplification` over the counts nearest to the plan, once a
    minute. Time is stretched so far that its distance is the vertical one. Its tolerance is bisected
    until it keeps as many rows as may be.
``squares``
    A plain dynamic programme in one vectorised pass (Bellman's recursion): rows stand on the curve,
    that is at the count nearest to the plan, at any minutes; least is the sum of squares, at the
    minutes, between the unrounded line and that curve, weighted by the light that a count is worth.
``worst``
    The same recursion for the least worst error of light, of lines rounded as the controller does.
    No table whose rows stand on the curve is better; what the exact fit gains over it comes from
    corners beside the curve. Its time is not compared: its costs take far longer than ``squares``.
``pwlf``
    `fitfast` of the package `pwlf`: least squares over real breaks; of a few cases only. Its breaks
    are rounded to minutes, the line through them is fitted again and rounded to counts. A heavy last
    point holds the line to the row that switches off.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.drive.grid import Row, TimeGrid
from photoperiod.drive.replay import play
from photoperiod.setpoints.problem import ChannelProblem, Target, simplify

Rows = tuple[Row, ...]

MINUTE = 60
DAY = 24 * 60 * MINUTE

TIMES = TimeGrid(step_s=MINUTE, between="line", after_last_row="wrap")

#: A minute is as long as this many counts, so that distances to a line are vertical.
STRETCH = 1e6

#: Least squares see the row that switches off as so many points.
HEAVY = 1000.0


@dataclass(frozen=True)
class Run:
    """The lit run of a channel at its minutes; the last of them is the row that switches off.

    ``counts`` are nearest to the plan, and 0 at the end; ``least`` and ``most`` are the light that is
    no error, at all minutes but the last.
    """

    draft: ChannelProblem
    start_s: int
    counts: Ints
    least: Floats
    most: Floats

    @classmethod
    def of(cls, target: Target) -> Run:
        """Return the only lit run of a channel."""
        draft = ChannelProblem(target, TIMES)
        (light,), (dark,) = draft.switchings()
        seconds = np.arange(light, dark if dark > light else dark + DAY, MINUTE) % DAY
        counts = np.append(draft.best_counts[seconds], 0)
        return cls(draft, int(light), counts, draft.least[seconds], draft.most[seconds])

    def second(self, minute: int) -> int:
        """Return the second of the day of a minute of the run."""
        return (self.start_s + int(minute) * MINUTE) % DAY

    def on_curve(self, minutes: Iterable[int]) -> Rows:
        """Return the table with rows on the curve at some minutes, both ends among them."""
        return self.draft.rows(sorted(self.second(minute) for minute in minutes))

    def beside_curve(self, minutes: Ints, counts: Ints) -> Rows:
        """Return the table with given counts at some minutes; the last one switches off."""
        rows = [
            self.draft.row(self.second(minute), int(count), is_lit=True)
            for minute, count in zip(minutes[:-1], counts[:-1], strict=True)
        ]
        return tuple(sorted([*rows, self.draft.row(self.second(minutes[-1]), 0, is_lit=False)]))

    @cached_property
    def worst_costs(self) -> Floats:
        """The costs of lines for `by_worst`, the same for any number of rows."""
        return worst_costs(self)


def error_of(draft: ChannelProblem, rows: Rows) -> float:
    """Return the worst error of a table at the samples. [fraction of full]"""
    replay = play(rows, TIMES, draft.path.levels, draft.path)
    return float(draft.errors(replay)[::MINUTE].max())


# The other ways to choose rows


def by_simplify(run: Run, rows: int) -> Rows:
    """Line simplification of our own."""
    return run.draft.rows(simplify([run.draft], rows))


def by_rdp(run: Run, rows: int) -> Rows:
    """Ramer-Douglas-Peucker: the least tolerance that keeps no more than the rows."""
    try:
        from simplification.cutil import simplify_coords_idx
    except ImportError:
        raise needs("simplification") from None
    points = np.column_stack((np.arange(run.counts.size) * STRETCH, run.counts.astype(float)))
    low, high = 1e-9, float(run.counts.max()) + 1.0
    kept = simplify_coords_idx(points, low)
    if len(kept) > rows:
        kept = simplify_coords_idx(points, high)
        for _ in range(40):
            middle = (low + high) / 2
            found = simplify_coords_idx(points, middle)
            if len(found) <= rows:
                kept, high = found, middle
            else:
                low = middle
    return run.on_curve(kept)


def by_squares(run: Run, rows: int) -> Rows:
    """The plain dynamic programme for least squares."""
    return run.on_curve(least_path(squares_costs(run), rows - 1, np.add))


def by_worst(run: Run, rows: int) -> Rows:
    """The plain dynamic programme for the least worst error."""
    return run.on_curve(least_path(run.worst_costs, rows - 1, np.maximum))


def by_pwlf(run: Run, rows: int) -> Rows:
    """Least squares over real breaks, rounded to the grid."""
    try:
        import pwlf
    except ImportError:
        raise needs("pwlf") from None
    x, y = np.arange(run.counts.size, dtype=float), run.counts.astype(float)
    weights = np.where(x == x[-1], HEAVY, 1.0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of matrices that are badly conditioned
        line = pwlf.PiecewiseLinFit(x, y, weights=weights, seed=1)
        breaks = np.unique(np.rint(line.fitfast(rows - 1)))
        line.fit_with_breaks(breaks)
        counts = np.rint(line.predict(breaks)).astype(np.int64)
    path = run.draft.path
    counts = np.clip(counts, path.floor_count, path.top_count)
    return run.beside_curve(breaks.astype(np.int64), counts)


#: All of them, by name.
OTHERS: dict[str, Callable[[Run, int], Rows]] = {
    "simplify": by_simplify,
    "rdp": by_rdp,
    "squares": by_squares,
    "worst": by_worst,
    "pwlf": by_pwlf,
}


def needs(package: str) -> SystemExit:
    """Return what to say if a package is not there."""
    return SystemExit(f"this needs the package {package}: pip install '.[bench]'")


def squares_costs(run: Run) -> Floats:
    """Return the weighted squares between the curve and lines from row to column, by prefix sums."""
    size = run.counts.size
    x, y = np.arange(size - 1.0), run.counts[:-1].astype(float)
    worth = np.maximum(np.gradient(run.draft.path.burning_light)[run.counts[:-1]], 1e-6) ** 2
    moments = (worth, worth * x, worth * x**2, worth * y, worth * y * x, worth * y**2)
    sums = [np.concatenate(([0.0], np.cumsum(moment))) for moment in moments]
    w0, w1, w2, y0, y1, y2 = (total[None, :] - total[:, None] for total in sums)
    begin, value = np.arange(size)[:, None], run.counts[:, None].astype(float)
    span = np.arange(size)[None, :] - begin
    slope = (run.counts[None, :] - value) / np.maximum(span, 1)
    along = value * (w1 - begin * w0) - (y1 - begin * y0)
    bent = w2 - 2 * begin * w1 + begin**2 * w0
    cost = value**2 * w0 - 2 * value * y0 + y2 + 2 * slope * along + slope**2 * bent
    return np.where(span > 0, np.maximum(cost, 0.0), np.inf)


def worst_costs(run: Run) -> Floats:
    """Return the worst error of light of lines from row to column, rounded half up."""
    size = run.counts.size
    ladder = run.draft.path.burning_light
    windows = np.lib.stride_tricks.sliding_window_view
    costs = np.full((size, size), np.inf)
    for span in range(1, size):
        begin = run.counts[:-span, None]
        change = run.counts[span:, None] - begin
        light = ladder[begin + (2 * change * np.arange(span) + span) // (2 * span)]
        outside = np.maximum(windows(run.least, span) - light, light - windows(run.most, span))
        at = np.arange(size - span)
        costs[at, at + span] = np.maximum(outside.max(axis=1), 0.0)
    return costs


def least_path(costs: Floats, pieces: int, join: np.ufunc) -> list[int]:
    """Return the minutes of the cheapest path from the first to the last, of so many pieces at most.

    ``join`` adds the cost of one more piece to that of the pieces before it.
    """
    best = np.full(costs.shape[0], np.inf)
    best[0] = 0.0
    parents: list[Ints] = []
    totals: list[float] = []
    for _ in range(min(pieces, costs.shape[0] - 1)):
        total = join(best[:, None], costs)
        parents.append(total.argmin(axis=0))
        best = np.take_along_axis(total, parents[-1][None, :], axis=0)[0]
        totals.append(float(best[-1]))
    minutes = [costs.shape[0] - 1]
    for parent in reversed(parents[: int(np.argmin(totals)) + 1]):
        minutes.append(int(parent[minutes[-1]]))
    return minutes[::-1]
