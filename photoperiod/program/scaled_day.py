"""A day on which channels give more or less light than planned, fitted anew: what advice is tried on.

Lights are those that a keeper would write: in percent with two decimals.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.channel_day import Brightness, CompiledDay, compile_day
from photoperiod.program.day_fit import fit_day, plan_targets
from photoperiod.program.model import Table
from photoperiod.schedule.day_plan import Day, Points, Ramps, SunDay
from photoperiod.schedule.model import Schedule

#: Scaled lights are written with so many decimals of a percent.
DECIMALS = 2


def scaled_schedule(schedule: Schedule, factor: float, scaled: Collection[str]) -> Schedule:
    """Return a schedule in which the days of some channels are brighter or dimmer.

    Moonlight stays as it is.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    factor : float
        What each light that the days name is multiplied by, before it is rounded. [ratio]
    scaled : collection of str
        The channels whose days change, by id.
    """
    channels = {
        id: replace(channel, day=_scaled(channel.day, factor))
        if id in scaled and channel.day is not None
        else channel
        for id, channel in schedule.channels.items()
    }
    return replace(schedule, channels=channels)


def scaled_day(changed: Schedule, table: Table, scaled: Collection[str]) -> CompiledDay | None:
    """Return what the tables of a scaled schedule would give, with the tubes of a table.

    Parameters
    ----------
    changed : Schedule
        What `scaled_schedule` returned.
    table : Table
        A table by the plan, of dates that all want the same.
    scaled : collection of str
        The channels whose days changed, by id.

    Returns
    -------
    CompiledDay or None
        None if a channel would have to give more than its output can.
    """
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

    def light(before: float) -> float:
        return round(before * 100 * factor, DECIMALS) / 100

    match day:
        case Ramps():
            return replace(
                day, peaks=tuple(replace(each, light=light(each.light)) for each in day.peaks)
            )
        case Points():
            return replace(
                day, points=tuple(replace(each, light=light(each.light)) for each in day.points)
            )
        case SunDay():
            return replace(day, peak_light=light(day.peak_light))
