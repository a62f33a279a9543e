"""Values that are allowed but look as if another unit was meant: hours for minutes, shares for percent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from photoperiod.diagnostics.model import Path
from photoperiod.schedule.day_plan import Day, Points, Ramps, SunDay
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Ballast, Channel
from photoperiod.text import number_text, plain_number
from photoperiod.units import SECONDS_PER_MINUTE

#: A day whose brightest light is at most this looks like a share of full [fraction of full]. Our choice.
FAINT_PEAK = 0.01

#: A floor below this looks like a share of full [fraction of full]. It is the least level of the dimming
#: curve of IEC 62386-102, 0.1 %.
FAINT_FLOOR = 0.001

#: A ramp shorter than this, and not of whole minutes, looks like hours [s]. Our choice.
SHORT_RAMP_S = 600


def ask_about_units(
    ballasts: Iterable[Ballast], channels: Iterable[Channel], findings: Findings
) -> None:
    """Ask about each floor, peak and ramp that looks as if another unit was meant."""
    for ballast in ballasts:
        if ballast.curve.floor_light < FAINT_FLOOR * (1 - 1e-9):
            path = (*ballast.path, "floor", "light_percent")
            _ask_about_share(path, "a floor", ballast.curve.floor_light, findings)
    for channel in channels:
        if channel.day is None:
            continue
        path = (*channel.path, "day")
        lights = dict(_peaks(channel.day, path))
        brightest = max(lights, key=lambda place: lights[place], default=None)
        if brightest is not None and 0 < lights[brightest] <= FAINT_PEAK * (1 + 1e-9):
            _ask_about_share(brightest, "a day with a peak", lights[brightest], findings)
        for place, length_s in _ramps(channel.day, path):
            if 0 < length_s < SHORT_RAMP_S and length_s % SECONDS_PER_MINUTE:
                minutes = plain_number(length_s / SECONDS_PER_MINUTE)
                findings.add(
                    "PHO335",
                    place,
                    f"a ramp of {minutes} minutes: were hours meant?",
                    f"{minutes} hours are `minutes: {plain_number(length_s)}`",
                )


def _ask_about_share(path: Path, what: str, light: float, findings: Findings) -> None:
    percent = plain_number(round(light * 100, 6))
    findings.add(
        "PHO335",
        path,
        f"{what} of {percent} % of full light: was {number_text(light * 10_000)} % meant?",
        "percentages are written as such: 92 for 92 %, not 0.92",
    )


def _peaks(day: Day, path: Path) -> Iterator[tuple[Path, float]]:
    """Yield the lights of a day with their places. [fraction of full]"""
    match day:
        case Ramps():
            for index, peak in enumerate(day.peaks):
                yield (*path, "peaks", index, "light_percent"), peak.light
        case Points():
            for index, point in enumerate(day.points):
                yield (*path, "points", index, "light_percent"), point.light
        case SunDay():
            yield (*path, "peak_light_percent"), day.peak_light


def _ramps(day: Day, path: Path) -> Iterator[tuple[Path, int]]:
    """Yield the lengths of ramps that are written in minutes, with their places. [s]"""
    if not isinstance(day, Ramps):
        return
    if day.dawn.length_s is not None:
        yield (*path, "dawn", "minutes"), day.dawn.length_s
    for index, peak in enumerate(day.peaks):
        if peak.ramp_s is not None:
            yield (*path, "peaks", index, "minutes"), peak.ramp_s
    if day.dusk.length_s is not None:
        yield (*path, "dusk", "minutes"), day.dusk.length_s
