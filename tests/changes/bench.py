"""A schedule with room for changes, that the tests of changes share."""

from __future__ import annotations

import datetime as dt

from photoperiod.program.dates import DateSpan
from photoperiod.schedule.model import Schedule
from tests.conftest import load

#: Two channels by the clock, one with moonlight past midnight, two zones; `changes` come last.
TEXT = """\
schedule: 1
tank: bench
title: Changes
controller:
  clock: standard
  setpoints_per_channel: 12
  time_step_minutes: 5
  between: line
  after_last_row: wrap
  relay: {kind: column}
  emits: {unit: percent, step: 1, every_seconds: 1, rounding: half-up}
  converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}
  port: {most_volts: 10.0, sink_milliamps: 20}
ballasts:
  pair:
    response: {kind: square-law}
    floor: {volts: 1.0, light_percent: 1}
    full_volts: 10.0
    dark: {kind: relay}
    below_floor: nearest
zones:
  crest: {ppfd_max: 400, dark_hours_min: 2, peak_rise_percent_max: 25}
  sand: {ppfd_max: 300, dark_hours_min: 2}
channels:
  blue:
    ballast: pair
    ballast_count: 1
    full_ppfd: {zones: {crest: 130, sand: 60}}
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60}
      peaks: [{light_percent: 80}]
      dusk: {end: 21:00, minutes: 60}
    moonlight: {kind: steady, light_percent: 2, start: 22:00, end: 02:00}
  white:
    ballast: pair
    ballast_count: 1
    full_ppfd: {zones: {crest: 120, sand: 0}}
    day:
      kind: ramps
      dawn: {start: 11:00, minutes: 90, shape: sine}
      peaks: [{light_percent: 70}]
      dusk: {end: 19:00, minutes: 90, shape: sine}
"""

#: A day plan for both channels.
CALM = """\
day_plans:
  calm:
    blue:
      day:
        kind: ramps
        dawn: {start: 10:00, minutes: 60}
        peaks: [{light_percent: 40}]
        dusk: {end: 18:00, minutes: 60}
"""

ACCLIMATION = "{kind: acclimation, from_date: 2027-04-01, over_days: 28, from_dose_percent: 60}"
DARK = "{kind: dark-days, from_date: 2027-06-07, days: 3}"
MOVED = "{kind: moved-hours, from_date: 2027-07-01, minutes_per_day: 10, minutes: 30}"


def text_with(*changes: str, plans: str = "", text: str = TEXT) -> str:
    lines = "".join(f"  - {each}\n" for each in changes)
    return text + plans + (f"changes:\n{lines}" if changes else "")


def scheduled(*changes: str, plans: str = "", text: str = TEXT) -> Schedule:
    outcome = load("test.yaml", text_with(*changes, plans=plans, text=text).encode())
    assert outcome.schedule is not None, [(d.code, d.message) for d in outcome.report]
    return outcome.schedule


def span(first: str, last: str) -> DateSpan:
    return DateSpan(dt.date.fromisoformat(first), dt.date.fromisoformat(last))
