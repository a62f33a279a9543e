"""Where a zone is in its tank, and which value of its points stands for it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Statistic(StrEnum):
    """Which value of a zone's points stands for the zone."""

    MEAN = "mean"
    LEAST = "least"
    MOST = "most"


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A zone between two values of each coordinate, both included. [cm]"""

    x_cm: tuple[float, float]
    y_cm: tuple[float, float]
    depth_cm: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PointList:
    """A zone of some points, each (x, y, depth). [cm]"""

    points: tuple[tuple[float, float, float], ...]


#: Where a zone is; None is whatever a file of readings calls by the name of the zone.
Extent = Box | PointList | None
