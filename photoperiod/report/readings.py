"""What follows from readings, as text: tables to look at, and lines of YAML to paste."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from photoperiod.readings.extent import Extent, Statistic
from photoperiod.readings.light_map import LightMap
from photoperiod.readings.model import Readings
from photoperiod.readings.sweep import Sweep, sweep_yaml
from photoperiod.readings.tank_zones import ZoneLight, points_inside, zone_light
from photoperiod.text import columns, counted, number_text

#: What the statistics of a zone stand for, unless the schedule chooses others.
GUARDS = (
    "The most counts for `ppfd_max`, rises and nights, the mean for doses, the least for the lower end of"
    " `dli`;\n`from_readings` of a zone chooses others. Uniformity is the least over the mean."
)


def map_text(readings: Readings, found: LightMap, zones: Mapping[str, Extent], file: str) -> str:
    """Return what a map tells of zones, and the lines that bring it into a schedule.

    Parameters
    ----------
    readings, found : Readings, LightMap
        A file and its map.
    zones : mapping of str to Box, PointList or None
        The zones by id, with where they are.
    file : str
        What the schedule should call the file.
    """
    rows = []
    for id in found.full:
        shown = {
            zone: zone_light(found, id, points_inside(found, zone, extent))
            for zone, extent in zones.items()
        }
        shown["all points"] = zone_light(found, id, found.known(id))
        rows += [_zone_row(zone, id, light) for zone, light in shown.items() if light]
    head = ("zone", "channel", "points", "mean", "least", "most", "uniformity")
    unit = "PPFD in µmol m⁻² s⁻¹" if readings.unit == "ppfd_umol_m2_s" else "lux"
    lines = [
        f"{counted(len(readings), 'reading')} at {counted(len(found.zones), 'point')};"
        f" {unit} of each channel alone, at full",
        "",
        *columns(head, sorted(rows)),
        "",
        GUARDS,
        "",
        "To use it, write under each of these channels:",
        "",
        "full_ppfd:",
        f"  readings: {file}",
        f"  readings_sha256: {readings.table.sha256}",
    ]
    return "\n".join(lines) + "\n"


def _zone_row(zone: str, channel: str, light: ZoneLight) -> tuple[str, ...]:
    values = (
        light.value(statistic) for statistic in (Statistic.MEAN, Statistic.LEAST, Statistic.MOST)
    )
    return (
        zone,
        channel,
        str(light.points),
        *(number_text(value, 1) for value in values),
        f"{light.uniformity:.2f}",
    )


def sweep_text(readings: Readings, sweep: Sweep) -> str:
    """Return what a sweep tells of a ballast, and the lines to paste into a schedule."""
    rows = [
        (f"{volts:.2f}", _percent(raw), _percent(light))
        for volts, raw, light in zip(sweep.volts, sweep.raw, sweep.light, strict=True)
    ]
    lines = [
        f"{counted(len(readings), 'reading')} at {counted(len(sweep.volts), 'point')} with light",
        "",
        *columns(("volts", "read, % of full", "curve, %"), rows),
        "",
        f"floor   {_percent(sweep.floor_light)} % of full, up to {number_text(sweep.floor_volts)} V",
        f"full    from {number_text(sweep.full_volts)} V on",
        *_dark_line(sweep),
        *(
            f"dead    from {number_text(low)} to {number_text(high)} V light stays the same"
            for low, high in sweep.dead_zones
        ),
        f"noise   {_noise(sweep)}",
        *_law_lines(sweep),
        "",
        "To use it, write under the ballast:",
        "",
        sweep_yaml(sweep).rstrip("\n"),
    ]
    return "\n".join(lines) + "\n"


def _dark_line(sweep: Sweep) -> Iterable[str]:
    if sweep.dark_volts is not None:
        yield f"dark    at and below {number_text(sweep.dark_volts)} V"


def _noise(sweep: Sweep) -> str:
    if sweep.noise is None:
        return "not known: read some points twice"
    return f"one reading is off by {number_text(sweep.noise * 100)} % of full (standard deviation)"


def _law_lines(sweep: Sweep) -> Iterable[str]:
    """Yield how well each law fits, the best first."""
    for index, fit in enumerate(sweep.laws):
        word = "best   " if index == 0 else "       "
        yield (
            f"{word} {fit.kind}: off by {number_text(fit.rms * 100)} % of full (root mean square),"
            f" at most {number_text(fit.worst * 100)} %"
        )


def _percent(share: float) -> str:
    return number_text(share * 100)
