"""A day on which channels give more or less light than planned, fitted anew: what advice is tried on."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.channel_day import Brightness, CompiledDay, compile_day
from photoperiod.program.day_fit import fit_day, plan_targets
from photoperiod.program.model import Table
from photoperiod.schedule.day_plan import Day, Points, Ramps, SunDay
from photoperiod.schedule.model import Schedule


def scaled_day(
    schedule: Schedule, table: Table, factor: float, scaled: Collection[str]
) -> CompiledDay | None:
    """Return what tables would give if the days of some channels were planned brighter or dimmer.

    Moonlight stays as it is. The tubes are those of the table.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    table : Table
        A table by the plan, of dates that all want the same.
    factor : float
        What each light that the days name is multiplied by. [ratio]
    scaled : collection of str
        The channels whose days change, by id.

    Returns
    -------
    CompiledDay or None
        None if a channel would have to give more than its output can.
    """
    channels = {
        id: replace(channel, day=_scaled(channel.day, factor))
        if id in scaled and channel.day is not None
        else channel
        for id, channel in schedule.channels.items()
    }
    changed = replace(schedule, channels=channels)
    curves = DayCurves(changed).curves(table.span.first if table.span else None)
    for id in scaled:
        if curves[id].most_light > table.channels[id].path.most_light:
            return None
    brightness = {
        id: Brightness(each.brightness, each.brightness_at_end)
        for id, each in table.channels.items()
    }
    fitted = fit_day(changed, plan_targets(changed, curves))
    return compile_day(changed, curves, fitted, {}, brightness)


def _scaled(day: Day, factor: float) -> Day:
    """Return a day each of whose lights is multiplied by a factor."""
    match day:
        case Ramps():
            peaks = tuple(replace(peak, light=peak.light * factor) for peak in day.peaks)
            return replace(day, peaks=peaks)
        case Points():
            points = tuple(replace(point, light=point.light * factor) for point in day.points)
            return replace(day, points=points)
        case SunDay():
            return replace(day, peak_light=day.peak_light * factor)
