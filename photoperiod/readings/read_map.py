"""The bytes of a file of readings → its map, with every finding on the way."""

from __future__ import annotations

import contextlib
from collections.abc import Collection
from dataclasses import dataclass

from photoperiod.readings.columns import Quantity
from photoperiod.readings.doubts import doubts_about
from photoperiod.readings.fall_off import report_depths
from photoperiod.readings.faults import Faults, TooManyFaults
from photoperiod.readings.light_map import LightAt, LightMap, light_map
from photoperiod.readings.model import Readings
from photoperiod.readings.reader import read_readings
from photoperiod.text import short, suggestion


@dataclass(frozen=True, slots=True)
class Names:
    """The channels and zones that a file may name: those of a schedule."""

    channels: Collection[str]
    zones: Collection[str]


@dataclass(frozen=True, slots=True)
class MapFile:
    """A file of readings.

    Parameters
    ----------
    readings : Readings or None
        None if its cells have faults.
    map : LightMap or None
        None if there is any error among the findings.
    faults : Faults
        What was found.
    """

    readings: Readings | None
    map: LightMap | None
    faults: Faults


def read_map(name: str, raw: bytes, light_at: LightAt, names: Names | None) -> MapFile:
    """Return the readings in the bytes of a file, and the map that follows from them.

    Parameters
    ----------
    name : str
        What to call the file in messages.
    raw : bytes
        The whole file.
    light_at : callable
        As for `light_map`. It is asked only about channels that may be named.
    names : Names or None
        What the file may name; None for anything.
    """
    readings, faults = read_readings(name, raw, "map")
    found = None
    if readings is not None:
        with contextlib.suppress(TooManyFaults):
            found = _map(readings, light_at, names, faults)
    return MapFile(readings, None if faults.has_errors else found, faults)


def _map(
    readings: Readings, light_at: LightAt, names: Names | None, faults: Faults
) -> LightMap | None:
    if names is not None:
        _refuse_unknown_names(readings, names, faults)
    if faults.has_errors:
        return None
    found = light_map(readings, light_at, faults)
    if found is not None:
        doubts_about(readings, found, faults)
        report_depths(readings, found, faults)
    return found


def _refuse_unknown_names(readings: Readings, names: Names, faults: Faults) -> None:
    """Add a finding for each channel and zone of a file that its schedule does not have."""
    named = [(id, at, Quantity.CHANNEL) for at, on in enumerate(readings.channels) for id in on]
    named += [(zone, at, Quantity.ZONE) for at, zone in enumerate(readings.zones) if zone]
    seen: set[tuple[str, Quantity]] = set()
    for id, at, quantity in named:
        known = names.channels if quantity is Quantity.CHANNEL else names.zones
        if id in known or (id, quantity) in seen:
            continue
        seen.add((id, quantity))
        faults.add(
            "PHO910",
            readings.place(at, quantity),
            f"the schedule has no {quantity} '{short(id)}'",
            suggestion(id, known, str(quantity)),
        )
