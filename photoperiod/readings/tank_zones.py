"""A map of the light of a tank → what each channel gives to a zone: the mean, the least and the most.

A zone is a box, a list of points, or whatever the file calls by its name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.arrays import Bools, Floats, np
from photoperiod.readings.extent import Extent, PointList, Statistic
from photoperiod.readings.light_map import LightMap

#: A point that is named in the schedule may be this far from where it was read [cm]. Our choice.
POINT_SLACK_CM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLight:
    """What one channel gives to a zone at full, by the points that were read in it.

    Parameters
    ----------
    mean, least, most : float
        Of the points. [µmol m⁻² s⁻¹, or lux]
    points : int
        How many there are.
    """

    mean: float
    least: float
    most: float
    points: int

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


def zone_light(found: LightMap, channel: str, inside: Bools) -> ZoneLight | None:
    """Return what a channel gives to the points of a zone, None if it was read at none of them.

    Parameters
    ----------
    found : LightMap
        The map.
    channel : str
        A channel of the map.
    inside : ndarray, shape (points,)
        True for the points of the zone, as `points_inside` gives them.
    """
    values = found.full[channel][inside & found.known(channel)]
    if not values.size:
        return None
    return ZoneLight(
        mean=float(values.mean()),
        least=float(values.min()),
        most=float(values.max()),
        points=int(values.size),
    )


def points_inside(found: LightMap, id: str, extent: Extent) -> Bools:
    """Return which points of a map are in a zone, shape (points,)."""
    if extent is None:
        return np.array([zone == id for zone in found.zones], dtype=bool)
    if isinstance(extent, PointList):
        inside = np.zeros(len(found.zones), dtype=bool)
        for point in extent.points:
            inside |= _distance_cm(found, point) <= POINT_SLACK_CM
        return inside
    inside = np.ones(len(found.zones), dtype=bool)
    for values, (low, high) in (
        (found.x_cm, extent.x_cm),
        (found.y_cm, extent.y_cm),
        (found.depth_cm, extent.depth_cm),
    ):
        inside &= (values >= low) & (values <= high)
    return inside


def points_not_read(
    found: LightMap, channel: str, extent: Extent
) -> Sequence[tuple[float, float, float]]:
    """Return the points of a list at which a channel was not read."""
    if not isinstance(extent, PointList):
        return ()
    known = found.known(channel)
    return [
        point
        for point in extent.points
        if not (known & (_distance_cm(found, point) <= POINT_SLACK_CM)).any()
    ]


def _distance_cm(found: LightMap, point: tuple[float, float, float]) -> Floats:
    x, y, depth = point
    square = (found.x_cm - x) ** 2 + (found.y_cm - y) ** 2 + (found.depth_cm - depth) ** 2
    return np.where(np.isfinite(square), np.sqrt(square), np.inf)
