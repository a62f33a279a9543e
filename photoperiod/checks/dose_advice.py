"""A factor of light that brings the doses of all zones into their bands, tried before it is told."""

from __future__ import annotations

import math
from collections.abc import Iterator

from photoperiod.checks.more_than_controller_holds import more_than_controller_holds
from photoperiod.checks.night_too_short import night_too_short
from photoperiod.checks.ppfd_above_most import ppfd_above_most
from photoperiod.checks.rises_too_fast import rises_too_fast
from photoperiod.program.channel_day import CompiledDay, Role, ZoneDay
from photoperiod.program.model import Program, Table
from photoperiod.program.scaled_day import scaled_day
from photoperiod.schedule.guards import unknown_in
from photoperiod.text import number_text

#: With more tables than these no factor is tried: each trial fits all channels of each table anew.
MOST_TABLES = 12

#: So many factors are tried: rows and levels may give a little less or more than is asked of them.
MOST_FACTORS = 4

#: Factors are told in these steps.
FACTOR_STEP = 0.01

#: Factors that differ by less are the same.
SLACK = 1e-9

#: What a trial must not break that holds now.
_GUARDS = (ppfd_above_most, rises_too_fast, night_too_short, more_than_controller_holds)


def dose_advice(program: Program) -> str:
    """Return in words what brings the dose of every zone into its band; empty if nothing is known to.

    Light is multiplied by one factor, on all channels that have a day, so that colours stay. The factor
    is tried: tables are fitted to the brighter or dimmer day, and no dose may then be outside its band
    on any date, no other limit broken, and no channel asked for more than its output gives. Nothing is
    told where some light is not known, where days of burn-in are among the dates, or where a table
    stands for dates that want different light.
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
            return (
                f"multiply the light of the day of {names} by {number_text(factor)}: tried, and it keeps"
                " all limits; change it slowly"
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
    trial = Program(
        schedule=program.schedule,
        span=None,
        tables=(Table(span=None, day=day),),
        first_day_by_plan=day,
        tubes={},
    )
    return not any(True for guard in _GUARDS for _ in guard(trial))


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
