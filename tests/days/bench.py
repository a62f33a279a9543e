"""A schedule whose days follow clocks or the sky, and what it compiles to."""

from __future__ import annotations

import datetime as dt
from importlib import resources
from zoneinfo import ZoneInfo

import numpy as np

from photoperiod.days.day_curves import DayCurves
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from tests.conftest import Outcome, load

#: One level of 1 % on a square-law ballast, and what a line between two of them may be off by
#: [fraction of full].
LIGHT_TOLERANCE = 0.025

TEXT = """\
schedule: 1
tank: bench
title: Two clocks
place: {{latitude: {latitude}, longitude: {longitude}, time_zone: {zone}}}
plan_clock: {plan}
{top}controller:
  clock: {controller}
  setpoints_per_channel: 16
  tables: 366
  time_step_minutes: 1
  between: line
  after_last_row: wrap
  relay: {{kind: column}}
  emits: {{unit: percent, step: 1, every_seconds: 1, rounding: half-up}}
  converter: {{kind: nominal, bits: 12, full_scale_volts: 10.0}}
ballasts:
  pair:
    response: {{kind: square-law}}
    floor: {{volts: 1.0, light_percent: 1}}
    full_volts: 10.0
    dark: {{kind: relay}}
    below_floor: nearest
zones:
  crest: {{dli: [0, 60], dark_hours_min: 0}}
channels:
  blue:
    ballast: pair
    full_ppfd: {{zones: {{crest: 100}}}}
{day}
"""
RAMPS = """\
    day:
      kind: ramps
      dawn: {start: "09:00", minutes: 60}
      peaks: [{light_percent: 80}]
      dusk: {end: "21:00", minutes: 60}
"""
LISBON = {"latitude": 38.7, "longitude": -9.1, "zone": "Europe/Lisbon"}
SUN = "    day: {kind: sun, peak_light_percent: 80%s}\n"
EVENTS = """\
    day:
      kind: ramps
      dawn: {start: %s, end: sunrise + 45 min}
      peaks: [{light_percent: 70}]
      dusk: {start: sunset - 45 min, end: %s}
"""
MOON = '    moonlight: {kind: %s, full_light_percent: 50, start: "19:00", end: "06:00"}\n'
NIGHT = "    moonlight: {kind: steady, light_percent: 2, start: %s, end: %s}\n"


def outcome(day: str = RAMPS, plan: str = "standard", controller: str = "standard", top: str = "",
            **place: object) -> Outcome:  # fmt: skip
    text = TEXT.format(day=day, plan=plan, controller=controller, top=top, **(LISBON | place))
    return load("test.yaml", text.encode())


def program(first: str, last: str, **more: object) -> Program:
    found = outcome(**more)  # type: ignore[arg-type]
    assert found.schedule is not None, [d.message for d in found.report]
    span = DateSpan(dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    return compile_program(found.schedule, span)


def dates_of(span: tuple[str, str], day: str, **more: object) -> dict[dt.date, list[int]]:
    """On each date the seconds at which the light wanted begins and ends."""
    found = outcome(day, **more)  # type: ignore[arg-type]
    assert found.schedule is not None, [d.message for d in found.report]
    days = DayCurves(found.schedule)
    result = {}
    for date in DateSpan(*(dt.date.fromisoformat(text) for text in span)):
        light = days.curves(date)["blue"].light(np.arange(86_400.0)) > 0
        result[date] = np.flatnonzero(np.diff(light.astype(int))).tolist()
    return result


def zone(name: str) -> ZoneInfo:
    with resources.files("tzdata").joinpath("zoneinfo", *name.split("/")).open("rb") as file:
        return ZoneInfo.from_file(file, key=name)
