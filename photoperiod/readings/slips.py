"""Slips of the pen in small maps: places read at several depths, too few for a smooth trend across the tank.

Light of one place is bright or dark at each of its depths, and light of one depth at each place. So the
four readings of two places at two depths tell of each other: one of them should be to the one below it
what its neighbour is to the one below that. A slip stands against all its neighbours, and all in the same
direction; a place that lies under a lamp, or behind a rock, does not.
"""

from __future__ import annotations

from photoperiod.arrays import Floats, Ints, np

#: Depths nearer than this are the same [cm]: nobody holds a sensor better at several places. Our choice.
SAME_DEPTH_CM = 1.0

#: A reading is judged if so many pairs of others speak of it. Our choice.
LEAST_PAIRS = 2

#: Of the pairs that speak of a reading this share may say otherwise: there may be a second slip. Our choice.
MOST_AGAINST = 0.2

#: No more than this share of the readings can be slips. Our choice.
MOST_SLIPS = 1 / 3


def slips(place: Ints, depth_cm: Floats, logs: Floats, least_factor: float) -> Floats | None:
    """Return by how much each reading is off, 0 where it is not; NaN where nothing can be said.

    Parameters
    ----------
    place : ndarray of int, shape (points,)
        The place of each point seen from above, from 0.
    depth_cm, logs : ndarray, shape (points,)
        Its depth [cm], and the logarithm of its light.
    least_factor : float
        Light is off by this factor at least.

    Returns
    -------
    ndarray or None
        In logarithms of light; None if a place has two readings of one depth.
    """
    depth = _depths(depth_cm)
    cells = np.full((int(place.max()) + 1, int(depth.max()) + 1), -1)
    cells[place, depth] = np.arange(place.size)
    if int((cells >= 0).sum()) < place.size:
        return None
    fixed = logs.copy()
    off = np.where(np.isnan(_against_all(cells, logs)), np.nan, 0.0)
    for _ in range(int(MOST_SLIPS * place.size)):
        by = _against_all(cells, fixed)
        able = np.flatnonzero(np.abs(np.nan_to_num(by)) > np.log(least_factor))
        if not able.size:
            break
        # Where a place has two depths, both of its readings stand against all others: the one counts
        # that makes the map smooth if it is put right.
        at = min(able.tolist(), key=lambda at: _roughness(depth_cm, fixed, at, float(by[at])))
        fixed[at] -= by[at]
        off[at] += by[at]
    return off


def _depths(depth_cm: Floats) -> Ints:
    """Return the number of each point's depth, from 0; depths near each other have the same."""
    order = np.argsort(depth_cm, kind="stable")
    numbers = np.empty(depth_cm.size, dtype=np.int64)
    numbers[order] = np.cumsum(np.diff(depth_cm[order], prepend=depth_cm[order[0]]) > SAME_DEPTH_CM)
    return numbers


def _against_all(cells: Ints, logs: Floats) -> Floats:
    """Return for each reading the least by which it stands against others; 0 if they do not agree."""
    table = np.where(cells >= 0, logs[cells], np.nan)
    steps = table[:, :, None] - table[:, None, :]  # of a place, from one depth to another
    pairs = steps[:, None, :, :] - steps[None, :, :, :]  # beside those of another place
    places, depths = table.shape
    pairs[np.arange(places), np.arange(places)] = np.nan
    pairs[:, :, np.arange(depths), np.arange(depths)] = np.nan
    each = np.moveaxis(pairs, 2, 1).reshape(places, depths, places * depths)
    known = np.isfinite(each).sum(axis=2)
    out = (known * MOST_AGAINST).astype(np.int64)  # so many may be of another slip
    rising = np.sort(each, axis=2)  # NaN last
    low = np.take_along_axis(rising, out[:, :, None], axis=2)[:, :, 0]
    high = np.take_along_axis(rising, np.maximum(known - 1 - out, 0)[:, :, None], axis=2)[:, :, 0]
    least = np.where(low > 0, low, np.where(high < 0, high, 0.0))
    least[known < LEAST_PAIRS] = np.nan
    result = np.full(logs.size, np.nan)
    result[cells[cells >= 0]] = least[cells >= 0]
    return result


def _roughness(depth_cm: Floats, logs: Floats, at: int, by: float) -> float:
    """Return how far readings are from a line over depth if one of them is put right."""
    fixed = logs.copy()
    fixed[at] -= by
    return float(np.abs(off_line(depth_cm, fixed)).sum())


def off_line(depth_cm: Floats, logs: Floats) -> Floats:
    """Return how far each point is from a straight line over depth, in logarithms of light.

    Its slope is the median of those of all pairs (Theil and Sen; from memory): of six points one can't
    pull it to itself, as it can a fit of least squares.
    """
    one, other = np.triu_indices(logs.size, 1)
    step = depth_cm[one] - depth_cm[other]
    apart = step != 0
    slope = np.median((logs[one] - logs[other])[apart] / step[apart])
    rest: Floats = logs - slope * depth_cm
    return rest - np.median(rest)
