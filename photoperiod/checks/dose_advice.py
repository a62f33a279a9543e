"""A factor of light that brings the doses of all zones into their bands, tried before it is told."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from photoperiod.checks.more_than_controller_holds import more_than_controller_holds
from photoperiod.checks.night_too_short import night_too_short
from photoperiod.checks.ppfd_above_most import ppfd_above_most
from photoperiod.checks.rises_too_fast import rises_too_fast
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.channel_day import CompiledDay, Role, ZoneDay
from photoperiod.program.model import Program, Table
from photoperiod.program.scaled_day import scaled_day
from photoperiod.schedule.guards import unknown_in
from photoperiod.schedule.model import Schedule
from photoperiod.text import number_text

#: A check of one table.
Guard = Callable[[Program], Iterator[Diagnostic]]

#: With more tables than these no factor is tried: each trial fits all channels of each table anew.
MOST_TABLES = 12

#: So many factors are tried: rows and levels may give a little less or more than is asked of them.
MOST_FACTORS = 4

#: Factors are told in these steps.
FACTOR_STEP = 0.01

#: Factors that differ by less are the same.
SLACK = 1e-9

#: Nights that are shorter by at most this are the same: a factor moves the edge of a ramp [s]. Our choice.
NIGHT_SLACK_S = 60.0

#: What a trial must not break, and must not make worse where it is broken now: checks of zones, each with
#: what it looks at (more is worse), and by how much more is the same.
_GUARDS: tuple[tuple[Guard, Callable[[ZoneDay], float], float], ...] = (
    (ppfd_above_most, lambda z: z.peak_ppfd, PPFD_SLACK),
    (rises_too_fast, lambda z: z.steepest_rise_per_minute, PPFD_SLACK),
    (night_too_short, lambda z: -z.night_s, NIGHT_SLACK_S),
)


def dose_advice(program: Program) -> str:
    """Return in words what brings the dose of every zone into its band; empty if nothing is known to.

    Light is multiplied by one factor, on all channels that have a day, so that colours stay. The factor
    is tried: tables are fitted to the brighter or dimmer day, and no dose may then be outside its band
    on any date, no other limit newly broken or broken by more than now, and no channel asked for more
    than its output gives. Nothing is told where some light is not known, where days of burn-in are among
    the dates, or where a table stands for dates that want different light.
    """
    zones, channels = program.schedule.zones, program.schedule.channels
    if len(program.tables) > MOST_TABLES:
        return ""
    if any(unknown_in(zone, channels.values()) for zone in zones.values()):
        return ""
    if any(c.role != Role.PLAN for table in program.tables for c in table.channels.values()):
        return ""
    if any(table.season is not None for table in program.tables):
        return ""
    scaled = [id for id, channel in channels.items() if channel.day is not None]
    for factor in _factors(program):
        if scaled and all(_holds(program, table, factor, scaled) for table in program.tables):
            names = ", ".join(f"'{id}'" for id in scaled)
            is_broken = any(_broken(program.schedule, table.day) for table in program.tables)
            kept = "breaks no other limit" if is_broken else "keeps all limits"
            return (
                f"multiply the light of the day of {names} by {number_text(factor)}: tried, and it {kept};"
                " change it slowly"
            )
    return ""


def _factors(program: Program) -> Iterator[float]:
    """Yield factors that bring all doses into their bands by arithmetic, the least change first."""
    least, most = 0.0, math.inf
    for table in program.tables:
        for z in table.zones.values():
            if z.zone.dli_band is None:
                continue
            low, high = z.zone.dli_band
            for dose, darkest in _doses(z):
                if dose > 0:
                    most = min(most, high / dose)
                if darkest > 0:
                    least = max(least, low / darkest)
                elif low > 0:
                    return
    is_more = least > 1.0
    steps = (
        math.ceil(least / FACTOR_STEP - SLACK)
        if is_more
        else math.floor(most / FACTOR_STEP + SLACK)
    )
    for _ in range(MOST_FACTORS):
        factor = round(steps * FACTOR_STEP, 2)
        if not (least - SLACK <= factor <= most + SLACK and factor > 0):
            return
        yield factor
        steps += 1 if is_more else -1


def _holds(program: Program, table: Table, factor: float, scaled: list[str]) -> bool:
    """Return whether a factor does no harm on the dates of a table, and brings its doses into bands."""
    day = scaled_day(program.schedule, table, factor, scaled)
    if day is None or not _is_in_bands(day):
        return False
    if any(True for _ in more_than_controller_holds(_alone(program.schedule, day))):
        return False
    before = _broken(program.schedule, table.day)
    return all(
        place in before and harm <= before[place] + slack
        for place, (harm, slack) in _harms(program.schedule, day).items()
    )


def _broken(schedule: Schedule, day: CompiledDay) -> dict[tuple[str, str], float]:
    """Return how bad each finding of the guards is on a day, by its code and its zone."""
    return {place: harm for place, (harm, _) in _harms(schedule, day).items()}


def _harms(schedule: Schedule, day: CompiledDay) -> dict[tuple[str, str], tuple[float, float]]:
    """Return the same, each with the difference that is none."""
    alone = _alone(schedule, day)
    zone_of = {zone.path: id for id, zone in schedule.zones.items()}
    found = {}
    for guard, harm, slack in _GUARDS:
        for each in guard(alone):
            id = next(id for path, id in zone_of.items() if each.path[: len(path)] == path)
            found[each.code, id] = (harm(day.zones[id]), slack)
    return found


def _alone(schedule: Schedule, day: CompiledDay) -> Program:
    """Return a program of one day without a date."""
    return Program(
        schedule=schedule,
        span=None,
        tables=(Table(span=None, day=day),),
        first_day_by_plan=day,
        tubes={},
    )


def _is_in_bands(day: CompiledDay) -> bool:
    return all(
        z.zone.dli_band[0] <= darkest and dose <= z.zone.dli_band[1]
        for z in day.zones.values()
        if z.zone.dli_band is not None
        for dose, darkest in _doses(z)
    )


def _doses(z: ZoneDay) -> tuple[tuple[float, float], ...]:
    """Return the DLI of a zone, and that of its darkest place, on the first and the last date."""
    return (z.dli.replay, z.dli_least), (z.dli_at_end, z.dli_least_at_end)
