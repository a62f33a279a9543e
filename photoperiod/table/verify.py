"""Verify a certificate without any code of the fit: measure the table, and look for a better one.

The measure is written out here anew, from `docs/setpoints.md`; the table is played by the replay,
which is the specification of the player. The search is plain: every corner that any piece reaches,
no pruning, one corner after the other. It takes seconds where the fit takes milliseconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photoperiod.table.grid import Row, TimeGrid
from photoperiod.table.path import LightPath
from photoperiod.table.replay import play
from photoperiod.units import SECONDS_PER_DAY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Errors of light that differ by less are the same [fraction of full].
SLACK = 1e-9

#: A bound may be this much above what is refuted here: the resolution of the proof.
RESOLUTION = 2e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What a certificate claims of a table.

    Parameters
    ----------
    rows : sequence of Row
        The table.
    row_limit : int
        Rows the controller holds.
    error, bound : float
        Worst error of the table at the samples, and what no table within the rows has less than.
        [fraction of full]
    sample_s, tolerance_s : int
        Distance of samples and tolerance in time. [s]
    """

    rows: Sequence[Row]
    row_limit: int
    error: float
    bound: float
    sample_s: int
    tolerance_s: int


def faults(claim: Claim, reachable: Floats, times: TimeGrid, path: LightPath) -> list[str]:
    """Return what is wrong with a claim, nothing if it stands.

    Parameters
    ----------
    claim : Claim
        The claim.
    reachable : ndarray, shape (86400,)
        The reachable plan at each second. [fraction of full]
    times, path : TimeGrid, LightPath
        How the controller plays, and what becomes of its levels.

    Raises
    ------
    ValueError
        For held levels, and for days without darkness, whose bounds are not verified here.
    """
    if times.between != "line" or not path.can_be_dark or (reachable > 0).all():
        raise ValueError("only lines on days with darkness are verified")
    found = []
    lit = _lit_steps(reachable, times)
    least, most = _allowed(reachable, lit, times, path, claim.tolerance_s)
    if len(claim.rows) > claim.row_limit:
        found.append(f"{len(claim.rows)} rows are more than {claim.row_limit}")
    for row in claim.rows:
        meant = bool(lit[row.second // times.step_s])
        if row.second % times.step_s or not 0 <= row.count <= path.top_count:
            found.append(f"the row at {row.second} s is off the grid")
        elif path.dark_by_row and row.relay is not meant:
            found.append(f"the row at {row.second} s switches where the plan does not")
        elif not meant and row.count:
            found.append(f"the row at {row.second} s is dark with a level above 0")
    light = play(claim.rows, times, path.levels, path).light[:: claim.sample_s]
    low, high = least[:: claim.sample_s], most[:: claim.sample_s]
    error = float(np.maximum(np.maximum(low - light, light - high), 0.0).max())
    if abs(error - claim.error) > SLACK:
        found.append(f"the error is {error:.9f}, not {claim.error:.9f}")
    if claim.bound > error + SLACK:
        found.append(f"the bound {claim.bound:.9f} is above the table's own error {error:.9f}")
    elif claim.bound > RESOLUTION:
        better = _rows_within(claim.bound - RESOLUTION, lit, low, high, times, path, claim)
        if better is not None and better <= claim.row_limit:
            found.append(f"{better} rows do better than the bound {claim.bound:.9f}")
    return found


def _lit_steps(reachable: Floats, times: TimeGrid) -> NDArray[np.bool_]:
    """Return in which steps the lamp is lit: it switches at the grid time nearest to the plan's."""
    step, steps = times.step_s, SECONDS_PER_DAY // times.step_s
    lit = reachable > 0
    result = np.zeros(steps, dtype=bool)
    second = 0
    while second < SECONDS_PER_DAY:
        if lit[second] and not lit[second - 1]:
            stop = second
            while lit[stop % SECONDS_PER_DAY]:
                stop += 1
            first, last = (second + step / 2) // step, (stop + step / 2) // step
            if last <= first:
                first = (second + stop) // 2 // step
                last = first + 1
            for number in range(int(first), int(last)):
                result[number % steps] = True
        second += 1
    return result


def _allowed(reachable: Floats, lit: NDArray[np.bool_], times: TimeGrid, path: LightPath,
             tolerance_s: int) -> tuple[Floats, Floats]:  # fmt: skip
    """Return the least and most light that is no error at each second."""
    least, most = reachable.copy(), reachable.copy()
    for shift in range(1, tolerance_s + 1):
        for moved in (np.roll(reachable, shift), np.roll(reachable, -shift)):
            np.minimum(least, moved, out=least)
            np.maximum(most, moved, out=most)
    step = times.step_s
    for number in np.flatnonzero(lit != np.roll(lit, 1)):
        edge = np.arange(number * step - step + 1, number * step) % SECONDS_PER_DAY
        if not lit[number]:
            least[edge] = 0.0
        elif path.dark_by_level:
            most[edge] = np.maximum(most[edge], most[number * step])
    return least, most


def _rows_within(error: float, lit: NDArray[np.bool_], low: Floats, high: Floats, times: TimeGrid,
                 path: LightPath, claim: Claim) -> int | None:  # fmt: skip
    """Return the fewest rows of a table that keeps an error, None if no table does."""
    per_step = times.step_s // claim.sample_s
    size = low.size
    rows: set[int] = set()
    corners = 0
    starts = np.flatnonzero(lit & ~np.roll(lit, 1)).tolist()
    for first in starts:
        last = first
        while lit[last % lit.size]:
            last += 1
        parts = [(first, last, True)]
        if not times.wraps and last >= lit.size:
            parts = [(first, lit.size, False)]
            if last > lit.size:
                parts.append((0, last - lit.size, True))
        for begin, stop, has_end in parts:
            at = np.arange(begin * per_step, stop * per_step) % size
            found = _fewest_corners(low[at] - error, high[at] + error, per_step, has_end, path)
            if found is None:
                return None
            corners += found
            if has_end:
                rows.add(stop % lit.size)
            if path.dark_by_level and (times.wraps or begin > 0):
                rows.add((begin - 1) % lit.size)
    if not times.wraps and not lit[0]:
        rows.add(0)
    return corners + len(rows)


def _fewest_corners(low: Floats, high: Floats, per_step: int, has_end: bool,
                    path: LightPath) -> int | None:  # fmt: skip
    """Return the fewest corners of a lit run, by going from corner to corner without any shortcut."""
    lights = path.burning_light
    first = path.first_lit_count if path.dark_by_level else 0
    fits = (lights[None, :] >= low[:, None] - SLACK) & (lights[None, :] <= high[:, None] + SLACK)
    fits[:, :first] = False
    if not fits.any(axis=1).all():
        return None
    bottom = fits.argmax(axis=1)
    top = fits.shape[1] - 1 - fits[:, ::-1].argmax(axis=1)
    size = low.size
    frontier = {(0, count) for count in range(int(bottom[0]), int(top[0]) + 1)}
    seen = set(frontier)
    corners = 1
    while frontier:
        following: set[tuple[int, int]] = set()
        for index, count in sorted(frontier):
            if not has_end and (bottom[index:] <= count).all() and (top[index:] >= count).all():
                return corners
            for stop in range(index + 1, size + 1):
                if stop % per_step and stop < size:
                    continue
                ends = [0] if stop == size else range(int(bottom[stop]), int(top[stop]) + 1)
                if stop == size and not has_end:
                    break
                passed = [
                    end for end in ends if _passes(index, count, stop, end, bottom, top, path)
                ]
                if passed and stop == size:
                    return corners
                following.update((stop, end) for end in passed)
                if not passed and not _any_passes(index, count, stop, bottom, top):
                    break
        frontier = following - seen
        seen |= frontier
        corners += 1
    return None


def _passes(index: int, count: int, stop: int, end: int, bottom: Ints, top: Ints,
            path: LightPath) -> bool:  # fmt: skip
    """Return whether the counts put out on one piece stay between the gates, in whole numbers."""
    elapsed = np.arange(stop - index)
    product, span = (end - count) * elapsed, stop - index
    rounding = path.levels.rounding
    if rounding == "half-up":
        moved = (2 * product + span) // (2 * span)
    elif rounding == "down":
        moved = product // span
    else:
        moved = np.sign(product) * (np.abs(product) // span)
    out = count + moved
    return bool((out >= bottom[index:stop]).all() and (out <= top[index:stop]).all())


def _any_passes(index: int, count: int, stop: int, bottom: Ints, top: Ints) -> bool:
    """Return whether any line at all passes the gates up to ``stop``, one count of slack granted."""
    elapsed = np.arange(1, stop - index + 1)
    upto = np.minimum(np.arange(index + 1, stop + 1), bottom.size - 1)
    steepest = ((top[upto] + 1.0 - count) / elapsed).min()
    flattest = ((bottom[upto] - 1.0 - count) / elapsed).max()
    return bool(flattest <= steepest)
