"""The channels that may move, with the bounds of what moves on the controller's grids."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from photoperiod.days.signals import DayFault
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.light_path import LIGHT_SLACK, LightPath
from photoperiod.program.day_fit import light_path
from photoperiod.schedule.day_plan import Ramps
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.solve.moved_day import bounds_of, longer, scaled, steps_that_fit
from photoperiod.text import number_text
from photoperiod.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE


@dataclass(frozen=True, slots=True, kw_only=True)
class Mover:
    """A channel whose day may move.

    Parameters
    ----------
    channel, day, path : Channel, Ramps, LightPath
        The channel, its day by the file, and its way from level to light.
    group : str
        The channel whose factor of light is its own, too.
    factors : (float, float)
        Least and most factor of the light of its peaks. [ratio]
    steps : (int, int)
        By how many steps each end of its day may move outward, least and most.
    step_s : int
        One such step: the least multiple of the controller's that is a minute or more. [s]
    """

    channel: Channel
    day: Ramps
    path: LightPath
    group: str
    factors: tuple[float, float]
    steps: tuple[int, int]
    step_s: int

    @property
    def id(self) -> str:
        """Its channel."""
        return self.channel.id

    @property
    def peak(self) -> float:
        """Its brightest peak by the file. [fraction of full]"""
        return max(peak.light for peak in self.day.peaks)

    def at(self, factor: float, steps: int) -> Ramps:
        """Return its day with another light and other ends."""
        day = longer(self.day, steps * self.step_s) if steps else self.day
        assert day is not None, "steps are within bounds"
        return scaled(day, factor)


def movers_of(schedule: Schedule) -> dict[str, Mover]:
    """Return the channels of a schedule that may move, by id.

    Raises
    ------
    DayFault
        If the bounds of a channel leave no day on the controller's grid.
    """
    return {
        id: _mover(schedule, channel)
        for id, channel in schedule.channels.items()
        if channel.may_move is not None and isinstance(channel.day, Ramps)
    }


def _mover(schedule: Schedule, channel: Channel) -> Mover:
    moves, day = channel.may_move, channel.day
    assert moves is not None
    assert isinstance(day, Ramps)
    path = light_path(schedule, channel)
    peak = max(each.light for each in day.peaks)
    low, high = moves.peak_light or ((0.0, 1.0) if moves.together_with else (peak, peak))
    if low < high:
        low, high = _on_levels(path, low, high)
    grid_s = schedule.controller.times.step_s
    step_s = grid_s * math.ceil(SECONDS_PER_MINUTE / grid_s)
    steps = (0, 0)
    if moves.day_s is not None:
        start, end = bounds_of(day)
        least, most = ((bound - (end - start)) / (2 * step_s) for bound in moves.day_s)
        steps = steps_that_fit(day, step_s, (math.ceil(least), math.floor(most)))
        if steps[0] > steps[1]:
            raise DayFault([_no_length(channel, moves.day_s, step_s)])
    return Mover(
        channel=channel,
        day=day,
        path=path,
        group=moves.together_with or channel.id,
        factors=(low / peak, high / peak),
        steps=steps,
        step_s=step_s,
    )


def _on_levels(path: LightPath, low: float, high: float) -> tuple[float, float]:
    """Return the least and the most light of a level within bounds; the bounds if there is none."""
    light = path.burning_light[path.first_lit_count : path.top_count + 1]
    within = light[(light >= low - LIGHT_SLACK) & (light <= high + LIGHT_SLACK)]
    return (float(within.min()), float(within.max())) if within.size else (low, high)


def _no_length(channel: Channel, day_s: tuple[int, int], step_s: int) -> Diagnostic:
    low, high = (number_text(bound / SECONDS_PER_HOUR) for bound in day_s)
    return Diagnostic(
        code="PHO341",
        path=(*channel.path, "may_move", "day_hours"),
        message=f"the day of channel '{channel.id}' can't be made {low} to {high} h long by moving both"
        f" ends in steps of {number_text(step_s / SECONDS_PER_MINUTE)} min between other peaks and midnight",
        help="widen the bounds, or write other times into the day",
    )


def groups_of(movers: Mapping[str, Mover]) -> dict[str, tuple[float, float]]:
    """Return the factors of light that are free, each with the bounds that all of its channels leave."""
    found: dict[str, tuple[float, float]] = {}
    for mover in movers.values():
        low, high = found.get(mover.group, (0.0, math.inf))
        found[mover.group] = max(low, mover.factors[0]), min(high, mover.factors[1])
    return found
