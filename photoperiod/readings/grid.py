"""A grid of points to measure on, for the size of a tank.

The spacing is that of EN 12464-1, which is about rooms: p = 0.2 · 5^log10(d) for the longer side d, both
in metres, and as many points along a side as the nearest whole number of its length over p. It is
borrowed here; a tank is smaller than any room, and no standard says how to measure one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.text import number_text

#: The least points along a side: those of the table in EN 12464-1 for its shortest side.
LEAST_POINTS = 3

#: The columns of the CSV to fill in.
CSV_COLUMNS = (
    "x_cm",
    "y_cm",
    "depth_cm",
    "channel",
    "level_percent",
    "ppfd_umol_m2_s",
    "immersion_factor",
    "immersion_applied",
    "date",
)

#: Depths are this far from the surface and the bottom at least, as a share of the depth. Our choice.
EDGE_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Grid:
    """Points to measure on. [cm]"""

    x_cm: tuple[float, ...]
    y_cm: tuple[float, ...]
    depth_cm: tuple[float, ...]

    @property
    def size(self) -> int:
        """How many points there are."""
        return len(self.x_cm) * len(self.y_cm) * len(self.depth_cm)


def spacing_cm(longer_side_cm: float) -> float:
    """Return the largest spacing of points for the longer side of an area, by EN 12464-1. [cm]"""
    return 20.0 * math.pow(5.0, math.log10(longer_side_cm / 100.0))


def measuring_grid(length_cm: float, width_cm: float, depths_cm: Sequence[float]) -> Grid:
    """Return the grid for a tank: the middles of equal fields, at the depths that are given.

    Parameters
    ----------
    length_cm, width_cm : float
        The sides of the tank, seen from above. [cm]
    depths_cm : sequence of float
        The depths below the surface. [cm]
    """
    spacing = spacing_cm(max(length_cm, width_cm))
    return Grid(
        x_cm=_middles(length_cm, spacing),
        y_cm=_middles(width_cm, spacing),
        depth_cm=tuple(depths_cm),
    )


def even_depths(water_cm: float, count: int) -> tuple[float, ...]:
    """Return some depths of a tank, evenly from near the surface to near the bottom, in whole cm."""
    if count == 1:
        return (_whole(water_cm / 2),)
    edge = EDGE_SHARE * water_cm
    step = (water_cm - 2 * edge) / (count - 1)
    return tuple(_whole(edge + step * index) for index in range(count))


def _whole(number: float) -> float:
    return float(math.floor(number + 0.5))


def _middles(side_cm: float, spacing: float) -> tuple[float, ...]:
    count = max(math.floor(side_cm / spacing + 0.5), LEAST_POINTS)
    return tuple(round(side_cm * (index + 0.5) / count, 1) for index in range(count))


def grid_csv(grid: Grid, channels: Sequence[str]) -> str:
    """Return the CSV to fill in, which `read_readings` reads back: a row for each point and channel."""
    lines = [",".join(CSV_COLUMNS)]
    for channel in channels:
        for depth in grid.depth_cm:
            for y in grid.y_cm:
                for x in grid.x_cm:
                    where = ",".join(number_text(value, 1) for value in (x, y, depth))
                    lines.append(f"{where},{channel},100,,,,")
    return "".join(f"{line}\r\n" for line in lines)


def grid_sheet(grid: Grid, channels: Sequence[str]) -> str:
    """Return a sheet to print and fill in at the tank: one field of blanks for each channel and depth."""
    lines = []
    for channel in channels:
        for depth in grid.depth_cm:
            lines += [
                f"channel {channel}, alone, at full    depth {number_text(depth, 1)} cm    date ________",
                "y \\ x cm" + "".join(f"{number_text(x, 1):>9}" for x in grid.x_cm),
            ]
            lines += [f"{number_text(y, 1):>8}" + "   ______" * len(grid.x_cm) for y in grid.y_cm]
            lines.append("")
    return "\n".join(lines)
