"""A map of the light of a tank → the lines of `full_ppfd` of each channel, or why there are none.

A line that `check` would refuse is no help: where the readings, the zones and the file do not yet fit
together, it is said what is missing instead.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from photoperiod.readings.extent import Extent
from photoperiod.readings.light_map import LightMap
from photoperiod.readings.model import LightUnit, Readings
from photoperiod.readings.tank_zones import ZoneLight, points_not_told, zone_light
from photoperiod.text import number_text, plain_number

#: What brings readings and zones together.
WAY_INTO_ZONES = (
    "give zones an `extent` in the coordinates of the readings, or the readings a column `zone`"
)

#: Text that YAML reads as it stands, unless it is one of `_OTHERWISE`.
_PLAIN = re.compile(r"[A-Za-z0-9_.][A-Za-z0-9_./-]*")

#: What YAML takes for a number, yes or no, or nothing.
_OTHERWISE = re.compile(
    r"true|false|null|yes|no|on|off|y|n|\.+|\.inf|\.nan|0[xo][0-9a-f]+|[.0-9]+(e[-+]?[0-9]+)?", re.I
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """What to write under `full_ppfd` of a channel.

    Parameters
    ----------
    keys : mapping of str to str or float
        The keys and their values; empty if the readings can't be used yet.
    why_not, way_out : str
        What is missing then, and how to get it; empty if nothing is.
    """

    keys: Mapping[str, str | float] = field(default_factory=dict)
    why_not: str = ""
    way_out: str = ""

    @property
    def yaml(self) -> str:
        """The lines as YAML."""
        rows = [f"  {key}: {_written(value)}\n" for key, value in self.keys.items()]
        return "full_ppfd:\n" + "".join(rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class Meant:
    """The schedule that lines are meant for.

    Parameters
    ----------
    zones : mapping of str to Box, PointList or None
        Its zones by id, with where they are.
    file : str or None
        The path of the file of readings from its folder; None if it has none.
    lux_per_umol : mapping of str to float
        What 1 µmol m⁻² s⁻¹ of a channel is in lux, where that is known.
    follow : mapping of str to float
        The fall-off that is followed beyond the readings, for channels of which it says so. [1/m]
    """

    zones: Mapping[str, Extent]
    file: str | None = None
    lux_per_umol: Mapping[str, float] = field(default_factory=dict)
    follow: Mapping[str, float] = field(default_factory=dict)

    def light(self, found: LightMap, channel: str, zone: str) -> ZoneLight | None:
        """Return what a channel of a map gives to a zone, None if that is not known."""
        return zone_light(found, channel, zone, self.zones[zone], self.follow.get(channel))


def lines_of(readings: Readings, found: LightMap, meant: Meant) -> dict[str, Lines]:
    """Return the lines of each channel of a map: of its readings, for a schedule."""
    return {id: _lines(id, readings, found, meant) for id in found.full}


def _lines(id: str, readings: Readings, found: LightMap, meant: Meant) -> Lines:
    missing = _missing(id, readings, found, meant)
    if missing is not None or meant.file is None:
        return missing or Lines()
    keys: dict[str, str | float] = {
        "readings": meant.file,
        "readings_sha256": readings.table.sha256,
    }
    if readings.unit is LightUnit.LUX:
        keys["lux_per_umol"] = meant.lux_per_umol[id]
    dates = readings.dates_of(id)
    if len(dates) > 1:
        keys["measured_on"] = str(dates[-1])
    if id in meant.follow:
        keys["beyond_readings"] = "fall-off"
    return Lines(keys=keys)


def _missing(id: str, readings: Readings, found: LightMap, meant: Meant) -> Lines | None:
    """Return what stands between a channel and its lines, None if nothing does."""
    if not meant.zones:
        return Lines(
            why_not="no zone is known here",
            way_out=f"{WAY_INTO_ZONES}; then name the schedule with --schedule",
        )
    for zone, extent in meant.zones.items():
        for point in points_not_told(found, id, extent, meant.follow.get(id)):
            where = ", ".join(number_text(number, 1) for number in point)
            return Lines(
                why_not=f"it was not read at the point ({where}) of zone '{zone}', nor above and below it",
                way_out="read it there; or take the point out of the zone; or follow the fall-off"
                " (`beyond_readings: fall-off` under `full_ppfd`)",
            )
    if not any(meant.light(found, id, zone) for zone in meant.zones):
        return Lines(why_not="no reading of it is in a zone", way_out=WAY_INTO_ZONES)
    if readings.unit is LightUnit.LUX and id not in meant.lux_per_umol:
        return Lines(
            why_not="these are lux, and doses need PPFD",
            way_out="`photoperiod measure lux` tells from a spectrum what a lux of a channel is worth; then"
            " add --lux-per-umol CHANNEL NUMBER",
        )
    if meant.file is None:
        return Lines(
            why_not="a schedule can name a file only",
            way_out="save the readings beside the schedule, and name that file here",
        )
    return None


def _written(value: str | float) -> str:
    """Return a value as YAML: a JSON string is one, too."""
    if not isinstance(value, str):
        return plain_number(value)
    is_plain = _PLAIN.fullmatch(value) and not _OTHERWISE.fullmatch(value)
    return value if is_plain else json.dumps(value, ensure_ascii=False)
