"""Readings at points of the tank → what each channel alone gives there at full.

A point is a position, or a zone with the name of a point, or a single reading of a zone. What was read
at one point several times is averaged, so that a repeated point tightens the value and does not count
twice. Where several channels were on at once, they are solved for by least squares.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from photoperiod.arrays import Bools, Floats, Ints, np
from photoperiod.readings.columns import Quantity
from photoperiod.readings.faults import Faults
from photoperiod.readings.model import Readings
from photoperiod.text import number_text

#: Light of a channel at some volts [fraction of full]; what it was read at is divided by it.
LightAt = Callable[[str, Floats], Floats]

#: Positions nearer than this are the same point [cm]. Our choice: nobody holds a sensor better.
SAME_POINT_CM = 0.05

#: Full light must not be told by readings that are dimmer than this [fraction of full]: an error of the
#: ballast's curve would be multiplied. Our choice.
LEAST_LIGHT = 0.2

#: A solved light below zero by less than this share of the brightest is noise. Our choice, no source.
NOISE_SHARE = 0.02

#: Darkness is taken as this where a logarithm is needed [µmol m⁻² s⁻¹]: no meter shows it.
FAINTEST = 1e-6

#: Singular values smaller than this share of the largest are zero: the readings do not tell channels apart.
RANK_SHARE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class LightMap:
    """What each channel gives at full, by points.

    Parameters
    ----------
    x_cm, y_cm, depth_cm : ndarray, shape (points,)
        NaN where a point has no position. [cm]
    zones, names : tuple of str
        The zone and the name of each point, empty where the file does not say.
    readings : tuple of tuple of int
        The readings at each point.
    full : mapping of channel to ndarray, shape (points,)
        Its light at full, NaN where it was not read. [µmol m⁻² s⁻¹, or lux]
    """

    x_cm: Floats = field(repr=False)
    y_cm: Floats = field(repr=False)
    depth_cm: Floats = field(repr=False)
    zones: tuple[str, ...] = field(repr=False)
    names: tuple[str, ...] = field(repr=False)
    readings: tuple[tuple[int, ...], ...] = field(repr=False)
    full: Mapping[str, Floats]

    def known(self, channel: str) -> Bools:
        """Return at which points a channel was read."""
        return np.isfinite(self.full[channel])

    def point_text(self, point: int) -> str:
        """Return where a point is, in words."""
        if self.x_cm[point] == self.x_cm[point]:
            numbers = (self.x_cm[point], self.y_cm[point], self.depth_cm[point])
            x, y, depth = (number_text(float(number), 1) for number in numbers)
            return f"x {x}, y {y}, depth {depth} cm"
        name = f", point {self.names[point]}" if self.names[point] else ""
        return f"zone {self.zones[point]}{name}"

    def in_other_water(self, channel: str, change_per_m: float) -> LightMap:
        """Return the map with a channel in water that takes more light, or less. [1/m]

        The change acts on the path through the water, the depth, alone: not on distance to the tubes.
        """
        light = self.full[channel] * np.exp(-change_per_m * self.depth_cm / 100.0)
        return replace(self, full={**self.full, channel: light})


def between_depths(depth_cm: Floats, light: Floats, at_cm: float) -> float:
    """Return the light at a depth between those of one place: its logarithm is a straight line there.

    Parameters
    ----------
    depth_cm, light : ndarray, shape (depths,)
        Depths, rising [cm], and light. Outside of them that of the nearest depth is returned.
    at_cm : float
        The depth. [cm]
    """
    return float(np.exp(np.interp(at_cm, depth_cm, np.log(np.maximum(light, FAINTEST)))))


def beyond_depths(light: float, per_m: float, deeper_cm: float) -> float:
    """Return the light so much deeper [cm] than where it is known, by a fall-off e^(−kz) of k [1/m]."""
    return light * float(np.exp(-per_m * deeper_cm / 100.0))


def at_full_only(channel: str, volts: Floats) -> Floats:
    """Return the light at 10 V, 1, and NaN below: for who does not know the curve of the ballast."""
    return np.where(volts >= 10.0 - 1e-9, 1.0, np.nan)


def light_map(readings: Readings, light_at: LightAt, faults: Faults) -> LightMap | None:
    """Return the map of some readings; None, and findings, where they do not tell it.

    Parameters
    ----------
    readings : Readings
        With channels and levels.
    light_at : callable
        Light of a channel at some volts; NaN where it is not known. [fraction of full]
    faults : Faults
        Findings are added here.
    """
    lights = _lights(readings, light_at, faults)
    point_of = _points(readings, faults)
    if faults.has_errors:
        return None
    count = int(point_of.max()) + 1
    order = np.argsort(point_of, kind="stable")
    ends = np.searchsorted(point_of[order], np.arange(count + 1))
    members = order.tolist()
    at_point = [tuple(members[a:b]) for a, b in itertools.pairwise(ends.tolist())]
    full = _full(readings, lights, point_of, at_point, faults)
    if faults.has_errors:
        return None
    first = np.array([members[0] for members in at_point])
    return LightMap(
        x_cm=readings.x_cm[first],
        y_cm=readings.y_cm[first],
        depth_cm=readings.depth_cm[first],
        zones=tuple(readings.zones[index] for index in first),
        names=tuple(readings.points[index] for index in first),
        readings=tuple(at_point),
        full=full,
    )


def _lights(readings: Readings, light_at: LightAt, faults: Faults) -> dict[str, Floats]:
    """Return the light of each channel for each reading, 0 where it was off. [fraction of full]"""
    sets = {on: at for at, on in enumerate(dict.fromkeys(readings.channels))}
    which = np.fromiter((sets[on] for on in readings.channels), np.int64, len(readings))
    found = {}
    for id in sorted({id for on in sets for id in on}):
        is_on = np.array([id in on for on in sets])[which]
        light = np.where(is_on, light_at(id, readings.volts), 0.0)
        dim = np.flatnonzero(is_on & ~(light >= LEAST_LIGHT))
        if dim.size:
            at = int(dim[0])
            unknown = bool(np.isnan(light[at]))
            faults.add(
                "PHO908",
                readings.place(at, Quantity.LEVEL),
                f"channel '{id}' was not at full, and the curve of its ballast is not known here"
                if unknown
                else f"channel '{id}' gave {number_text(float(light[at]) * 100)} % of its light here,"
                f" too little to tell full light",
                "read at full; or name the schedule, which knows the ballast"
                if unknown
                else f"read at full, or at {number_text(LEAST_LIGHT * 100)} % of its light or more",
            )
        found[id] = light
    return found


def _points(readings: Readings, faults: Faults) -> Ints:
    """Return the point of each reading, numbered in the order of the file."""
    has_position = readings.has_position
    keys = np.zeros(len(readings), dtype=np.int64)
    for values in (readings.x_cm, readings.y_cm, readings.depth_cm):
        steps = np.round(np.where(has_position, values, 0.0) / SAME_POINT_CM / 2).astype(np.int64)
        _, ranks = np.unique(steps, return_inverse=True)
        _, keys = np.unique(keys * (int(ranks.max()) + 1) + ranks, return_inverse=True)
    if has_position.all():
        _, first, number = np.unique(keys, return_index=True, return_inverse=True)
        in_file = np.empty(first.size, dtype=np.int64)
        in_file[np.argsort(first)] = np.arange(first.size)
        return in_file[number]
    numbers: dict[object, int] = {}
    found = []
    for index, (placed, key) in enumerate(zip(has_position.tolist(), keys.tolist(), strict=True)):
        where: object = key
        if not placed:
            where = _zone_point(readings, index, faults)
        found.append(numbers.setdefault(where, len(numbers)))
    return np.array(found, dtype=np.int64)


def _zone_point(readings: Readings, index: int, faults: Faults) -> object:
    """Return the point of a reading without a position."""
    zone, name = readings.zones[index], readings.points[index]
    if not zone:
        faults.add(
            "PHO904",
            readings.place(
                index, Quantity.ZONE if Quantity.ZONE in readings.columns else Quantity.X
            ),
            "this reading has neither a whole position nor a zone",
            "write x, y and depth, or the zone",
        )
    elif not name and len(readings.channels[index]) > 1:
        faults.add(
            "PHO908",
            readings.place(index, Quantity.CHANNEL),
            "several channels were on, and it is not said which other readings are of the same place",
            "write a position, or name the place in a column `point`",
        )
    return (zone, name) if name else index  # a key, which can't be that of a position


def _full(
    readings: Readings,
    lights: Mapping[str, Floats],
    point_of: Ints,
    at_point: Sequence[tuple[int, ...]],
    faults: Faults,
) -> dict[str, Floats]:
    """Return the light of each channel at full at each point."""
    count = len(at_point)
    is_alone = np.fromiter((len(on) == 1 for on in readings.channels), bool, len(readings))
    together = sorted(set(point_of[~is_alone].tolist()))
    full = {}
    for id, light in lights.items():
        mine = (light > 0) & is_alone
        # The least-squares light of readings y at lights a: Σay / Σa².
        weighed = np.bincount(point_of[mine], (light * readings.light)[mine], minlength=count)
        weights = np.bincount(point_of[mine], (light * light)[mine], minlength=count)
        values = np.full(count, np.nan)
        np.divide(weighed, weights, out=values, where=weights > 0)
        full[id] = values
    for point in together:
        solved = _solved(readings, lights, at_point[point], faults)
        for id, value in solved.items():
            full[id][point] = value
    return full


def _solved(
    readings: Readings, lights: Mapping[str, Floats], members: tuple[int, ...], faults: Faults
) -> dict[str, float]:
    """Return the light of each channel at a point at which several were on at once."""
    rows = list(members)
    ids = sorted({id for index in rows for id in readings.channels[index]})
    matrix = np.array([[lights[id][index] for id in ids] for index in rows])
    values, _, rank, _ = np.linalg.lstsq(matrix, readings.light[rows], rcond=RANK_SHARE)
    first = next(index for index in rows if len(readings.channels[index]) > 1)
    if rank < len(ids):
        lines = ", ".join(str(readings.line(index)) for index in rows)
        faults.add(
            "PHO908",
            readings.place(first, Quantity.CHANNEL),
            f"{len(ids)} channels ({', '.join(ids)}) can't be told apart by the readings of this point,"
            f" in {'line' if len(rows) == 1 else 'lines'} {lines}: {len(ids) - int(rank)} too few",
            f"read one of them alone there: {', '.join(_not_alone(readings, rows, ids))}",
        )
        return dict.fromkeys(ids, float("nan"))
    floor = -NOISE_SHARE * float(np.abs(values).max())
    for id, value in zip(ids, values.tolist(), strict=True):
        if value < floor:
            faults.add(
                "PHO906",
                readings.place(first, readings.light_quantity),
                f"solved for, channel '{id}' would give {number_text(value)} here: less than nothing",
                "read that channel alone at this point",
            )
    return dict(zip(ids, np.maximum(values, 0.0).tolist(), strict=True))


def _not_alone(readings: Readings, rows: Sequence[int], ids: Sequence[str]) -> list[str]:
    alone = {readings.channels[index][0] for index in rows if len(readings.channels[index]) == 1}
    return [id for id in ids if id not in alone]
