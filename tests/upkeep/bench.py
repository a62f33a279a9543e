"""Schedules that the tests of upkeep share."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from photoperiod.schedule.model import Schedule
from tests.conftest import load

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"

#: Energy and money beside arithmetic by hand [relative].
TOLERANCE = 1e-9

#: A lamp that is at full from `start` to `end`: 10 mV a code, held levels; each second is 100 % or dark.
SQUARE = """\
schedule: 1
tank: bench
title: A lamp of one power
{top}place: {{latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}}
controller:
  clock: {clock}
  setpoints_per_channel: 12
  time_step_minutes: 1
  between: hold
  after_last_row: wrap
  relay: {{kind: column}}
  emits: {{unit: percent, step: 1, every_seconds: 1, rounding: half-up}}
  converter: {{kind: nominal, bits: 10, full_scale_volts: 10.24}}
plan_clock: {clock}
ballasts:
  pair:
    response: {{kind: linear}}
    floor: {{volts: 1.0, light_percent: 20}}
    full_volts: 10.0
    dark: {dark}
    below_floor: nearest
    watts: {watts}
tubes:
  a: {{watts: 50{a}}}
zones:
  crest: {{dark_hours_min: 8}}
channels:
  blue:
    ballast: pair
    tubes: {tubes}
{hold}    full_ppfd: {{{measured}zones: {{crest: 130}}}}
    day:
      kind: ramps
      dawn: {{start: "{start}", minutes: 0}}
      peaks: [{{light_percent: {light}}}]
      dusk: {{end: "{end}", minutes: 0}}
"""
USUAL = {
    "top": "", "clock": "standard", "watts": "{full: 50, floor: 50}", "dark": "{kind: relay}", "a": "",
    "tubes": "[a]",
    "hold": "", "measured": "measured_on: 2027-01-01, ", "start": "10:00", "end": "19:00", "light": 100,
}  # fmt: skip


def schedule(**changes: object) -> Schedule:
    outcome = load("test.yaml", SQUARE.format(**(USUAL | changes)).encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    return outcome.schedule


def span(first: str, last: str) -> DateSpan:
    return DateSpan(dt.date.fromisoformat(first), dt.date.fromisoformat(last))


def program(first: str = "", last: str = "", **changes: object) -> Program:
    return compile_program(schedule(**changes), span(first, last) if first else None)
