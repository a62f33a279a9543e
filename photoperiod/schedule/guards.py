"""What the limits of a schedule do not guard: zones without a limit, and light that is not known."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from photoperiod.diagnostics.unguarded import Unguarded, ZoneLimit
from photoperiod.schedule.model import Channel, Schedule, Zone


def not_guarded(schedule: Schedule) -> tuple[Unguarded, ...]:
    """Return what no limit of a schedule stands for.

    A limit that a zone has is not counted as a guard where the light of some channel is not known in
    the zone: the sum that the limit is held against lacks that light.
    """
    zones = schedule.zones.values()
    if not zones:
        return (Unguarded(limits=tuple(ZoneLimit), zones=(), because="the schedule has no zone"),)
    found = []
    for limit in ZoneLimit:
        without = tuple(zone.id for zone in zones if limit not in limits_of(zone))
        if without:
            found.append(Unguarded(limits=(limit,), zones=without, because=f"no {limit}"))
    for zone in zones:
        unknown = unknown_in(zone, schedule.channels.values())
        if unknown:
            found.append(
                Unguarded(
                    limits=limits_of(zone), zones=(zone.id,), because=_because_unknown(unknown)
                )
            )
    return tuple(found)


def limits_of(zone: Zone) -> tuple[ZoneLimit, ...]:
    """Return the limits that a zone has; the last two have a default, so that it always has them."""
    stated: dict[ZoneLimit, object] = {
        ZoneLimit.PPFD_MAX: zone.ppfd_max,
        ZoneLimit.DLI: zone.dli_band,
        ZoneLimit.RISE_PER_MINUTE: zone.ppfd_rise_per_minute_max,
        ZoneLimit.DARK_HOURS: zone.dark_hours_min,
        ZoneLimit.PEAK_RISE: zone.peak_rise_max,
    }
    return tuple(limit for limit, value in stated.items() if value is not None)


def unknown_in(zone: Zone, channels: Iterable[Channel]) -> tuple[str, ...]:
    """Return the channels whose light is not known in a zone, by id: ``full_ppfd`` leaves it out."""
    return tuple(channel.id for channel in channels if zone.id not in channel.full_ppfd)


def _because_unknown(ids: Collection[str]) -> str:
    names = ", ".join(f"'{id}'" for id in ids)
    return f"the light of {'channel' if len(ids) == 1 else 'channels'} {names} is not known there"
