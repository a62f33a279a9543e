"""A map of the light of a tank → what each channel gives to a zone: the mean, the least and the most.

A zone is a box, a list of points, or whatever the file calls by its name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.arrays import Bools, Floats, np
from photoperiod.readings.extent import Box, Extent, PointList, Statistic
from photoperiod.readings.light_map import LightMap, between_depths

#: A point that is named in the schedule may be this far from where it was read [cm]. Our choice.
POINT_SLACK_CM = 1.0

#: x, y and depth. [cm]
Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLight:
    """What one channel gives to a zone at full, by the points that were read in it.

    Parameters
    ----------
    mean, least, most : float
        Of the points. [µmol m⁻² s⁻¹, or lux]
    points, between : int
        How many there are, and how many of them were not read but lie between two depths that were.
    """

    mean: float
    least: float
    most: float
    points: int
    between: int = 0

    @property
    def uniformity(self) -> float:
        """The least as a share of the mean, U0 of EN 12464-1; 1 in the dark. [ratio]"""
        return self.least / self.mean if self.mean > 0 else 1.0

    def value(self, statistic: Statistic) -> float:
        """Return the mean, the least or the most."""
        return {
            Statistic.MEAN: self.mean,
            Statistic.LEAST: self.least,
            Statistic.MOST: self.most,
        }[statistic]


def zone_light(found: LightMap, channel: str, id: str, extent: Extent) -> ZoneLight | None:
    """Return what a channel gives to the points of a zone, None if that is known at none of them.

    Parameters
    ----------
    found : LightMap
        The map.
    channel : str
        A channel of the map.
    id : str
        The zone, as the readings call it.
    extent : Box, PointList or None
        Where it is. Points of a list that lie between two depths of one place are interpolated.
    """
    if isinstance(extent, PointList):
        told = [_light_at(found, channel, point) for point in extent.points]
        between = sum(is_between for _, is_between in filter(None, told))
        return _of_values(np.array([light for light, _ in filter(None, told)]), between)
    return light_of_points(found, channel, points_inside(found, id, extent))


def light_of_points(found: LightMap, channel: str, inside: Bools) -> ZoneLight | None:
    """Return what a channel gives to some points of a map, of which it was read at some."""
    return _of_values(found.full[channel][inside & found.known(channel)], 0)


def _of_values(values: Floats, between: int) -> ZoneLight | None:
    if not values.size:
        return None
    return ZoneLight(
        mean=float(values.mean()),
        least=float(values.min()),
        most=float(values.max()),
        points=int(values.size),
        between=between,
    )


def points_inside(found: LightMap, id: str, extent: Box | None) -> Bools:
    """Return which points of a map are in a zone, shape (points,)."""
    if extent is None:
        return np.array([zone == id for zone in found.zones], dtype=bool)
    inside = np.ones(len(found.zones), dtype=bool)
    for values, (low, high) in (
        (found.x_cm, extent.x_cm),
        (found.y_cm, extent.y_cm),
        (found.depth_cm, extent.depth_cm),
    ):
        inside &= (values >= low) & (values <= high)
    return inside


def points_not_told(found: LightMap, channel: str, extent: Extent) -> Sequence[Point]:
    """Return the points of a list at which a channel was not read, and which lie between no depths."""
    if not isinstance(extent, PointList):
        return ()
    return [point for point in extent.points if _light_at(found, channel, point) is None]


def _light_at(found: LightMap, channel: str, point: Point) -> tuple[float, bool] | None:
    """Return the light of a channel at a point, and whether it lies between depths; None if not known."""
    x, y, depth = point
    beside = np.hypot(found.x_cm - x, found.y_cm - y) <= POINT_SLACK_CM
    here = np.flatnonzero(beside & found.known(channel))
    if not here.size:
        return None
    off = np.abs(found.depth_cm[here] - depth)
    if off.min() <= POINT_SLACK_CM:
        return float(found.full[channel][here[int(off.argmin())]]), False
    order = here[np.argsort(found.depth_cm[here], kind="stable")]
    depths = found.depth_cm[order]
    if not depths[0] < depth < depths[-1]:
        return None
    return between_depths(depths, found.full[channel][order], depth), True
