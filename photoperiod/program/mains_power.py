"""What the ballasts of a channel take from the mains, second by second of a table's day."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from photoperiod.arrays import Floats, Ints
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.mains import PowerLine
from photoperiod.drive.replay import Replay
from photoperiod.schedule.model import Channel
from photoperiod.units import SECONDS_PER_HOUR


class BallastsOn(NamedTuple):
    """How many ballasts of a channel are at work where a part is out.

    Parameters
    ----------
    burning : float
        Ballasts that drive their lamps. One that goes on without a tube counts as less than one, by the
        share of the light that is lost.
    idle : float
        Ballasts that have stopped, and take as much as in the dark while they have mains.
    """

    burning: float
    idle: float = 0.0


def energy_kwh(
    channel: Channel,
    path: LightPath,
    replay: Replay,
    ballasts: BallastsOn | None,
    seconds: Ints | slice,
) -> float | None:
    """Return the mains energy of the seconds of a day that pass, as `mains_watts` has it. [kWh]"""
    watts = mains_watts(channel, path, replay, ballasts)
    return None if watts is None else float(watts[seconds].sum()) / SECONDS_PER_HOUR / 1000


def mains_watts(
    channel: Channel, path: LightPath, replay: Replay, ballasts: BallastsOn | None
) -> Floats | None:
    """Return what all ballasts of a channel take in each second of a table's day, shape (86400,). [W]

    None where their watts are not given. ``ballasts`` is None where no part of the channel is out.
    """
    watts = channel.ballast.watts
    if watts is None:
        return None
    line = PowerLine(channel.ballast.curve.floor_light, watts.floor, watts.full, watts.dark)
    # Behind an open relay there is no mains, so that a ballast takes nothing, whatever makes it dark.
    light, lit = replay.step_light, replay.step_lit
    has_mains = np.ones(lit.shape, dtype=bool)
    if path.dark_by_row:
        has_mains &= replay.step_relays
    if path.is_switched_by_level:
        has_mains &= path.follows_on[replay.step_counts]
    one = line.watts(light, lit, has_mains)
    if ballasts is None:
        return replay.each_second(one * channel.ballast_count)
    stopped = line.watts(light, np.zeros_like(lit), has_mains)
    return replay.each_second(one * ballasts.burning + stopped * ballasts.idle)
