"""The light of a lamp whose relay is welded, in the hours in which it should be dark.

A controller that draws lines rises from the row that switches off, of level 0, to the next lit row: all
night, behind an open relay. A row of level 0 one time step before the lamp lights, a *guard row*, keeps
the level at 0 until then.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.drive.grid import Between, Row, TimeGrid
from photoperiod.drive.light_path import LIGHT_SLACK, LightPath
from photoperiod.drive.replay import play
from photoperiod.units import SECONDS_PER_DAY


@dataclass(frozen=True, slots=True)
class WeldedLight:
    """What a welded relay adds on a day, beside what level 0 would give all night.

    Parameters
    ----------
    most_light : float
        The most light in the dark, but for the time step before the lamp lights. [fraction of full]
    second : int
        When that is. [s]
    extra_s : float
        Light beyond that of level 0, over the same time. [s at full]
    """

    most_light: float
    second: int
    extra_s: float


def guard_seconds(rows: Sequence[Row], times: TimeGrid, path: LightPath) -> tuple[int, ...]:
    """Return the times at which a guard row could stand and does not. [s]

    Only a relay in the rows of a controller that draws lines leaves such times.
    """
    if not path.dark_by_row or times.between == Between.HOLD:
        return ()
    found = []
    for row, following in zip(rows, [*rows[1:], rows[0]], strict=True):
        length = following.second - row.second
        if length <= 0:
            if not times.wraps:
                continue  # until midnight the last level stays
            length += SECONDS_PER_DAY
        if not row.relay and following.relay and length > times.step_s:
            found.append((following.second - times.step_s) % SECONDS_PER_DAY)
    return tuple(sorted(found))


def with_guard_rows(rows: Sequence[Row], times: TimeGrid, path: LightPath) -> tuple[Row, ...]:
    """Return rows with a guard row wherever one could stand. The light is the same."""
    guards = (Row(second, 0, False) for second in guard_seconds(rows, times, path))
    return tuple(sorted([*rows, *guards]))


def welded_light(rows: Sequence[Row], times: TimeGrid, path: LightPath) -> WeldedLight | None:
    """Return what a welded relay would add on a day, None if no more than level 0 gives."""
    ends = guard_seconds(rows, times, path)
    if not ends:
        return None
    replay = play(rows, times, path.levels, path)
    # A level behind an open relay only rises, so that it is highest right before the lamp lights.
    light = path.closed_light[replay.at(np.array(ends, dtype=np.int64)).step_counts]
    highest = int(light.argmax())
    if light[highest] <= path.closed_light[0] + LIGHT_SLACK:
        return None
    more = path.closed_light[replay.step_counts] - path.closed_light[0]
    extra = replay.each_second(np.where(replay.step_relays, 0.0, more))
    for end in ends:
        extra[np.arange(end + 1, end + times.step_s) % SECONDS_PER_DAY] = 0.0
    return WeldedLight(float(light[highest]), ends[highest], float(extra.sum()))
