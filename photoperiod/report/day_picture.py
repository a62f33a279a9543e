"""A day as a small picture in plain characters: a row for each channel, a cell for each half hour.

It gets values and returns text. It knows nothing of terminals, files or schedules.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from photoperiod.arrays import Floats
from photoperiod.text import number_text, width
from photoperiod.units import SECONDS_PER_DAY, SECONDS_PER_HOUR

CELLS = 48
CELL_S = SECONDS_PER_DAY // CELLS

#: What a cell shows: dark, the floor, and then six equal steps of light from the floor to the peak.
SIGNS = " .:-=+*#"
DARK, FLOOR, STEPS = SIGNS[0], SIGNS[1], SIGNS[2:]

#: Under a row, the half hours in which the table has a row.
MARK = "^"

#: Light that is above the floor by less than this is the floor [fraction of full].
SLACK = 1e-6

_PEAK = "peak light"

#: What the signs mean, in lines that are no wider than a picture with short names.
LEGEND = (
    "A sign is half an hour, its most light: '.' the floor, '#' the channel's",
    "peak; blank is dark. '^' marks the rows of the table.",
)


@dataclass(frozen=True, slots=True)
class PicturedChannel:
    """What a picture shows of one channel.

    Parameters
    ----------
    name : str
        What stands before its row: one line, no control characters.
    light : ndarray, shape (86400,)
        The light given in each second of the day. [fraction of full]
    floor_light : float
        The least light that its ballast holds. [fraction of full]
    row_seconds : tuple of int
        When its table has rows. [s]
    """

    name: str
    light: Floats
    floor_light: float
    row_seconds: tuple[int, ...] = ()


def day_picture(channels: Sequence[PicturedChannel], room: int, *, ruler: bool = True) -> list[str]:
    """Return the picture as lines; none where it has no room, or no channel.

    Parameters
    ----------
    channels : sequence of PicturedChannel
        The channels, from the top down. Each is scaled by its own peak, which stands at its end, so that
        a moon of 2 % is seen as well as a sun of 80 %.
    room : int
        How many columns a line may take.
    ruler : bool
        True to have the hours above the rows.
    """
    names = max((width(channel.name) for channel in channels), default=0)
    if not channels or names + len(" |") + CELLS + len("  ") + len(_PEAK) > room:
        return []
    lines = [f"{' ' * names}  {_hours()}  {_PEAK}"] if ruler else []
    marks = [_marks(channel.row_seconds) for channel in channels]
    share_times = len(set(marks)) == 1
    for channel, marked in zip(channels, marks, strict=True):
        gap = " " * (names - width(channel.name))
        peak = number_text(float(channel.light.max()) * 100, 1)
        lines.append(f"{channel.name}{gap} |{cells(channel.light, channel.floor_light)}|  {peak} %")
        if not share_times:
            lines.append(f"{' ' * names}  {marked}".rstrip())
    if share_times:
        lines.append(f"{' ' * names}  {marks[0]}".rstrip())
    return [line for line in lines if line]


def cells(light: Floats, floor_light: float) -> str:
    """Return 48 signs, one for the most light within each half hour.

    Parameters
    ----------
    light : ndarray, shape (86400,)
        The light given in each second of the day. [fraction of full]
    floor_light : float
        The least light that the ballast holds. [fraction of full]
    """
    peak = float(light.max())
    most = light.reshape(CELLS, CELL_S).max(axis=1)
    return "".join(_sign(float(each), floor_light, peak) for each in most)


def _sign(light: float, floor_light: float, peak: float) -> str:
    """Return the sign of a light, beside the floor and the peak of its channel. [fraction of full]"""
    if light <= 0:
        return DARK
    if light <= floor_light + SLACK:
        return FLOOR
    share = (light - floor_light) / (peak - floor_light)
    return STEPS[min(max(math.ceil(share * len(STEPS) - SLACK), 1), len(STEPS)) - 1]


def _hours() -> str:
    """Return the ruler: each second hour, where its first half hour stands."""
    cells_per_label = 2 * SECONDS_PER_HOUR // CELL_S
    return "".join(f"{hour:02d}".ljust(cells_per_label) for hour in range(0, 24, 2))


def _marks(row_seconds: Sequence[int]) -> str:
    """Return 48 signs, of which those are marked in whose half hour a row stands."""
    marked = {second % SECONDS_PER_DAY // CELL_S for second in row_seconds}
    return "".join(MARK if cell in marked else " " for cell in range(CELLS))
