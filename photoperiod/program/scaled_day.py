"""A day on which channels give more or less light than planned, fitted anew: what advice is tried on."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from photoperiod.curves.curve import day_seconds
from photoperiod.program.channel_day import Brightness, CompiledDay, compile_day
from photoperiod.program.day_fit import fit_day
from photoperiod.program.model import Table
from photoperiod.schedule.model import Schedule


def scaled_day(
    schedule: Schedule, table: Table, factor: float, scaled: Collection[str]
) -> CompiledDay | None:
    """Return what tables would give if some channels had another light at every moment.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    table : Table
        A table by the plan.
    factor : float
        What the light of the channels is multiplied by. [ratio]
    scaled : collection of str
        Those channels, by id; the others stay as they are.

    Returns
    -------
    CompiledDay or None
        None if a channel would have to give more than its output can.
    """
    curves, targets = {}, {}
    for id, channel_day in table.channels.items():
        curves[id], targets[id] = channel_day.curve_and_target()
        if id not in scaled:
            continue
        if channel_day.wanted_peak * factor > channel_day.path.most_light:
            return None
        wanted = curves[id].light(day_seconds()) * factor
        ballast = channel_day.channel.ballast.curve
        reachable = ballast.reachable(wanted, channel_day.path.most_light)
        targets[id] = replace(targets[id], reachable=reachable, may_exceed=True)
    brightness = {
        id: Brightness(each.brightness, each.brightness_at_end)
        for id, each in table.channels.items()
    }
    return compile_day(schedule, curves, fit_day(schedule, targets), {}, brightness)
