"""Curves as paths: few points that look the same as all of them."""

from __future__ import annotations

from collections.abc import Sequence

from photoperiod.arrays import Bools, Floats, np, runs_of_true
from photoperiod.page.scales import Scale, place_text
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_MINUTE

#: A curve may be drawn this far from where it is [user units]: half the width of a thin line.
SLACK = 0.25

#: Curves of a day are drawn from minute to minute.
MINUTES = SECONDS_PER_DAY // SECONDS_PER_MINUTE


def by_minute(values: Floats) -> Floats:
    """Return a day's values at whole minutes, shape (1441,): the last is that of the last second."""
    return np.append(values[::SECONDS_PER_MINUTE], values[-1])


def most_by_minute(values: Floats) -> Floats:
    """Return the most of a day's values around whole minutes, shape (1441,).

    Around is from half a minute before to half a minute after: what lasts for seconds is seen too.
    """
    half = SECONDS_PER_MINUTE // 2
    ends = np.full(half, -np.inf)
    found: Floats = np.concatenate((ends, values, ends)).reshape(-1, SECONDS_PER_MINUTE).max(axis=1)
    return found


def kept(values: Floats, slack: float) -> list[int]:
    """Return which points of an even curve are drawn: lines between them are never off by more.

    Parameters
    ----------
    values : ndarray, shape (points,)
        At least two.
    slack : float
        How far off a line may be, in the unit of the values.
    """
    last = len(values) - 1
    found, todo = {0, last}, [(0, last)]
    while todo:
        begin, end = todo.pop()
        if end - begin < 2:
            continue
        line = np.linspace(values[begin], values[end], end - begin + 1)
        off = np.abs(values[begin : end + 1] - line)
        worst = int(off.argmax())
        if off[worst] > slack:
            found.add(begin + worst)
            todo += [(begin, begin + worst), (begin + worst, end)]
    return sorted(found)


def points(values: Floats, x: Scale, y: Scale) -> list[tuple[float, float]]:
    """Return the points of a day's curve.

    Parameters
    ----------
    values : ndarray, shape (1441,)
        At whole minutes.
    x, y : Scale
        Of hours of the day and of values.
    """
    per_value = abs(y.end - y.begin) / (y.high - y.low)
    return [
        (x.at(index / 60), y.at(float(values[index]))) for index in kept(values, SLACK / per_value)
    ]


def line_path(places: Sequence[tuple[float, float]]) -> str:
    """Return a line through places as the ``d`` of a path; empty without a place."""
    return ("M" + "L".join(f"{place_text(x)} {place_text(y)}" for x, y in places)) if places else ""


def area_path(upper: Sequence[tuple[float, float]], lower: Sequence[tuple[float, float]]) -> str:
    """Return the area between two lines as the ``d`` of a path."""
    return line_path([*upper, *reversed(lower)]) + "Z"


def box_path(x: float, y: float, width: float, height: float) -> str:
    """Return a rectangle as the ``d`` of a path.

    Its edges are rounded, not its size: what ends where another one begins meets it.
    """
    left, top = place_text(x), place_text(y)
    across = float(place_text(x + width)) - float(left)
    down = float(place_text(y + height)) - float(top)
    return f"M{left} {top}h{place_text(across)}v{place_text(down)}h{place_text(-across)}Z"


def runs_path(mask: Bools, x: Scale, top: float, height: float) -> str:
    """Return boxes over the runs in which something holds, as the ``d`` of one path.

    ``mask`` has an answer for each second of a day; ``x`` is a scale of hours.
    """
    found = ""
    for begin, end in runs_of_true(mask, repeats=False):
        left = x.at(begin / 3600)
        found += box_path(left, top, x.at(end / 3600) - left, height)
    return found
