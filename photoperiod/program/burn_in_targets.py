"""Targets of the channels that burn in, wait in the dark or give way, made from those by the plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.drive.ballast import DarkKind
from photoperiod.drive.grid import Between, TimeGrid
from photoperiod.setpoints.fit import Target
from photoperiod.tubes.burn_in_plan import Window
from photoperiod.tubes.burn_in_windows import MOMENT_S, window_mask
from photoperiod.units import SECONDS_PER_DAY

#: Weight of a channel at full among those that share its times: it has no error to give.
FULL_WEIGHT = 1e6

#: Scales whose slopes differ by less than this have no corner.
SLACK = 1e-9


def target_at_full(by_plan: Target, window: Window) -> Target:
    """Return the target of a channel that is full in a window and dark outside it."""
    mask = window_mask(*window)
    return replace(
        by_plan,
        reachable=np.where(mask, by_plan.path.top_light, 0.0),
        corners=tuple(sorted({second % SECONDS_PER_DAY for second in window})),
        may_exceed=True,
        weight=FULL_WEIGHT,
    )


def target_in_the_dark(by_plan: Target) -> Target:
    """Return the target of a channel that stays dark all day."""
    return replace(by_plan, reachable=np.zeros(SECONDS_PER_DAY), corners=())


def target_giving_way(by_plan: Target, scale: Floats, times: TimeGrid) -> Target:
    """Return the target of a channel that gives way; below its floor it goes dark if it can.

    Parameters
    ----------
    by_plan : Target
        What it would do otherwise.
    scale : ndarray, shape (1440,)
        What is left of its light. [fraction]
    times : TimeGrid
        The controller's grid of times.
    """
    followed, ballast = _followed(scale, times), by_plan.path.ballast
    wanted = by_plan.reachable * followed
    reachable = ballast.reachable(wanted, by_plan.path.most_light)
    if ballast.dark != DarkKind.NEVER:
        reachable[(followed < 1.0) & (wanted < ballast.floor_light)] = 0.0
    slope = np.diff(followed, append=followed[0])
    changes = np.flatnonzero(np.abs(slope - np.roll(slope, 1)) > SLACK)
    corners = tuple(sorted({*by_plan.corners, *changes.tolist()}))
    return replace(by_plan, reachable=reachable, corners=corners, may_exceed=False)


def _followed(scale: Floats, times: TimeGrid) -> Floats:
    """Return what rows on the grid of times can follow of a scale, never above it, shape (86400,)."""
    step_s = times.step_s
    least = np.repeat(scale, MOMENT_S).reshape(-1, step_s).min(axis=1)
    if times.between == Between.HOLD:
        return np.repeat(least, step_s)
    nodes = np.minimum(least, np.roll(least, 1))
    part = np.arange(SECONDS_PER_DAY) % step_s / step_s
    return np.repeat(nodes, step_s) * (1 - part) + np.repeat(np.roll(nodes, -1), step_s) * part
