"""What stands in a schedule that has a finding no more: a few lines for each code that has such lines.

They are parts of a schedule. A test puts each of them into a whole one, and reads it.
"""

from __future__ import annotations

from collections.abc import Mapping

_NIGHT = """\
accept:
  - finding: night-not-dark
    channels: [blue]
    because: algae only, no corals"""

_PLACE = "place: {latitude: 38.10, longitude: -29.50, time_zone: Atlantic/Azores}"

#: By code.
EXAMPLES: Mapping[str, str] = {
    "PHO201": "zones:\n  crest: {ppfd_max: 350}          # not ppfd_maximum",
    "PHO202": "ballasts:\n  pair:\n    floor: {volts: 1.0, light_percent: 1}",
    "PHO203": "tubes:\n  blue-a: {watts: 54}             # not 54 W",
    "PHO204": "controller:\n  between: line                   # or hold",
    "PHO205": "ballasts:\n  pair:\n    full_volts: 9.5               # not 9500",
    "PHO206": "channels:\n  blue:\n    label: Blue, front left       # the id is blue",
    "PHO207": "zones:\n  crest: {dli: [3.5, 9]}          # not [3,5, 9]",
    "PHO208": "channels:\n  blue:\n    tubes: [blue-a]",
    "PHO301": "channels:\n  blue:\n    ballast: pair                 # as under ballasts",
    "PHO303": """\
channels:
  blue:
    day:
      kind: points
      points:
        - {time: 22:00, light_percent: 0}
        - {time: 23:00, light_percent: 40}
        - {time: 01:00, light_percent: 0}""",
    "PHO304": """\
channels:
  blue:
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60}
      peaks:
        - {light_percent: 60}
        - {from: 13:00, minutes: 30, light_percent: 80}     # dawn has ended by then
      dusk: {end: 21:00, minutes: 60}""",
    "PHO307": "controller:\n  relay: {kind: column}",
    "PHO308": "ballasts:\n  pair:\n    floor: {volts: 1.0, light_percent: 1}\n    full_volts: 10.0",
    "PHO309": "ballasts:\n  pair:\n    floor: {volts: 1.0, light_percent: 1}\n"
    "    dark: {kind: standby, below_volts: 0.5}",
    "PHO313": """\
ballasts:
  pair:
    response:
      kind: measured
      points:
        - {volts: 1.0, light_percent: 1}          # the floor
        - {volts: 5.0, light_percent: 26}
        - {volts: 10.0, light_percent: 100}       # full_volts
    floor: {volts: 1.0, light_percent: 1}
    full_volts: 10.0""",
    "PHO315": "controller:\n  time_step_minutes: 15           # 7 would not divide a day",
    "PHO317": "channels:\n  blue:\n    full_ppfd: {zones: {crest: 130}}",
    "PHO319": "zones:\n  crest: {dli: [3, 5]}",
    "PHO321": """\
channels:
  blue:
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60}
      peaks:
        - {light_percent: 60}                     # begins where dawn ends
        - {from: 13:00, minutes: 30, light_percent: 80}
      dusk: {end: 21:00, minutes: 60}""",
    "PHO322": "controller:\n  relay: {kind: follows-level, on_level_percent: 5}",
    "PHO324": "ballasts:\n  pair:\n    below_floor: dark             # or nearest, or floor",
    "PHO325": "channels:\n  blue:\n    full_ppfd: {zones: {crest: 130}}",
    "PHO326": """\
channels:
  blue:
    day:
      kind: ramps
      dawn: {start: 18:00, minutes: 60}
      peaks: [{light_percent: 60}]
      ends_next_day: true
      dusk: {end: 02:00, minutes: 60}""",
    "PHO328": """\
tubes:
  blue-a:
    depreciation:
      kind: points
      points:
        - {lit_hours: 100, light_percent: 100}
        - {lit_hours: 9000, light_percent: 88}""",
    "PHO329": _PLACE,
    "PHO332": """\
channels:
  blue:
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60}           # or end: 10:00
      peaks: [{light_percent: 60}]
      dusk: {end: 21:00, minutes: 60}             # or start: 20:00""",
    "PHO333": _PLACE + "     # west is negative",
    "PHO334": "channels:\n  blue:\n    full_ppfd: {zones: {crest: 130}}     # crest: 0 if none falls there",
    "PHO335": "channels:\n  blue:\n    day:\n      kind: ramps\n"
    "      dawn: {start: 09:00, minutes: 90}           # not 1.5\n"
    "      peaks: [{light_percent: 80}]                # not 0.8\n"
    "      dusk: {end: 21:00, minutes: 90}",
    "PHO350": """\
costs:
  currency: EUR
  tariff:
    kind: hours
    clock: standard
    hours:
      - {start: 07:00, end: 22:00, per_kwh: 0.24}
      - {start: 22:00, end: 07:00, per_kwh: 0.13}""",
    "PHO351": """\
costs:
  currency: EUR
  tariff:
    kind: hours
    clock: standard
    hours:
      - {start: 00:00, end: 08:00, per_kwh: 0.13}
      - {start: 08:00, end: 24:00, per_kwh: 0.24}""",
    "PHO353": """\
tubes:
  blue-a:
    watts: 54
    depreciation: {kind: exponential, loss_percent_per_1000_h: 1.4}
channels:
  blue:
    hold_light: {dose_within_percent: 3}""",
    "PHO352": "costs: {currency: EUR}\ntubes:\n  blue-a: {watts: 54, price: 14.50}",
    "PHO336": "channels:\n  blue:\n    ballast_count: 1",
    "PHO337": """\
tubes:
  blue-a: {watts: 54, place: left, fitted: 2026-03-02, removed: 2027-03-02}
  blue-b: {watts: 54, place: left, fitted: 2027-03-02}
channels:
  blue:
    tubes: [blue-a, blue-b]""",
    "PHO360": """\
changes:                               # each of its own dates
  - {kind: dark-days, from_date: 2027-06-07, days: 3}
  - {kind: dark-days, from_date: 2027-06-10, days: 2}""",
    "PHO361": """\
changes:                               # to earlier hours
  - {kind: moved-hours, from_date: 2027-06-07, minutes_per_day: 5, minutes: -30}""",
    "PHO362": """\
changes:
  - {kind: part-out, from_date: 2027-05-01, tube: blue-a, ballast: stops}
  - {kind: part-out, from_date: 2027-05-01, channel: blue, ballasts: 1}""",
    "PHO401": "channels:\n  blue:\n    day:\n      kind: ramps\n"
    "      dawn: {start: 09:00, minutes: 60}\n"
    "      peaks: [{light_percent: 60}]                # less than the port can give\n"
    "      dusk: {end: 21:00, minutes: 60}",
    "PHO402": "zones:\n  crest: {ppfd_max: 350}          # what a meter and the animals say",
    "PHO403": _NIGHT,
    "PHO405": "zones:\n  crest: {dli: [3, 5]}",
    "PHO406": "tubes:\n  blue-a: {fitted: 2027-03-02T08:00, lit_hours: 12, burn_in_full_hours: 0}",
    "PHO407": "channels:\n  blue:\n    day:\n      kind: ramps\n"
    "      dawn: {start: 09:00, minutes: 120, shape: smooth}\n"
    "      peaks: [{light_percent: 60}]\n"
    "      dusk: {end: 21:00, minutes: 120, shape: smooth}",
    "PHO408": "zones:\n  crest: {dark_hours_min: 9}",
    "PHO412": "controller:\n  port: {sink_milliamps: 20}\nballasts:\n  pair:\n    control_milliamps: 0.8",
    "PHO414": "tubes:\n  blue-a: {watts: 54, replace_after_hours: 9000}",
    "PHO416": "controller:\n  emits: {unit: percent, step: 1, rounding: half-up}",
    "PHO417": """\
channels:
  blue:
    moonlight: {kind: steady, light_percent: 2, start: 20:30, end: 02:00}     # dusk ends at 21:00""",
    "PHO418": "controller:\n  time_step_minutes: 1\n  dose_within_percent: 1",
    "PHO426": "dated_tables: {light_error_percent: 5, time_error_minutes: 5, dose_error_percent: 5}",
    "PHO427": "channels:\n  blue:\n    safe_light_percent: 0",
    "PHO431": """\
tubes:
  blue-a:
    replace_after_hours: 9000
    depreciation: {kind: exponential, loss_percent_per_1000_h: 1.4}""",
    "PHO432": "controller:\n  tables: 12\n  loaded_by: file               # nobody types rows in",
    "PHO801": """\
place: {latitude: 69.70, longitude: 13.50, time_zone: Europe/Oslo}
channels:
  blue:
    day:
      kind: ramps
      dawn: {start: {at: sunrise, if_none: "09:00"}, minutes: 60}
      peaks: [{light_percent: 60}]
      dusk: {end: 21:00, minutes: 60}""",
    "PHO440": """\
changes:                               # from 60 % of the dose, in four steps
  - {kind: acclimation, from_date: 2027-04-01, over_days: 28, from_dose_percent: 60}""",
    "PHO441": """\
changes:                               # ten minutes a day, an hour in all
  - {kind: moved-hours, from_date: 2027-04-01, minutes_per_day: 10, minutes: 60}""",
    "PHO810": """\
changes:                               # not 2 %
  - {kind: acclimation, from_date: 2027-04-01, over_days: 28, from_dose_percent: 30}""",
}
