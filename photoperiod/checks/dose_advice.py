"""What brings the doses of all zones into their bands, tried before it is told.

All light times one factor is the cheap way: it keeps colours and hours. What it asks to write is compiled
and checked first. Where no factor will do, the way to `photoperiod solve` is told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace

from photoperiod.checks.night_too_short import night_too_short
from photoperiod.checks.ppfd_above_most import ppfd_above_most
from photoperiod.checks.rises_too_fast import rises_too_fast
from photoperiod.diagnostics.model import Diagnostic, Path
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.channel_day import CompiledDay, Role, ZoneDay
from photoperiod.program.model import Program, Table
from photoperiod.program.scaled_day import DECIMALS, scaled_day, scaled_schedule
from photoperiod.schedule.day_plan import Day, Points, Ramps, SunDay, follows_sky
from photoperiod.schedule.guards import unknown_in
from photoperiod.schedule.model import Schedule, Zone
from photoperiod.text import and_list, number_text

#: Returns what all checks but that of doses find on a program, accepted or not.
Others = Callable[[Program], list[Diagnostic]]

#: A check of one table.
Guard = Callable[[Program], Iterator[Diagnostic]]

#: With more tables than these no factor is tried: each trial fits all channels of each table anew.
MOST_TABLES = 12

#: So many factors are tried: rows and levels may give a little less or more than is asked of them.
MOST_FACTORS = 4

#: Factors are told in these steps.
FACTOR_STEP = 0.01

#: Lights of so many points are told one by one.
MOST_LIGHTS = 12

#: Factors that differ by less are the same.
SLACK = 1e-9

#: Nights that are shorter by at most this are the same: a factor moves the edge of a ramp [s]. Our choice.
NIGHT_SLACK_S = 60.0

#: What a trial must not make worse where it is broken now: checks of zones, each with what it looks at (more
#: is worse), and by how much more is the same.
_GUARDS: tuple[tuple[Guard, Callable[[ZoneDay], float], float], ...] = (
    (ppfd_above_most, lambda z: z.peak_ppfd, PPFD_SLACK),
    (rises_too_fast, lambda z: z.steepest_rise_per_minute, PPFD_SLACK),
    (night_too_short, lambda z: -z.night_s, NIGHT_SLACK_S),
)


def dose_advice(program: Program, others: Others) -> str:
    """Return in words what brings the dose of every zone into its band; empty if nothing is known to.

    Light is multiplied by one factor, on all channels that have a day, so that colours stay. The lights
    that come of it are tried as they are told, rounded: tables are fitted to them, and no dose may
    then be outside its band on any date, no check may find what it does not find now, no limit may be
    broken by more than now, and no channel may be asked for more than its output gives. Where no such
    factor is found, it is told how a day is asked for.

    Nothing is told where some light is not known, where changes act, where doses are asked for already,
    where days of burn-in are among the dates, or where a table stands for dates that want different light.

    Parameters
    ----------
    program : Program
        The program of which a dose is outside its band.
    others : callable
        Returns what all other checks find on a program.
    """
    schedule = program.schedule
    zones, channels = schedule.zones, schedule.channels
    if (
        schedule.changes
        or schedule.asks_for_doses
        or any(unknown_in(zone, channels.values()) for zone in zones.values())
    ):
        return ""
    if any(c.role != Role.PLAN for table in program.tables for c in table.channels.values()):
        return ""
    if any(table.season is not None for table in program.tables):
        return ""
    return _factor_advice(program, others) or _asking_advice(program)


def _factor_advice(program: Program, others: Others) -> str:
    """Return the advice to multiply all light by a factor; empty if none will do."""
    schedule = program.schedule
    scaled = [id for id, channel in schedule.channels.items() if channel.day is not None]
    if not scaled or len(program.tables) > MOST_TABLES:
        return ""
    before: set[tuple[str, Path, str]] | None = None
    for factor in _factors(program):
        trial = _tried(program, factor, scaled)
        if trial is None:
            continue
        if before is None:
            before = _places(others(program))
        if not _places(others(trial)) <= before:
            continue
        is_broken = any(_harms(schedule, table.day) for table in program.tables)
        kept = "breaks no other limit" if is_broken else "keeps all limits"
        days = [(id, schedule.channels[id].day, trial.schedule.channels[id].day) for id in scaled]
        told = "; ".join(_lights_words(*each) for each in days)
        return (
            f"multiply the light of all days by {number_text(factor)}: {told}. Tried, and it {kept};"
            " change it slowly"
        )
    return ""


def _asking_advice(program: Program) -> str:
    """Return how a day is asked for where one can be looked for; empty elsewhere."""
    schedule = program.schedule
    outside = [z.zone for z in program.zones.values() if not _is_in_band(z)]
    movable = [
        id
        for id, channel in schedule.channels.items()
        if isinstance(channel.day, Ramps)
        and not follows_sky(channel.day)
        and program.channels[id].wanted_peak <= program.channels[id].path.most_light + SLACK
        and any(peak.light for peak in channel.day.peaks)
        and any(channel.full_ppfd.get(zone.id) for zone in outside)
    ]
    if schedule.needs_dates or not movable:  # none where tubes are outside only later, as they fade
        return ""
    asks = and_list([f"`wanted_dli: {_band_text(zone)}` in zone '{zone.id}'" for zone in outside])
    named = and_list([f"'{id}'" for id in movable])
    return (
        f"all light times one factor will not do. Ask for the dose: write {asks}, and `may_move` in {named}"
        " (for example `may_move: {peak_light_percent: [40, 90], day_hours: [10, 12]}`); then `photoperiod"
        " solve FILE` finds the day, or says what stands against it"
    )


def _band_text(zone: Zone) -> str:
    low, high = zone.dli_band or (0.0, 0.0)
    return f"[{number_text(low, 4)}, {number_text(high, 4)}]"


def _lights_words(id: str, before: Day | None, after: Day | None) -> str:
    """Return in words what is written for the day of a channel."""
    match before, after:
        case Ramps(), Ramps(peaks=peaks):
            lights = [each.light for each in peaks]
        case SunDay(), SunDay():
            lights = [after.peak_light]
        case Points(), Points(points=points):
            lights = [each.light for each in points]
            if len(lights) > MOST_LIGHTS:
                return f"each `light_percent` of '{id}', rounded to {DECIMALS} decimals"
        case _:
            raise TypeError(f"the day of '{id}' has no lights")
    told = ", ".join(number_text(light * 100, DECIMALS) for light in lights)
    return f"`light_percent` of '{id}' {told}"


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


def _tried(program: Program, factor: float, scaled: list[str]) -> Program | None:
    """Return the program of light times a factor; None if a dose stays outside, or a limit is broken more."""
    changed = scaled_schedule(program.schedule, factor, scaled)
    tables = []
    for table in program.tables:
        day = scaled_day(changed, table, scaled)
        if day is None or not all(_is_in_band(z) for z in day.zones.values()):
            return None
        before = _harms(program.schedule, table.day)
        if any(
            harm > before.get(place, (math.inf, 0.0))[0] + slack
            for place, (harm, slack) in _harms(changed, day).items()
        ):
            return None
        tables.append(replace(table, day=day))
    first = tables[0].day
    return replace(program, schedule=changed, tables=tuple(tables), first_day_by_plan=first)


def _places(found: Iterable[Diagnostic]) -> set[tuple[str, Path, str]]:
    """Return the codes and places of findings."""
    return {(each.code, each.path, each.variant) for each in found}


def _harms(schedule: Schedule, day: CompiledDay) -> Mapping[tuple[str, str], tuple[float, float]]:
    """Return how bad each finding of the guards is on a day, and the difference that is none.

    By its code and its zone.
    """
    alone = Program(
        schedule=schedule,
        span=None,
        tables=(Table(span=None, day=day),),
        first_day_by_plan=day,
        tubes={},
    )
    zone_of = {zone.path: id for id, zone in schedule.zones.items()}
    found = {}
    for guard, harm, slack in _GUARDS:
        for each in guard(alone):
            id = next(id for path, id in zone_of.items() if each.path[: len(path)] == path)
            found[each.code, id] = (harm(day.zones[id]), slack)
    return found


def _is_in_band(z: ZoneDay) -> bool:
    band = z.zone.dli_band
    return band is None or all(
        band[0] <= darkest and dose <= band[1] for dose, darkest in _doses(z)
    )


def _doses(z: ZoneDay) -> tuple[tuple[float, float], ...]:
    """Return the DLI of a zone, and that of its darkest place, on the first and the last date."""
    return (z.dli.replay, z.dli_least), (z.dli_at_end, z.dli_least_at_end)
