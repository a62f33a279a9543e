"""What follows from readings, as text: tables to look at, and lines of YAML to paste."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeVar

from photoperiod.readings.doubts import not_judged
from photoperiod.readings.extent import Extent, Statistic
from photoperiod.readings.fade import MOST_REACH, Fade, fade_yaml, forecast
from photoperiod.readings.fall_off import FallOff, LightAtDepth
from photoperiod.readings.light_map import LightMap
from photoperiod.readings.lines import WAY_INTO_ZONES, Lines, Meant
from photoperiod.readings.model import LightUnit, Readings
from photoperiod.readings.spectrum import SHIFT_NM, LuxWorth
from photoperiod.readings.sweep import Sweep, sweep_yaml
from photoperiod.readings.tank_zones import ZoneLight, light_of_points
from photoperiod.text import and_list, columns, counted, number_text

T = TypeVar("T")

#: What a fall-off is, and what it is not.
OF_THE_TANK = (
    "This is the fall-off in this tank: distance to the tubes and water together. It is not the attenuation\n"
    "of the water. For that, tell height, length and places of the tubes."
)

#: What an attenuation hangs on.
OF_THE_WATER = (
    "The geometry of the tubes is divided out, with what a flat surface refracts and reflects. Walls and\n"
    "sand are taken as black: a bright wall makes the number too small. Waves are not counted."
)

#: What the statistics of a zone stand for, unless the schedule chooses others.
GUARDS = (
    "The most counts for `ppfd_max`, rises and nights, the mean for doses, the least for the lower end of"
    " `dli`;\n`from_readings` of a zone chooses others. Uniformity is the least over the mean."
)


def map_text(
    readings: Readings,
    found: LightMap,
    meant: Meant,
    lines: Mapping[str, Lines],
    schedule: str | None,
) -> str:
    """Return what a map tells of zones, and the lines that bring it into a schedule.

    Parameters
    ----------
    readings, found : Readings, LightMap
        A file and its map.
    meant : Meant
        The schedule that it is meant for, with its zones.
    lines : mapping of str to Lines
        The lines to paste, by channel.
    schedule : str or None
        What that schedule is called; None for any in this folder.
    """
    rows = []
    for id in found.full:
        shown = {zone: meant.light(found, id, zone) for zone in meant.zones}
        shown["all points"] = light_of_points(found, id, found.known(id))
        rows += [_zone_row(zone, id, light) for zone, light in shown.items() if light]
    head = ("zone", "channel", "points", "mean", "least", "most", "uniformity")
    unit = "lux" if readings.unit is LightUnit.LUX else "PPFD in µmol m⁻² s⁻¹"
    text = [
        f"{counted(len(readings), 'reading')} at {counted(len(found.zones), 'point')};"
        f" {unit} of each channel alone, at full",
        "",
        *columns(head, sorted(rows)),
        "",
        GUARDS,
        *not_judged(found),
        *_empty_zones(found, meant),
        *_to_paste(lines, meant.zones, schedule),
    ]
    return "\n".join(text) + "\n"


def _empty_zones(found: LightMap, meant: Meant) -> list[str]:
    """Return lines about zones in which nothing was read, while something was in others."""
    empty = [
        zone for zone in meant.zones if not any(meant.light(found, id, zone) for id in found.full)
    ]
    if not empty or len(empty) == len(meant.zones):
        return []
    return [
        "",
        f"No reading is in {and_list(empty)}, so no limit there is called kept:",
        f"{WAY_INTO_ZONES}.",
    ]


def _to_paste(
    lines: Mapping[str, Lines], zones: Mapping[str, Extent], schedule: str | None
) -> list[str]:
    """Return what to write under which channels, and which have nothing to write yet, and why."""
    text = []
    for why, ids in _alike(lines, lambda each: (each.why_not, each.way_out)):
        if why[0]:
            text += ["", f"Nothing to paste yet for {and_list(ids)}: {why[0]}.", f"Try: {why[1]}."]
    where = f"of {schedule}"
    if schedule is None:
        where = f"of a schedule in this folder that has {_counted_zones(zones)}"
    for yaml, ids in _alike(lines, lambda each: each.yaml if each.keys else ""):
        if yaml:
            what = "channel" if len(ids) == 1 else "channels"
            text += ["", f"To use it, write under {what} {and_list(ids)} {where}:"]
            text += ["", yaml.rstrip("\n")]
    return text


def _counted_zones(zones: Mapping[str, Extent]) -> str:
    return f"{'zone' if len(zones) == 1 else 'zones'} {and_list(tuple(zones))}"


def _alike(lines: Mapping[str, Lines], key: Callable[[Lines], T]) -> Iterable[tuple[T, list[str]]]:
    """Return channels by what is alike of their lines."""
    groups: dict[T, list[str]] = {}
    for id, each in lines.items():
        groups.setdefault(key(each), []).append(id)
    return groups.items()


def _zone_row(zone: str, channel: str, light: ZoneLight) -> tuple[str, ...]:
    values = (
        light.value(statistic) for statistic in (Statistic.MEAN, Statistic.LEAST, Statistic.MOST)
    )
    return (
        zone,
        channel,
        str(light.points)
        + (f" ({light.between} between)" if light.between else "")
        + (f" ({light.beyond} beyond)" if light.beyond else ""),
        *(
            number_text(round(value, 9), 1) for value in values
        ),  # as in JSON: 43.45 is 43.5 there, too
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


def fade_text(readings: Readings, fade: Fade, share: float) -> str:
    """Return what a series tells of tubes: their loss, and when their light is below a share of it."""
    unit = "lux" if readings.unit is LightUnit.LUX else "PPFD"
    lines = [
        f"{counted(len(readings), 'reading')} from {number_text(fade.first_hours)} to"
        f" {number_text(fade.last_hours)} h",
        "",
        f"loss within 1,000 h   {number_text(fade.loss * 100, 3)} %, with 95 % confidence from"
        f" {number_text(fade.loss_low * 100, 3)} to {number_text(fade.loss_high * 100, 3)} %",
        f"light after 100 h     {number_text(fade.light_at_declared, 1)} ({unit}, by the law)",
        f"below {number_text(share * 100)} % of that    {_when(fade, share)}",
    ]
    if fade.loss > 0:
        lines += [
            "",
            "To use it, write under each of these tubes:",
            "",
            fade_yaml(fade).rstrip("\n"),
        ]
    return "\n".join(lines) + "\n"


def _when(fade: Fade, share: float) -> str:
    """Return in words when light falls below a share."""
    found = forecast(fade, share)
    if fade.alpha.low <= 0:
        return "not told: the readings do not show that the tubes fade at all; read on"
    if found is None:
        return f"not told: that is farther off than {number_text(MOST_REACH)} times the hours of the readings"
    text = f"at {number_text(found.hours, 0)} lit hours"
    if found.date is not None:
        latest = found.latest or "never"
        text += f", on {found.date} (from {found.earliest} to {latest})"
    return text


def depth_text(
    told: Mapping[str, FallOff],
    at_depth: Mapping[str, Sequence[LightAtDepth]],
    depth_cm: float | None,
) -> str:
    """Return how the light of channels falls off with depth, and what it is at one depth.

    Parameters
    ----------
    told : mapping of channel to FallOff
        Of each channel.
    at_depth : mapping of channel to sequence of LightAtDepth
        Light at ``depth_cm``, by channel.
    depth_cm : float or None
        That depth; None if none was asked for. [cm]
    """
    is_water = any(each.is_attenuation for each in told.values())
    name = "attenuation" if is_water else "fall-off"
    rows = [
        (
            id,
            str(each.columns),
            str(each.points),
            f"{number_text(each.per_m.value, 3)} ({number_text(each.per_m.low, 3)} to"
            f" {number_text(each.per_m.high, 3)})",
        )
        for id, each in told.items()
    ]
    head = ("channel", "places", "readings", f"{name} per metre (95 % confidence)")
    lines = [*columns(head, rows), "", OF_THE_WATER if is_water else OF_THE_TANK]
    if depth_cm is not None:
        lines += ["", f"at a depth of {number_text(depth_cm, 1)} cm, each channel alone, at full"]
        lines += columns(
            ("channel", "x cm", "y cm", "light", ""),
            [
                (
                    id,
                    number_text(each.x_cm, 1),
                    number_text(each.y_cm, 1),
                    number_text(each.light, 1),
                    "beyond the readings" if each.is_beyond else "",
                )
                for id, places in at_depth.items()
                for each in places
            ],
        )
        if not any(at_depth.values()):
            lines.append("no place was read above and below it: not told (see --beyond)")
    return "\n".join(lines) + "\n"


def lux_text(worth: LuxWorth) -> str:
    """Return what lux are of a spectrum, and the line to paste."""
    blue, green, red = (number_text(share * 100, 1) for share in worth.thirds)
    return (
        f"1 µmol m⁻² s⁻¹ of this light is {number_text(worth.lux_per_umol)} lux;"
        f" {number_text(SHIFT_NM)} nm off, {number_text(worth.change * 100, 1)} % more or less\n"
        f"photons: {blue} % at 400 to 500 nm, {green} % at 500 to 600, {red} % at 600 to 700\n"
        "\nTo use it for readings in lux, write under the channel of this light:\n\n"
        f"full_ppfd:\n  lux_per_umol: {number_text(worth.lux_per_umol)}\n"
    )


def _percent(share: float) -> str:
    return number_text(share * 100)
