"""A map of the light of a tank → what each channel gives to a zone: the mean, the least and the most.

A zone is a box, a list of points, or whatever the file calls by its name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.arrays import Bools, Floats, np
from photoperiod.readings.extent import Box, Extent, PointList, Statistic
from photoperiod.readings.light_map import LightMap, between_depths, beyond_depths

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
    points, between, beyond : int
        How many there are; how many of them were not read but lie between two depths that were; and how
        many above or below all depths of their place, where the fall-off was followed.
    """

    mean: float
    least: float
    most: float
    points: int
    between: int = 0
    beyond: int = 0

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


class _Told(StrEnum):
    """How the light of a point is known."""

    READ = "read"
    BETWEEN = "between"
    BEYOND = "beyond"


def zone_light(
    found: LightMap, channel: str, id: str, extent: Extent, per_m: float | None = None
) -> ZoneLight | None:
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
    per_m : float or None
        The fall-off that is followed above and below all depths of a place; None if it is not. [1/m]
    """
    if isinstance(extent, PointList):
        all = [_light_at(found, channel, point, per_m) for point in extent.points]
        told = [each for each in all if each is not None]
        how = [each for _, each in told]
        return _of_values(
            np.array([light for light, _ in told]),
            how.count(_Told.BETWEEN),
            how.count(_Told.BEYOND),
        )
    return light_of_points(found, channel, points_inside(found, id, extent))


def light_of_points(found: LightMap, channel: str, inside: Bools) -> ZoneLight | None:
    """Return what a channel gives to some points of a map, of which it was read at some."""
    return _of_values(found.full[channel][inside & found.known(channel)])


def _of_values(values: Floats, between: int = 0, beyond: int = 0) -> ZoneLight | None:
    if not values.size:
        return None
    return ZoneLight(
        mean=float(values.mean()),
        least=float(values.min()),
        most=float(values.max()),
        points=int(values.size),
        between=between,
        beyond=beyond,
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


def points_not_told(
    found: LightMap, channel: str, extent: Extent, per_m: float | None = None
) -> Sequence[Point]:
    """Return the points of a list at which the light of a channel is not known; as `zone_light`."""
    if not isinstance(extent, PointList):
        return ()
    return [point for point in extent.points if _light_at(found, channel, point, per_m) is None]


def _light_at(
    found: LightMap, channel: str, point: Point, per_m: float | None
) -> tuple[float, _Told] | None:
    """Return the light of a channel at a point, and how it is told; None if it is not known."""
    x, y, depth = point
    beside = np.hypot(found.x_cm - x, found.y_cm - y) <= POINT_SLACK_CM
    here = np.flatnonzero(beside & found.known(channel))
    if not here.size:
        return None
    off = np.abs(found.depth_cm[here] - depth)
    if off.min() <= POINT_SLACK_CM:
        return float(found.full[channel][here[int(off.argmin())]]), _Told.READ
    order = here[np.argsort(found.depth_cm[here], kind="stable")]
    depths = found.depth_cm[order]
    is_between = bool(depths[0] < depth < depths[-1])
    if not is_between and per_m is None:
        return None
    light = between_depths(depths, found.full[channel][order], depth)
    if is_between or per_m is None:
        return light, _Told.BETWEEN
    nearest = float(depths[0] if depth < depths[0] else depths[-1])
    return beyond_depths(light, per_m, depth - nearest), _Told.BEYOND
