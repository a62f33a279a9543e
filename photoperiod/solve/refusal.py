"""Why doses can't be had, in words: what fights, the nearest that can be, and what frees it.

Each dose and each way out that is told was tried: a day was looked for again, and its table was played.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.schedule.model import Schedule
from photoperiod.solve.bounds import Bound
from photoperiod.solve.trial import Trial
from photoperiod.solve.ways_out import ROOM, without, written
from photoperiod.text import and_list, number_text

#: Looks for days that give the doses of a schedule; None if none are found.
Look = Callable[[Schedule], Trial | None]

#: Of what stands against a dose so many are taken away, one at a time, to see whether that helps.
MOST_WAYS = 4

#: Said where each of what stands against a dose was changed by itself, and none of it helped.
NONE_ALONE = "to change only one of them is not enough for the dose"

#: Bands reach so much farther from the dose of the best table than what is asked for [ratio].
WIDER = (1.0, 2.0)

#: The nearest dose is looked for within this share of what the programme says, then within the wider ones.
NEAR_BANDS = (0.003, 0.01, 0.03)

#: So many halves of the way from there to the wanted dose are tried at most, until they differ by less than
#: the first band.
HALVINGS = 8


@dataclass(frozen=True, slots=True)
class Missed:
    """A dose that no day gives: by how much the nearest misses it, negative below, and what is against it.

    [mol m⁻² d⁻¹]
    """

    zone: str
    off: float
    against: Sequence[Bound]


def missed_finding(schedule: Schedule, missed: Missed, look: Look) -> Diagnostic:
    """Return the finding that the bounds of a schedule leave no day for a dose."""
    low, high = schedule.zones[missed.zone].wanted_dli or (0.0, 0.0)
    near = _nearest(schedule, missed, low if missed.off < 0 else high, look)
    told = and_list([each.text for each in missed.against]) or "what may not move"
    stand = "stand" if len(missed.against) > 1 else "stands"
    ways = _ways_out(schedule, missed.against, look)
    if ways:
        help = f"any one of these frees it, each was tried: {'; '.join(ways)}"
    elif near is not None and (asked := _as_asked(schedule, missed.zone, near, look)):
        help = f"ask for {asked} instead, which was tried; {NONE_ALONE}"
    else:
        help = f"let more move, or change several of these together; {NONE_ALONE}"
    nearest = (
        _without_it(schedule, missed.zone, look)
        if near is None
        else f" the nearest that was found is {number_text(near)};"
    )
    return _finding(
        missed.zone,
        f"{asks(schedule, missed.zone)} and no day gives it:{nearest} against"
        f" {'more' if missed.off < 0 else 'less'} light {stand} {told}",
        help,
    )


def not_near_finding(
    schedule: Schedule,
    trial: Trial,
    off: Mapping[str, float],
    why: str,
    look: Look,
) -> Diagnostic:
    """Return the finding that no table came near enough, with the doses that the best one gives.

    Parameters
    ----------
    schedule : Schedule
        What was asked.
    trial : Trial
        The best tables.
    off : mapping of zone to float
        How far their doses are off, in what is allowed; the worst first.
    why : str
        What is wrong with them.
    look : callable
        Looks for days.
    """
    zone = next(iter(off))
    help = "let more move, such as `day_hours`; or use a controller with finer levels or more rows"
    for wider in WIDER:
        bands = {id: _around(schedule, id, trial, wider) for id in off if abs(off[id]) > 1}
        zones = {id: replace(schedule.zones[id], wanted_dli=band) for id, band in bands.items()}
        if bands and look(replace(schedule, zones={**schedule.zones, **zones})) is not None:
            told = [
                f"`wanted_dli: [{number_text(low)}, {number_text(high)}]` in zone '{id}'"
                for id, (low, high) in bands.items()
            ]
            help = f"ask for a band, this was tried: {and_list(told)}; or let more move"
            break
    return _finding(
        zone, f"{asks(schedule, zone)} and no table was found that gives it: {why}", help
    )


def _around(schedule: Schedule, id: str, trial: Trial, wider: float) -> tuple[float, float]:
    """Return a band around the dose of a trial that holds what is asked for, within the zone's limits."""
    dose, zone = trial.day.zones[id].dli.replay, schedule.zones[id]
    wanted, limits = zone.wanted_dli or (dose, dose), zone.dli_band or (0.0, math.inf)
    half = wider * max(wanted[1] - dose, dose - wanted[0])
    low = max(math.floor((dose - half) * 100) / 100, limits[0], 0.01)
    return low, min(math.ceil((dose + half) * 100) / 100, limits[1])


def asks(schedule: Schedule, zone: str) -> str:
    """Return what a zone asks for, in words."""
    low, high = (number_text(each, 4) for each in schedule.zones[zone].wanted_dli or (0.0, 0.0))
    return f"zone '{zone}' asks for {low if low == high else f'{low} to {high}'} mol m⁻² d⁻¹,"


def _nearest(schedule: Schedule, missed: Missed, wanted: float, look: Look) -> float | None:
    """Return the nearest dose that a table was found for, rounded so that it can be asked for.

    The programme's own answer comes first. Where limits bend that it takes for straight, a dose between
    that and the wanted one may be had, too: so halves of the way are tried.
    """
    first = wanted + missed.off
    found = (_found_near(schedule, missed, first, share, look) for share in NEAR_BANDS)
    near = next((dose for dose in found if dose is not None), None)
    if near is None:
        return None
    beyond = wanted
    for _ in range(HALVINGS):
        middle = (near + beyond) / 2
        if abs(middle - near) <= NEAR_BANDS[0] * near:
            break
        dose = _found_near(schedule, missed, middle, NEAR_BANDS[0], look)
        if dose is None:
            beyond = middle
        else:
            near = dose
    return near


def _found_near(
    schedule: Schedule, missed: Missed, about: float, share: float, look: Look
) -> float | None:
    """Return a dose within a share of one that a table was found for; None if none was found."""
    zone, room = schedule.zones[missed.zone], about * share
    near = replace(zone, wanted_dli=(about - room, about + room), dli_band=None)
    found = look(replace(schedule, zones={**schedule.zones, zone.id: near}))
    if found is None:
        return None
    dose = found.day.zones[zone.id].dli.replay
    return (math.floor if missed.off < 0 else math.ceil)(dose * 100) / 100


def _without_it(schedule: Schedule, id: str, look: Look) -> str:
    """Return in words what all else that is asked for allows, where no nearest dose was found."""
    zone = replace(schedule.zones[id], wanted_dli=None)
    rest = replace(schedule, zones={**schedule.zones, id: zone})
    if not rest.asks_for_doses:
        return ""
    found = look(rest)
    if found is None:
        return " what else is asked for is not met without it either;"
    return f" a day that gives all else gives {number_text(found.day.zones[id].dli.replay)};"


def _as_asked(schedule: Schedule, id: str, near: float, look: Look) -> str:
    """Return a dose as it can be asked for: as a number, or else as a band; empty if it can't be."""
    low, high = schedule.zones[id].dli_band or (0.0, math.inf)
    for room in (0.0, ROOM):
        band = max(round(near - room, 2), low), min(round(near + room, 2), high)
        zone = replace(schedule.zones[id], wanted_dli=band)
        is_asked = low <= near <= high and look(
            replace(schedule, zones={**schedule.zones, id: zone})
        )
        if is_asked:
            return (
                f"[{number_text(band[0])}, {number_text(band[1])}]" if room else number_text(near)
            )
    return ""


def _ways_out(schedule: Schedule, against: Sequence[Bound], look: Look) -> list[str]:
    """Return what frees a dose, one at a time, as it is written; each was tried as it is written."""
    found = []
    for bound in against[:MOST_WAYS]:
        free = without(schedule, bound)
        trial = None if free is None or not free.asks_for_doses else look(free)
        way = None if trial is None else written(schedule, bound, trial)
        if way is not None and look(way.schedule) is not None:
            found.append(way.text)
    return found


def _finding(zone: str, message: str, help: str) -> Diagnostic:
    path = ("zones", zone, "wanted_dli")
    return Diagnostic(code="PHO803", path=path, message=message, help=help)
