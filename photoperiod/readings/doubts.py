"""Readings that do not fit the others, and meters that show the same everywhere.

They are named with the reason and used as they stand: whether a reading counts is for the keeper to say.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence

from photoperiod.arrays import Bools, Floats, Ints, np
from photoperiod.readings.fall_off import columns_of
from photoperiod.readings.faults import Faults
from photoperiod.readings.light_map import LightMap
from photoperiod.readings.model import Readings
from photoperiod.readings.slips import slips
from photoperiod.text import number_text

#: Fewer points than these are not compared. Our choice.
LEAST_POINTS = 6

#: The trend gets a term only if there are so many points for each of its terms. Our choice.
POINTS_PER_TERM = 3

#: A point stands out if it is off the trend by more than so many times the usual difference: the
#: modified z-score of Iglewicz and Hoaglin, 1993; from memory.
MOST_SCORE = 3.5

#: The median of |z| of a normal distribution [standard deviations].
MEDIAN_OF_NORMAL = 0.6745

#: And by at least this factor: light changes from point to point as no smooth trend does. Our choice.
LEAST_FACTOR = 1.6

#: By this factor where few points are compared place by place. Our choice, measured in
#: tests/readings/test_slips.py.
LEAST_FACTOR_OF_FEW = 2.0

#: Where Tukey's biweight gives up a point [standard deviations]: 95 % efficiency; from memory.
BIWEIGHT = 4.685

#: The trend is fitted so many times, each time without what strayed from it before. Our choice.
ROUNDS = 8

#: So many strays that are off by this factor at least, and by the same within the other, are told at once:
#: two units in one column look so (white light has 50 to 80 lux for each µmol). Our choice.
LEAST_ALIKE, UNIT_FACTOR, ALIKE_FACTOR = 3, 5.0, 1.4

#: So many readings with exactly the largest value look like the end of a meter's range. Our choice.
SATURATED = 4

#: So many steps of the meter below the largest value are looked at. Our choice, measured in
#: tests/readings/test_doubts.py.
STEPS_BELOW = 3

#: Readings darker than this share of the brightest are near the noise of a meter. Our choice.
DARK_SHARE = 0.005


def doubts_about(readings: Readings, found: LightMap, faults: Faults) -> None:
    """Add a finding for each reading that stands out, and for a meter that is in doubt."""
    for id, full in found.full.items():
        if not _meter_is_fine(readings, id, faults):
            continue
        for points in _compared(found, id):
            values = full[points]
            if points.size < LEAST_POINTS or not values.max() > 0:
                continue
            logs = np.log(np.maximum(values, DARK_SHARE * float(values.max())))
            few = _place_by_place(found, points, logs)
            if few is None:
                off = off_trend(_position(found, points), logs)
                strays = stands_out(off, LEAST_FACTOR)
            else:
                off = np.nan_to_num(few)
                strays = off != 0
            for at in _unlike_in_unit(readings, found, id, points, strays, off, faults):
                expected = float(values[at] / np.exp(off[at]))
                _report(readings, found, id, int(points[at]), expected, faults)


def _unlike_in_unit(
    readings: Readings,
    found: LightMap,
    id: str,
    points: Ints,
    strays: Bools,
    off: Floats,
    faults: Faults,
) -> Ints:
    """Return the strays that stand alone; one finding for those that are all off by one large factor."""
    at: Ints = np.flatnonzero(strays)
    if at.size < LEAST_ALIKE:
        return at
    usual = float(np.median(off[at]))
    alike = np.abs(off[at] - usual) < np.log(ALIKE_FACTOR)
    if abs(usual) < np.log(UNIT_FACTOR) or int(alike.sum()) < LEAST_ALIKE:
        return at
    first = int(points[at[alike][0]])
    often = number_text(float(np.exp(abs(usual))), 1)
    faults.add(
        "PHO906",
        readings.place(_of_channel(readings, found, id, first)[0], readings.light_quantity),
        f"{int(alike.sum())} readings of channel '{id}', from {found.point_text(first)} on, are about"
        f" {often} times {'as much as' if usual > 0 else 'less than'} the others",
        "are there two units in the column, lux and PPFD? Or a digit too many or too few in each? They are"
        " used as they stand",
    )
    rest: Ints = at[~alike]
    return rest


def _of_channel(readings: Readings, found: LightMap, id: str, point: int) -> list[int]:
    return [index for index in found.readings[point] if id in readings.channels[index]]


def not_judged(found: LightMap) -> tuple[str, ...]:
    """Return what can't be told of readings that stand out, for want of points; each a sentence."""
    few: dict[str, int] = {}
    of_places: list[str] = []
    alone: dict[str, int] = {}
    for id, full in found.full.items():
        for points in _compared(found, id):
            if 0 < points.size < LEAST_POINTS:
                few[id] = few.get(id, 0) + int(points.size)
            elif points.size:
                off = _place_by_place(found, points, np.zeros(full[points].size))
                if off is not None:
                    of_places.append(id)
                    if np.isnan(off).any():
                        alone[id] = int(np.isnan(off).sum())
    said = []
    if few:
        said.append(
            f"Too few points to compare with each other, so no slip is looked for: {_counts(few)}. It takes"
            f" {LEAST_POINTS} in the tank, or in a zone."
        )
    if of_places:
        said.append(
            f"Compared place by place, for want of points: {', '.join(of_places)}. There a slip by less than"
            f" {number_text(LEAST_FACTOR_OF_FEW, 1)} times is not found."
        )
    if alone:
        said.append(
            f"Not compared, because no other place was read at the same two depths: {_counts(alone)}."
        )
    return tuple(said)


def _counts(by_channel: Mapping[str, int]) -> str:
    return ", ".join(f"{id} {count}" for id, count in by_channel.items())


def _compared(found: LightMap, id: str) -> Iterator[Ints]:
    """Yield sets of points that are compared with each other: those with a position, those of a zone."""
    placed = np.isfinite(found.x_cm)
    yield np.flatnonzero(found.known(id) & placed)
    named = np.flatnonzero(found.known(id) & ~placed)
    zones = np.array([found.zones[point] for point in named])
    for zone in sorted(set(zones.tolist())):
        yield named[zones == zone]


def _position(found: LightMap, points: Ints) -> Floats:
    """Return positions from −1 to 1 along each axis, shape (points, axes); no axis without any."""
    axes = []
    for values in (found.x_cm[points], found.y_cm[points], found.depth_cm[points]):
        half = float(values.max() - values.min()) / 2
        if half > 0:
            axes.append((values - float(values.min())) / half - 1.0)
    return np.array(axes).reshape(len(axes), points.size).T


def _has_a_trend(found: LightMap, points: Ints) -> bool:
    """Return whether points are enough for a trend of the second degree in each axis they lie along."""
    axes = _position(found, points).shape[1]
    return bool(points.size * 2 >= POINTS_PER_TERM * (1 + axes) * (2 + axes))


def _place_by_place(found: LightMap, points: Ints, logs: Floats) -> Floats | None:
    """Return by how much each of a few points is off, by places at several depths; None without any."""
    depth_cm = found.depth_cm[points]
    if _has_a_trend(found, points) or not np.isfinite(depth_cm).all():
        return None
    off = slips(
        columns_of(found.x_cm[points], found.y_cm[points]), depth_cm, logs, LEAST_FACTOR_OF_FEW
    )
    return None if off is None or np.isnan(off).all() else off


def off_trend(position: Floats, logs: Floats) -> Floats:
    """Return how far each point is from the smooth trend of the others, in logarithms of light.

    The trend is a polynomial of the second degree in the position, or of a lower one where there are few
    points, fitted by iterated weights so that strays do not pull it to themselves.
    """
    axes = list(position.T)
    terms = [np.ones_like(logs), *axes, *(a * b for a, b in _pairs(axes))]
    for count in (len(terms), 1 + len(axes)):
        if logs.size >= POINTS_PER_TERM * count:
            terms = terms[:count]
            break
    else:
        terms = terms[:1]
    matrix = np.stack(terms, axis=1)
    off = logs - np.median(logs)
    for _ in range(ROUNDS):
        share = np.minimum(np.abs(off) / (BIWEIGHT * max(_spread(off), 1e-6)), 1.0)
        weight = 1.0 - share**2  # the root of Tukey's weight
        weighed = matrix * weight[:, None]
        # By the normal equations: terms between −1 and 1 are far from alike, and rows may be many.
        solved = np.linalg.lstsq(weighed.T @ weighed, weighed.T @ (logs * weight), rcond=None)[0]
        off = logs - matrix @ solved
    return off


def _pairs(axes: Sequence[Floats]) -> Iterator[tuple[Floats, Floats]]:
    return itertools.combinations_with_replacement(axes, 2)


def _spread(off: Floats) -> float:
    """Return the usual difference, as a standard deviation that strays have no say in."""
    return float(np.median(np.abs(off))) / MEDIAN_OF_NORMAL


def stands_out(off: Floats, least_factor: float) -> Bools:
    """Return which points are too far off a trend, by the usual difference and by a factor at least."""
    return np.abs(off) > max(MOST_SCORE * _spread(off), float(np.log(least_factor)))


def _report(
    readings: Readings, found: LightMap, id: str, point: int, expected: float, faults: Faults
) -> None:
    """Add the finding on a point that stands out, at the reading that is farthest off."""
    value = float(found.full[id][point])
    at_point = _of_channel(readings, found, id, point)
    worst = max(at_point, key=lambda index: abs(float(readings.light[index]) - expected))
    factor = value / expected
    often = number_text(factor if factor >= 1 else 1 / max(factor, 1e-3), 1)
    faults.add(
        "PHO906",
        readings.place(worst, readings.light_quantity),
        f"channel '{id}' gives {number_text(value, 1)} at {found.point_text(point)}, by the trend of the"
        f" others {number_text(expected, 1)}: {often} times {'as much' if factor >= 1 else 'less'}",
        "a digit too many or too few, exchanged rows, a shadow? It is used as it stands",
    )


def _is_coarse(light: Floats, at_most: int) -> bool:
    """Return whether readings are so coarse that many have the largest value, as many have those below.

    Where a meter ends, more readings have its largest value than the few steps below it together.
    """
    values = np.unique(light)
    step = float(np.diff(values).min())
    below = (light < values[-1]) & (light >= values[-1] - STEPS_BELOW * step * (1 + 1e-9))
    return at_most < int(below.sum())


def _meter_is_fine(readings: Readings, id: str, faults: Faults) -> bool:
    """Return whether readings of a channel differ; a finding if they look like the end of a meter."""
    alone = [index for index in readings.with_channel(id) if len(readings.channels[index]) == 1]
    light = readings.light[alone]
    most = float(light.max()) if light.size else 0.0
    same = np.flatnonzero(light == most)
    if same.size < SATURATED or most == 0:
        return True
    everywhere = same.size == light.size
    if not everywhere and _is_coarse(light, same.size):
        return True
    faults.add(
        "PHO907",
        readings.place(alone[int(same[0])], readings.light_quantity),
        f"all {light.size} readings of channel '{id}' are {number_text(most, 2)}"
        if everywhere
        else f"{same.size} readings of channel '{id}' are exactly its largest, {number_text(most, 2)}",
        "is the meter at the end of its range, or did it hang?",
    )
    return not everywhere
