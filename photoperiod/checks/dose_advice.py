"""What brings the doses of all zones into their bands, tried before it is told.

All light times one factor is the cheap way: it keeps colours and hours. What it asks to write is compiled
and checked first. Where no factor will do, the way to `photoperiod solve` is told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
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

    Where a table stands for a season, it would have to be fitted anew to all of its dates: there a factor
    is told by arithmetic, and that it was not tried.

    Nothing is told where some light is not known, where changes act, where doses are asked for already,
    or where days of burn-in are among the dates.

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
        return _season_advice(program)
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
        told = _all_lights_words(program, factor, scaled)
        return (
            f"multiply the light of all days by {number_text(factor)}: {told}. Tried, and it {kept};"
            " change it slowly"
        )
    return ""


def _season_advice(program: Program) -> str:
    """Return what arithmetic says of days that change with the sky; empty if it says nothing."""
    scaled = [id for id, channel in program.schedule.channels.items() if channel.day is not None]
    against = ""
    for factor in _factors(program):
        found = _stands_against(program, factor, scaled)
        if found is None:
            return (
                f"multiply the light of all days by {number_text(factor)}:"
                f" {_all_lights_words(program, factor, scaled)}. By arithmetic every date is then in its"
                " band. It was not tried, as each table stands for several dates: check the same dates"
                " again, and change it slowly"
            )
        if found and not against:
            against = (
                f"all light times {number_text(factor)} would bring every date into its band by arithmetic,"
                f" but {found}. It takes longer days with flatter ramps, or another band"
            )
    too_wide = [words for zone in program.zones if (words := _spread_words(program, zone))]
    days = [program.schedule.channels[id].day for id in scaled]
    if not too_wide or not any(day is not None and follows_sky(day) for day in days):
        return against
    return (
        f"no one factor will do: over these dates {and_list(too_wide)}. Widen the band, or make the seasons"
        " weaker: `seasons_percent` of `sky` (0: all year as at an equinox). Then check the same dates again"
    )


def _stands_against(program: Program, factor: float, scaled: Collection[str]) -> str | None:
    """Return what speaks by arithmetic against light times a factor; None if nothing does.

    Empty if a dose would be outside its band.
    """
    changed = scaled_schedule(program.schedule, factor, scaled)
    for table in program.tables:
        for id, z in table.zones.items():
            # Moonlight stays as it is, and may stand where it helps least.
            rest = sum(c.dli[id].replay for c, _ in z.sources if c.channel.id not in scaled)
            more, less = max(factor - 1.0, 0.0) * rest, max(1.0 - factor, 0.0) * rest
            low, high = z.zone.dli_band or (0.0, math.inf)
            for dose, darkest in _doses(z):
                if dose * factor + less > high or darkest * factor - more < low:
                    return ""
    for table in program.tables:
        for id in scaled:
            most = max(_lights(changed.channels[id].day))
            if most > table.channels[id].path.most_light + SLACK:
                return f"'{id}' can't give {number_text(most * 100)} % light"
        for id, z in table.zones.items() if factor > 1 else ():
            peak, rise = max(z.peak_ppfd, z.peak_ppfd_at_end), z.steepest_rise_per_minute
            limits = {
                "ppfd_max": (peak, z.zone.ppfd_max),
                "ppfd_rise_per_minute_max": (rise, z.zone.ppfd_rise_per_minute_max),
            }
            for key, (now, limit) in limits.items():
                if limit is not None and now * factor > limit + PPFD_SLACK:
                    return f"zone '{id}' would break its `{key}`"
    return None


def _spread_words(program: Program, id: str) -> str:
    """Return how far the doses of a zone lie apart, if no factor brings them into its band; else empty.

    What tubes lose does not count: that is not of the seasons.
    """
    band = program.schedule.zones[id].dli_band
    unfaded = [
        sum(c.dli[id].replay / c.brightness for c, _ in table.zones[id].sources if c.brightness > 0)
        for table in program.tables
    ]
    if band is None or min(unfaded) <= 0 or band[0] <= 0:
        return ""
    times = max(unfaded) / min(unfaded)
    if times <= band[1] / band[0] + SLACK:
        return ""
    doses = [dose for table in program.tables for dose, _ in _doses(table.zones[id])]
    return (
        f"zone '{id}' gets {number_text(min(doses))} to {number_text(max(doses))} mol m⁻² d⁻¹: its most is"
        f" {number_text(times)} times its least, where its band allows {number_text(band[1] / band[0])} times"
    )


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


def _all_lights_words(program: Program, factor: float, scaled: Collection[str]) -> str:
    """Return in words what is written for the days of all channels, multiplied by a factor."""
    changed = scaled_schedule(program.schedule, factor, scaled)
    return "; ".join(_lights_words(id, changed.channels[id].day) for id in scaled)


def _lights_words(id: str, day: Day | None) -> str:
    """Return in words what is written for the day of a channel."""
    lights = _lights(day)
    if isinstance(day, Points) and len(lights) > MOST_LIGHTS:
        return f"each `light_percent` of '{id}', rounded to {DECIMALS} decimals"
    told = ", ".join(number_text(light * 100, DECIMALS) for light in lights)
    key = "peak_light_percent" if isinstance(day, SunDay) else "light_percent"
    return f"`{key}` of '{id}' {told}"


def _lights(day: Day | None) -> list[float]:
    """Return the lights that a day names. [fraction of full]"""
    match day:
        case Ramps(peaks=peaks):
            return [each.light for each in peaks]
        case SunDay(peak_light=light):
            return [light]
        case Points(points=points):
            return [each.light for each in points]
        case _:
            raise TypeError("this day has no lights")


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
