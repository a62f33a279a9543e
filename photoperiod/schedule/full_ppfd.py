"""PPFD of channels at full in the zones: as numbers of the file, or from files of readings beside it.

What reads those files is imported only where a schedule names one.
"""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from photoperiod.arrays import Floats
from photoperiod.diagnostics.model import Path
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import FileFindings, attempt
from photoperiod.schedule.model import Ballast, PpfdSpread, Zone
from photoperiod.schedule.readings_files import ReadingsFiles, check_digest, files_of_channels
from photoperiod.schedule.tubes import moment
from photoperiod.text import counted, number_text, short

if TYPE_CHECKING:
    from photoperiod.readings.light_map import LightMap
    from photoperiod.readings.model import Readings


@dataclass(frozen=True, slots=True)
class ReadingsFile:
    """A file of readings, and the map that follows from it."""

    readings: Readings
    map: LightMap


class LightMaps:
    """The maps of all files of readings that a schedule names, each read once.

    Parameters
    ----------
    files : ReadingsFiles
        The bytes of the files.
    ballasts : mapping of str to Ballast or None
        They tell what light a reading below full was taken at.
    findings : FileFindings
        The findings on the schedule; those on a file are told where the schedule names it first.
    """

    def __init__(
        self,
        files: ReadingsFiles,
        ballasts: Mapping[str, Ballast | None],
        findings: FileFindings,
    ) -> None:
        self._files, self._ballasts, self._findings = files, ballasts, findings
        self._maps: dict[str, ReadingsFile | None] = {}
        for name, path in files_of_channels(findings.top.data).items():
            if path not in findings.top.bad:
                self._maps[name] = attempt(functools.partial(self._read, name, path))

    def of(self, name: str) -> ReadingsFile:
        """Return a file and its map, or raise AlreadyReported."""
        found = self._maps.get(name)
        if found is None:
            raise AlreadyReported
        return found

    def _read(self, name: str, path: Path) -> ReadingsFile:
        """Return a file and its map; AlreadyReported too if the ballast of a channel has a fault."""
        from photoperiod.readings.read_map import Names, read_map

        raw = self._files.bytes_of(name, path)
        names = Names(self._findings.ids("channels"), self._findings.ids("zones"))
        found = read_map(name, raw, self._light_at, names)
        self._files.tell(name, found.faults, path)
        if found.readings is None or found.map is None:
            raise AlreadyReported
        self._files.digests[name] = found.readings.table.sha256
        return ReadingsFile(found.readings, found.map)

    def _light_at(self, channel: str, volts: Floats) -> Floats:
        """Return the light of a channel at some volts, or raise AlreadyReported."""
        about = self._findings.top.data["channels"][channel]
        ballast = self._ballasts.get(str(about.get("ballast"))) if isinstance(about, dict) else None
        if ballast is None:
            raise AlreadyReported
        return ballast.curve.light_at(volts)


@dataclass(frozen=True, slots=True, kw_only=True)
class FullPpfd:
    """What a schedule says of one channel's PPFD at full; the names are those of `Channel`."""

    full_ppfd: Mapping[str, float] = field(default_factory=dict)
    ppfd_spread: Mapping[str, PpfdSpread] = field(default_factory=dict)
    measured_on: dt.date | None = None
    beyond_readings: tuple[str, ...] = ()


def read_full_ppfd(
    id: str,
    channel: Cursor,
    zones: Mapping[str, Zone | None],
    maps: LightMaps,
    findings: FileFindings,
) -> FullPpfd:
    """Return the PPFD of a channel at full, or raise AlreadyReported.

    Parameters
    ----------
    id : str
        The channel.
    channel : Cursor
        Its mapping in the file.
    zones : mapping of str to Zone or None
        All zones of the file, None where one has a fault.
    maps : LightMaps
        The files of readings.
    findings : FileFindings
        Findings are added here.
    """
    if not channel.has("full_ppfd"):
        return FullPpfd()
    cursor = channel.child("full_ppfd")
    measured_on: dt.date | None = None
    if cursor.has("measured_on"):
        measured_on = moment(cursor.text("measured_on"), cursor.at("measured_on"), findings).date()
    known, typed = True, {}
    by_zone = cursor.child_or_empty("zones")
    for name in by_zone.data:
        known &= findings.knows(name, "zones", by_zone.at(name), on_key=True)
        typed[name] = by_zone.number(name)
    if not known:
        raise AlreadyReported
    if not cursor.has("readings"):
        if not typed:
            findings.add(
                "PHO202",
                cursor.path,
                "'full_ppfd' lacks 'zones' or 'readings'",
                "write the PPFD of each zone, or name a file of readings",
                on_key=True,
            )
            raise AlreadyReported
        return FullPpfd(full_ppfd=typed, measured_on=measured_on)
    file = maps.of(cursor.text("readings"))
    check_digest(cursor, file.readings.name, file.readings.table.sha256, findings)
    if id not in file.map.full:
        findings.add(
            "PHO908",
            cursor.at("readings"),
            f"'{short(file.readings.name)}' has no reading of channel '{id}'",
            f"it has those of {', '.join(file.map.full)}",
        )
        raise AlreadyReported
    worth = _lux_per_umol(id, cursor, file.readings, findings)
    found = _in_water(id, cursor, file, findings)
    per_m = _fall_off(id, cursor, found, findings)
    dose, spread, beyond = _by_zone(id, cursor, typed, zones, found, worth, per_m, findings)
    return FullPpfd(
        full_ppfd=dose,
        ppfd_spread=spread,
        beyond_readings=beyond,
        measured_on=_date(id, cursor, file.readings, measured_on, findings),
    )


def _lux_per_umol(id: str, cursor: Cursor, readings: Readings, findings: FileFindings) -> float:
    """Return what 1 µmol m⁻² s⁻¹ of a channel is in the unit of its readings, or raise AlreadyReported."""
    from photoperiod.readings.model import LightUnit

    is_lux, stated = readings.unit is LightUnit.LUX, cursor.has("lux_per_umol")
    if is_lux and not stated:
        findings.add(
            "PHO911",
            cursor.at("readings"),
            f"'{short(readings.name)}' holds lux, and doses need PPFD: what a lux of channel '{id}' is worth"
            " hangs on its spectrum",
            "write `lux_per_umol`, as `photoperiod measure lux` tells it from a spectrum; or measure PPFD",
        )
        raise AlreadyReported
    if stated and not is_lux:
        findings.add(
            "PHO910",
            cursor.at("lux_per_umol"),
            f"'{short(readings.name)}' holds PPFD, not lux",
            "remove `lux_per_umol`",
        )
        raise AlreadyReported
    return cursor.number("lux_per_umol", 1.0)


def _in_water(id: str, cursor: Cursor, file: ReadingsFile, findings: FileFindings) -> LightMap:
    """Return the map of a channel in the water of today, or raise AlreadyReported."""
    change_per_m = cursor.number("water_change_per_m", 0.0)
    if not change_per_m:
        return file.map
    from photoperiod.readings.columns import Quantity

    if Quantity.DEPTH not in file.readings.columns:
        findings.add(
            "PHO908",
            cursor.at("water_change_per_m"),
            f"'{short(file.readings.name)}' tells no depths, so the path through the water is not known",
            "give the readings a column `depth_cm`",
        )
        raise AlreadyReported
    return file.map.in_other_water(id, change_per_m)


def _fall_off(id: str, cursor: Cursor, found: LightMap, findings: FileFindings) -> float | None:
    """Return the fall-off to follow beyond the readings, None if the schedule does not say so. [1/m]"""
    if cursor.text("beyond_readings", "refuse") == "refuse":
        return None
    from photoperiod.readings.fall_off import fall_off_of_channel

    told = fall_off_of_channel(found, id, None)
    if told is None:
        findings.add(
            "PHO908",
            cursor.at("beyond_readings"),
            f"channel '{id}' was not read at enough depths of the same place, so its fall-off is not known",
            "read three or more depths, one below the other",
        )
        raise AlreadyReported
    return told.per_m.value


def _by_zone(
    id: str,
    cursor: Cursor,
    typed: Mapping[str, float],
    zones: Mapping[str, Zone | None],
    found: LightMap,
    worth: float,
    per_m: float | None,
    findings: FileFindings,
) -> tuple[dict[str, float], dict[str, PpfdSpread], tuple[str, ...]]:
    """Return the PPFD of a channel by zone, for doses and for limits, and the zones beyond readings.

    ``worth`` is what 1 µmol m⁻² s⁻¹ is in the unit of the readings, ``per_m`` the fall-off to follow.
    """
    from photoperiod.readings.tank_zones import points_not_told, zone_light

    dose, spread, beyond = dict(typed), {}, []
    for zone in zones.values():
        if zone is None:
            raise AlreadyReported
        for point in points_not_told(found, id, zone.extent, per_m):
            where = ", ".join(number_text(number, 1) for number in point)
            findings.add(
                "PHO908",
                cursor.at("readings"),
                f"channel '{id}' was not read at the point ({where}) of zone '{zone.id}', nor above and"
                " below it",
                "read it there, or take the point out of the zone; beyond the readings nothing is told,"
                " unless `beyond_readings: fall-off` says so",
            )
        light = zone_light(found, id, zone.id, zone.extent, per_m)
        if light is None:
            continue
        if zone.id in typed:
            findings.add(
                "PHO910",
                cursor.at("zones", zone.id),
                f"zone '{zone.id}' has a number here, and {light.points} points in the readings",
                "keep one of the two",
            )
            continue
        if light.between:
            findings.add(
                "PHO909",
                cursor.at("readings"),
                f"channel '{id}' was not read at {light.between} of {counted(light.points, 'point')} of zone"
                f" '{zone.id}': they lie between depths that were, and are interpolated",
            )
        if light.beyond:
            beyond.append(zone.id)
            findings.add(
                "PHO917",
                cursor.at("beyond_readings"),
                f"channel '{id}' was not read at {light.beyond} of {counted(light.points, 'point')} of zone"
                f" '{zone.id}', nor above or below: its fall-off of {number_text(per_m or 0.0)} per metre is"
                " followed",
                "read it there: near tubes light rises faster than that",
            )
        use = zone.from_readings
        dose[zone.id] = light.value(use.dose) / worth
        spread[zone.id] = PpfdSpread(
            limits=light.value(use.limits) / worth, dli_least=light.value(use.dli_least) / worth
        )
    if not dose:
        findings.add(
            "PHO908",
            cursor.at("readings"),
            f"no reading of channel '{id}' is in a zone",
            "give the zones an `extent` in the coordinates of the readings, or the readings a column `zone`",
        )
        raise AlreadyReported
    in_file_order = {zone: dose[zone] for zone in zones if zone in dose}
    return in_file_order, spread, tuple(beyond)


def _date(
    id: str,
    cursor: Cursor,
    readings: Readings,
    stated: dt.date | None,
    findings: FileFindings,
) -> dt.date | None:
    """Return when a channel was measured: as the schedule says, or as all its readings do."""
    dates = readings.dates_of(id)
    if not dates or (stated and dates[0] <= stated <= dates[-1]):
        return stated
    span = " to ".join(str(day) for day in dict.fromkeys((dates[0], dates[-1])))
    if stated is not None:
        findings.add(
            "PHO910",
            cursor.at("measured_on"),
            f"the readings of channel '{id}' are of {span}, not of {stated}",
            "correct one of the two: the tubes of that date count",
        )
        raise AlreadyReported
    if len(dates) > 1:
        findings.add(
            "PHO910",
            cursor.at("readings"),
            f"the readings of channel '{id}' are of several dates, {span}",
            "say of which tubes they are: `measured_on: " + f"{dates[-1]}`",
        )
        raise AlreadyReported
    return dates[0]
