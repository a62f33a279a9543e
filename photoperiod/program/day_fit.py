"""Fit the tables of all channels for one day, within the limits of the zones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.curves.curve import Curve, day_seconds
from photoperiod.drive.light_path import LightPath
from photoperiod.drive.zone_light import PPFD_SLACK, full_ppfd_now, zone_ppfd
from photoperiod.program.guard_rows import fit_with_guard_rows, plan_doses
from photoperiod.schedule.model import Channel, Schedule
from photoperiod.setpoints.fit import Fit, Target
from photoperiod.units import SECONDS_PER_DAY


@dataclass(frozen=True, slots=True)
class FittedChannel:
    """The table of a channel for a day, and the target to which it was fitted."""

    target: Target
    fit: Fit


def is_held(found: FittedChannel, rows_held: int) -> bool:
    """Return whether a table fits the rows of a controller and is still one of its day."""
    return found.fit.is_held(rows_held, float(found.target.reachable.max()))


def light_path(schedule: Schedule, channel: Channel) -> LightPath:
    """Return the light path of a channel under the schedule's controller."""
    controller = schedule.controller
    return LightPath.shared(
        controller.levels,
        controller.converter,
        channel.ballast.curve,
        controller.relay,
        channel.converter,
    )


def plan_targets(schedule: Schedule, curves: Mapping[str, Curve]) -> dict[str, Target]:
    """Return the targets of a day by the plan for the channels whose day curves are given."""
    return {id: _target(schedule, schedule.channels[id], curve) for id, curve in curves.items()}


def _target(schedule: Schedule, channel: Channel, curve: Curve) -> Target:
    path = light_path(schedule, channel)
    wanted = curve.light(day_seconds())
    return Target(
        name=channel.id,
        reachable=channel.ballast.curve.reachable(wanted, path.most_light),
        corners=tuple(sorted(curve.corners())),
        path=path,
        weight=channel.weight,
        dose_within=schedule.controller.dose_within,
    )


def fit_day(
    schedule: Schedule,
    targets: Mapping[str, Target],
    known: Mapping[str, FittedChannel] | None = None,
    brightness: Mapping[str, float] | None = None,
) -> dict[str, FittedChannel]:
    """Return the tables of all channels for a day.

    If a table would lift a zone over a limit that the reachable plan keeps, the channels that light
    the zone are fitted again, never above their plans; the targets and tables that are returned say so.

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    targets : mapping of channel to Target
        What each channel should do.
    known : mapping of channel to FittedChannel or None
        Tables fitted before. Where channels have times of their own, a table of the very same target
        is taken from here.
    brightness : mapping of channel to float or None
        Light at full beside that when PPFD was measured, 1 for a channel that it lacks. [ratio]
    """
    fits = fit_channels(schedule, targets, known)
    wanted = {id: target.reachable for id, target in targets.items()}
    kept_for: dict[str, set[str]] = {}
    for _ in range(2):  # once more where what is left of the others' errors is still too much
        given = {id: found.replay.light for id, found in fits.items()}
        lifting = _lifting(schedule, wanted, given, brightness or {})
        if not lifting:
            break
        targets = {
            id: replace(target, may_exceed=False) if id in lifting else target
            for id, target in targets.items()
        }
        for id, zones in lifting.items():
            kept_for.setdefault(id, set()).update(zones)
        fits = fit_channels(schedule, targets, known)
    fits |= {id: replace(fits[id], kept_for=tuple(sorted(zones))) for id, zones in kept_for.items()}
    if schedule.found is not None and schedule.found.rows:
        from photoperiod.program.found_rows import with_found_rows  # most have none

        rows = {each.channel: each for each in schedule.found.rows}
        shares_times = schedule.controller.shared_times
        fits = with_found_rows(targets, fits, rows, shares_times=shares_times)
    return {id: FittedChannel(targets[id], fits[id]) for id in targets}


def _lifting(
    schedule: Schedule,
    wanted: Mapping[str, Floats],
    given: Mapping[str, Floats],
    brightness: Mapping[str, float],
) -> dict[str, set[str]]:
    """Return the channels that are above their plans while they lift zones over their limits.

    By channel, with those zones. None of a zone whose limit the plan itself breaks.
    """
    found: dict[str, set[str]] = {}
    for zone in schedule.zones.values():
        limit = None if zone.ppfd_max is None else zone.ppfd_max + PPFD_SLACK
        by_plan = ppfd_in(schedule, zone.id, wanted, brightness, for_limits=True)
        if limit is None or np.max(by_plan) > limit:
            continue
        over = ppfd_in(schedule, zone.id, given, brightness, for_limits=True) > limit
        for id, c in schedule.channels.items():
            if c.limit_ppfd.get(zone.id) and (given[id] > wanted[id])[over].any():
                found.setdefault(id, set()).add(zone.id)
    return found


def ppfd_in(
    schedule: Schedule,
    zone_id: str,
    light: Mapping[str, Floats],
    brightness: Mapping[str, float],
    *,
    for_limits: bool = False,
) -> Floats:
    """Return what a zone gets from all channels, shape (86400,). [µmol m⁻² s⁻¹]

    Parameters
    ----------
    schedule : Schedule
        A schedule without faults.
    zone_id : str
        The zone.
    light : mapping of channel to ndarray, shape (86400,)
        Light of every channel. [fraction of full]
    brightness : mapping of channel to float
        Light at full beside that when PPFD was measured, 1 for a channel that it lacks. [ratio]
    for_limits : bool
        True for what limits are held against, False for doses.
    """
    measured = {
        id: c.limit_ppfd if for_limits else c.full_ppfd for id, c in schedule.channels.items()
    }
    return zone_ppfd(
        (
            (full_ppfd_now(by_zone[zone_id], brightness.get(id, 1.0)), light[id])
            for id, by_zone in measured.items()
            if zone_id in by_zone
        ),
        np.zeros(SECONDS_PER_DAY),
    )


def fit_channels(
    schedule: Schedule,
    targets: Mapping[str, Target],
    known: Mapping[str, FittedChannel] | None = None,
) -> dict[str, Fit]:
    """Return the tables of some channels, without regard to the limits of zones.

    Parameters are those of `fit_day`.
    """
    controller = schedule.controller
    groups = [list(targets)] if controller.shared_times else [[id] for id in targets]
    full_ppfd = {id: schedule.channels[id].full_ppfd for id in targets}
    zone_dose = plan_doses(targets, full_ppfd)
    found: dict[str, Fit] = {}
    for group in groups:
        before = (known or {}).get(group[0]) if len(group) == 1 else None
        if before is not None and before.target is targets[group[0]]:
            found[group[0]] = before.fit
            continue
        found |= fit_with_guard_rows(
            controller, {id: targets[id] for id in group}, full_ppfd, zone_dose
        )
    return found


def keeps_limits(schedule: Schedule, fits: Mapping[str, Fit]) -> bool:
    """Return whether the tables of all channels keep every zone's limit, light as measured."""
    limited = [zone for zone in schedule.zones.values() if zone.ppfd_max is not None]
    light = {id: found.replay.light for id, found in fits.items()} if limited else {}
    return all(
        float(np.max(ppfd_in(schedule, zone.id, light, {}, for_limits=True)))
        <= (zone.ppfd_max or 0.0) + PPFD_SLACK
        for zone in limited
    )
