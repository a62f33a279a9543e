"""Readings at several depths → how light falls off in this tank; with the fixture's size, in its water.

Near a fixture distance decides: light falls with depth even in air. What is fitted to readings alone is
therefore the *fall-off in this tank*, never the attenuation of its water. If height and length of the
tubes are known, their geometry is divided out, and what is left is attenuation. Rays are refracted at a flat
surface (`water_surface`), and walls are taken as black; both are said where it is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.arrays import Bools, Floats, Ints, np
from photoperiod.readings.columns import Quantity
from photoperiod.readings.faults import Faults
from photoperiod.readings.light_map import SAME_POINT_CM, LightMap, between_depths, beyond_depths
from photoperiod.readings.model import Readings
from photoperiod.readings.straight_line import Slope, common_slope
from photoperiod.readings.water_surface import tube_under_water
from photoperiod.text import number_text

#: Fall-off of light in a tank under lamps outside of which depths are in doubt [1/m]. A long tube 1 m
#: above the bottom gives about one part in a metre; close under one light is halved in a few cm. Our choice.
LEAST_FALL_OFF, MOST_FALL_OFF = 0.3, 20.0

#: The same of attenuation [1/m]: the clearest ocean water takes 0.02 of blue light, coastal water 0.7 of
#: violet (Jerlov 1976, types I and 3C); pure water 0.65 at 700 nm (Smith & Baker 1981).
LEAST_ATTENUATION, MOST_ATTENUATION = 0.0, 2.0


#: Depths of one place are in doubt if they are so many times as large as those of another, while light falls
#: off as much more slowly, or by this share of it at least: a tank has shallow places, too. Our choice.
UNIT_RATIO, UNIT_SHARE = 5.0, 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixture:
    """Tubes that lie along the tank, all alike. [cm]

    Parameters
    ----------
    height_cm : float
        Above the water.
    length_cm : float
        Of the lit part of a tube.
    middle_x_cm : float
        Where their middle is along the tank.
    tube_y_cm : tuple of float
        Where each is across the tank.
    """

    height_cm: float
    length_cm: float
    middle_x_cm: float
    tube_y_cm: tuple[float, ...]

    def light_at(self, x_cm: Floats, y_cm: Floats, depth_cm: Floats) -> Floats:
        """Return E/I′ on a horizontal plane in water that takes nothing, I′ the strength of 1 m. [1/m]

        Light is refracted at a flat surface, and what the surface reflects is lost.
        """
        light = np.zeros(np.shape(x_cm))
        for tube_y_cm in self.tube_y_cm:
            aside_m = (np.asarray(y_cm) - tube_y_cm) / 100.0
            ends_m = [
                (self.middle_x_cm + side * self.length_cm / 2 - np.asarray(x_cm)) / 100.0
                for side in (-1, 1)
            ]
            light = light + tube_under_water(
                ends_m[0], ends_m[1], aside_m, self.height_cm / 100.0, np.asarray(depth_cm) / 100.0
            )
        return light


@dataclass(frozen=True, slots=True, kw_only=True)
class FallOff:
    """How the light of a channel falls with depth, e^(−kz).

    Parameters
    ----------
    per_m : Slope
        k and its interval. [1/m]
    columns, points : int
        At how many places seen from above it was read, and at how many points.
    is_attenuation : bool
        True if geometry is divided out, so that k is that of the water alone.
    """

    per_m: Slope
    columns: int
    points: int
    is_attenuation: bool


def fall_off_of(
    x_cm: Floats, y_cm: Floats, depth_cm: Floats, light: Floats, fixture: Fixture | None
) -> FallOff | None:
    """Return how light falls off with depth; None if no place has enough depths.

    Each place seen from above has its own height of light; all share the fall-off.

    Parameters
    ----------
    x_cm, y_cm, depth_cm, light : ndarray, shape (points,)
        Positions [cm] and light above 0 in any unit.
    fixture : Fixture or None
        If it is given, its geometry is divided out.
    """
    columns = columns_of(x_cm, y_cm)
    deep = np.bincount(columns)[columns] > 1
    if not deep.any():
        return None
    logs = np.log(light)
    if fixture is not None:
        logs = logs - np.log(fixture.light_at(x_cm, y_cm, depth_cm))
    slope = common_slope(depth_cm[deep] / 100.0, logs[deep], columns[deep])
    if slope is None:
        return None
    return FallOff(
        per_m=Slope(-slope.value, -slope.high, -slope.low),
        columns=int(np.unique(columns[deep]).size),
        points=int(deep.sum()),
        is_attenuation=fixture is not None,
    )


def columns_of(x_cm: Floats, y_cm: Floats) -> Ints:
    """Return for each point the number of its place seen from above."""
    numbers = np.zeros(x_cm.size, dtype=np.int64)
    for values in (x_cm, y_cm):
        _, ranks = np.unique(np.round(values / SAME_POINT_CM / 2), return_inverse=True)
        _, numbers = np.unique(numbers * (int(ranks.max()) + 1) + ranks, return_inverse=True)
    return numbers


def channel_fall_off(
    readings: Readings, found: LightMap, channel: str, fixture: Fixture | None, faults: Faults
) -> FallOff | None:
    """Return how a channel of a map falls off; a finding if it does not tell, or hardly can be so."""
    points = _lit(found, channel)
    told = fall_off_of_channel(found, channel, fixture)
    if told is None:
        faults.add(
            "PHO908",
            None,
            f"channel '{channel}' was not read at enough depths of the same place",
            "read three or more depths, one below the other",
        )
        return None
    _report_fall(readings, found, channel, points, told, faults)
    return told


def report_depths(readings: Readings, found: LightMap, faults: Faults) -> None:
    """Add findings for depths that look like another unit: all of a channel, or those of one place."""
    for channel in found.full:
        points = _lit(found, channel)
        told = fall_off_of_channel(found, channel, None)
        if told is None or _report_fall(readings, found, channel, points, told, faults):
            continue
        columns, depth_cm = (
            columns_of(found.x_cm[points], found.y_cm[points]),
            found.depth_cm[points],
        )
        slopes, deepest, first = _place_falls(
            columns, depth_cm, np.log(found.full[channel][points])
        )
        if slopes.size < 2:
            continue
        low, high = int(deepest.argmin()), int(deepest.argmax())
        ratio = float(deepest[high] / max(deepest[low], 1e-9))
        if ratio >= UNIT_RATIO and slopes[low] >= UNIT_SHARE * ratio * abs(slopes[high]):
            point = int(points[first[high]])
            faults.add(
                "PHO915",
                readings.place(found.readings[point][0], Quantity.DEPTH),
                f"at {found.point_text(point)} and below light of channel '{channel}' falls off"
                f" {number_text(float(slopes[low] / max(abs(slopes[high]), 1e-9)), 0)} times as slowly as at"
                f" {found.point_text(int(points[first[low]]))}, and depths are"
                f" {number_text(ratio, 0)} times as large",
                "are there two units in the column of depths?",
            )


def _place_falls(columns: Ints, depth_cm: Floats, logs: Floats) -> tuple[Floats, Floats, Ints]:
    """Return for each place of several depths its fall-off [1/m], its deepest point [cm] and its first."""
    size = np.bincount(columns)
    depth = depth_cm - (np.bincount(columns, depth_cm) / size)[columns]
    spread = np.bincount(columns, depth**2)
    falls = -100.0 * np.bincount(columns, depth * logs) / np.maximum(spread, 1e-12)
    deepest = np.zeros(size.size)
    np.maximum.at(deepest, columns, depth_cm)
    _, first = np.unique(columns, return_index=True)
    several = spread > 1e-9
    return falls[several], deepest[several], first[several]


def _report_fall(
    readings: Readings,
    found: LightMap,
    channel: str,
    points: Ints,
    told: FallOff,
    faults: Faults,
) -> bool:
    """Add a finding for a fall-off that can hardly be, and return whether it is one."""
    least, most, what = LEAST_FALL_OFF, MOST_FALL_OFF, "light falls off"
    if told.is_attenuation:
        least, most, what = LEAST_ATTENUATION, MOST_ATTENUATION, "the water would attenuate light"
    is_strange = told.per_m.high < least or told.per_m.low > most
    if is_strange:
        at = found.readings[int(points[0])][0]
        faults.add(
            "PHO915",
            readings.place(at, Quantity.DEPTH),
            f"{what} by {number_text(told.per_m.value)} per metre for channel '{channel}'; from"
            f" {number_text(least)} to {number_text(most)} is what tanks show",
            "are the depths in another unit, or are columns exchanged?",
        )
    return is_strange


def fall_off_of_channel(found: LightMap, channel: str, fixture: Fixture | None) -> FallOff | None:
    """Return how a channel of a map falls off, as `fall_off_of`."""
    points = _lit(found, channel)
    if not points.size:
        return None
    return fall_off_of(
        found.x_cm[points],
        found.y_cm[points],
        found.depth_cm[points],
        found.full[channel][points],
        fixture,
    )


def _lit(found: LightMap, channel: str) -> Ints:
    """Return the points with a position at which a channel was read and gives light."""
    placed: Bools = found.known(channel) & np.isfinite(found.x_cm) & (found.full[channel] > 0)
    return np.flatnonzero(placed)


@dataclass(frozen=True, slots=True)
class LightAtDepth:
    """Light of a channel at a depth of one place. [cm; µmol m⁻² s⁻¹ or lux]

    ``is_beyond`` is True if nothing was read there above or below: the fall-off was followed.
    """

    x_cm: float
    y_cm: float
    light: float
    is_beyond: bool


def light_at_depth(
    found: LightMap, channel: str, depth_cm: float, told: FallOff, *, beyond: bool
) -> Sequence[LightAtDepth]:
    """Return the light at a depth of each place that was read at several depths.

    Between two depths its logarithm is a straight line. A place that was read above only, or below
    only, is left out unless ``beyond``; then the fall-off is followed from its nearest depth.
    """
    points = _lit(found, channel)
    columns = columns_of(found.x_cm[points], found.y_cm[points])
    result = []
    for column in range(int(columns.max(initial=-1)) + 1):
        mine = points[columns == column]
        mine = mine[np.argsort(found.depth_cm[mine])]
        depths = found.depth_cm[mine]
        inside = bool(depths[0] <= depth_cm <= depths[-1])
        if not inside and not beyond:
            continue
        light = between_depths(depths, found.full[channel][mine], depth_cm)
        if not inside:
            nearest = float(depths[0] if depth_cm < depths[0] else depths[-1])
            light = beyond_depths(light, told.per_m.value, depth_cm - nearest)
        x, y = float(found.x_cm[mine[0]]), float(found.y_cm[mine[0]])
        result.append(LightAtDepth(x, y, light, not inside))
    return result
