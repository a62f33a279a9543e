"""A schedule without fault, and one damage to it with the one finding that it must give."""

from __future__ import annotations

from dataclasses import dataclass, field

#: A schedule without fault, warning or note.
BASE = """\
schedule: 1
title: Test bench
place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}
plan_clock: standard
controller:
  clock: standard
  channels: 2
  setpoints_per_channel: 16
  time_step_minutes: 1
  between: line
  after_last_row: wrap
  relay: {kind: column}
  emits: {unit: percent, step: 1, every_seconds: 1, rounding: half-up}
  converter:
    kind: two-point
    bits: 12
    points: [{code: 400, volts: 1.0}, {code: 3600, volts: 9.0}]
  port: {most_volts: 10.0, sink_milliamps: 20}
ballasts:
  pair:
    response: {kind: square-law}
    floor: {volts: 1.0, light_percent: 1}
    full_volts: 10.0
    dark: {kind: relay}
    below_floor: nearest
  bench:
    response:
      kind: measured
      points:
        - {volts: 0.6, light_percent: 2}
        - {volts: 4.0, light_percent: 20}
        - {volts: 7.0, light_percent: 60}
        - {volts: 9.5, light_percent: 100}
    floor: {volts: 0.6, light_percent: 2}
    full_volts: 9.5
    dark: {kind: standby, below_volts: 0.5}
    below_floor: dark
tubes:
  blue-a: {watts: 54, fitted: 2027-03-02}
  blue-b: {watts: 54}
zones:
  crest: {dli: [3, 9], ppfd_max: 400, dark_hours_min: 8}
channels:
  blue:
    ballast: pair
    tubes: [blue-a, blue-b]
    full_ppfd: {measured_on: 2027-02-20, zones: {crest: 130}}
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60, shape: sine}
      peaks:
        - {light_percent: 60}
        - {from: 12:00, minutes: 30, light_percent: 80}
        - {from: 15:00, minutes: 30, light_percent: 60}
      dusk: {end: 21:00, minutes: 60}
    ballast_count: 1
  white:
    ballast: bench
    full_ppfd: {zones: {crest: 120}}
    day:
      kind: points
      points:
        - {time: 11:00, light_percent: 0}
        - {time: 13:00, light_percent: 60}
        - {time: 18:00, light_percent: 60}
        - {time: 20:00, light_percent: 0}
    moonlight: {kind: steady, light_percent: 3, start: 22:00, end: 02:00}
    ballast_count: 1
tank: bench
"""


#: The line of the place in BASE.
PLACE = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n"


@dataclass(frozen=True)
class Case:
    """One damage to BASE, or a whole file, and the one diagnostic that it must give.

    `marked` is what stands under the marks, up to the end of the first line. With `parts`, the file
    that the schedule names holds them, and `file` is where the diagnostic must stand.
    """

    code: str
    damage: list[tuple[str, str]] | bytes
    line: int
    column: int
    marked: str
    message: str
    help: str = field(default="", kw_only=True)
    parts: str = field(default="", kw_only=True)
    file: str = field(default="test.yaml", kw_only=True)

    @property
    def raw(self):
        if isinstance(self.damage, bytes):
            return self.damage
        return changed(*self.damage).encode()


#: The head of a tariff by hours.
TARIFF = "costs:\n  currency: EUR\n  tariff:\n    kind: hours\n    clock: standard\n    hours:\n"


def changed(*changes):
    text = BASE
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
        text = text.replace(old, new)
    return text
