"""Schedules that the tests of programs share: one worked by hand, and one with new tubes."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, Table
from photoperiod.schedule.model import Schedule
from photoperiod.tubes.hours import LedgerState, TubeState
from tests.conftest import load

DAY = 86_400
HOUR = 3600
EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.yaml"))

#: Printed with three decimals, DLI [mol m⁻² d⁻¹].
PRINTED_DLI_TOLERANCE = 0.0005
#: Printed with two decimals, light [%].
PRINTED_PERCENT_TOLERANCE = 0.005
#: Printed with three or four decimals [V].
PRINTED_VOLTS_TOLERANCE = 0.0005
#: Two players of the same rows, sums of 86,400 doubles [relative].
PLAYER_TOLERANCE = 1e-9
#: What a schedule may be over its limit by rounding [µmol m⁻² s⁻¹].
PPFD_TOLERANCE = 1e-6

#: mol per m² and day of 1 µmol m⁻² s⁻¹ held for an hour: definition; as in E. Runkle, "Increasing
#: the daily light integral", Greenhouse Product News.
MOL_PER_UMOL_HOUR = 0.0036

#: The path worked by hand in the design: a square-law ballast from 1 % at 1 V, ramps of an hour to
#: 80 % light, 130 µmol m⁻² s⁻¹ in the zone, 12 bits nominal, whole percents of level.
WORKED = """\
schedule: 1
tank: bench
title: Worked by hand
controller:
  clock: standard
  setpoints_per_channel: 12
  time_step_minutes: 1
  between: line
  after_last_row: wrap
  relay: {kind: column}
  emits: {unit: percent, step: 1, every_seconds: 1, rounding: half-up}
  converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}
ballasts:
  pair:
    response: {kind: square-law}
    floor: {volts: 1.0, light_percent: 1}
    full_volts: 10.0
    dark: {kind: relay}
    below_floor: nearest
    watts: {full: 118, floor: 25, dark: 0.5}
zones:
  crest: {dark_hours_min: 8}
channels:
  blue:
    ballast: pair
    full_ppfd: {zones: {crest: 130}}
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60}
      peaks: [{light_percent: 80}]
      dusk: {end: 21:00, minutes: 60}
"""


def scheduled(text: str) -> Schedule:
    outcome = load("test.yaml", text.encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    return outcome.schedule


def changed(*changes: tuple[str, str]) -> str:
    text = WORKED
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
        text = text.replace(old, new)
    return text


def of_a_day(text: str) -> Program:
    """The program of no date, or of one where days differ."""
    schedule, day = scheduled(text), dt.date(2027, 3, 20)
    return compile_program(schedule, DateSpan(day, day) if schedule.needs_dates else None)


def compiled(*changes: tuple[str, str], span: DateSpan | None = None) -> Program:
    return compile_program(scheduled(changed(*changes)), span)


# New tubes ---------------------------------------------------------------------------------------

STEP_S = 60

#: A 12 h day with 1 h linear ramps to 70 % holds 7.7 full-light hours.
TEXT = """\
schedule: 1
tank: bench
title: New tubes
{top}controller:
  clock: standard
  setpoints_per_channel: 12
  tables: {tables}
  time_step_minutes: 1
  between: {between}
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
tubes:
  a: {{watts: 54, fitted: {fitted}, burn_in_full_hours: {owed}{a}}}
  b: {{watts: 54, fitted: {fitted}, burn_in_full_hours: {owed}{b}}}
  c: {{watts: 54, fitted: 2026-03-02, lit_hours: 500}}
zones:
  crest: {{dli: [2, 14]{zone}}}
channels:
  blue:
    ballast: pair
    tubes: [a, b]
    full_ppfd: {{{measured}zones: {{crest: 130}}}}
    day:
      kind: ramps
      ends_next_day: true
      dawn: {{start: "{start}", minutes: {ramp}}}
      peaks: [{{light_percent: {light}}}]
      dusk: {{end: "{end}", minutes: {ramp}}}
  white:
    ballast: pair
    tubes: [c]
    full_ppfd: {{zones: {{crest: 130}}}}
    day:
      kind: ramps
      dawn: {{start: 08:00, minutes: 60}}
      peaks: [{{light_percent: 70}}]
      dusk: {{end: 22:00, minutes: 60}}
"""
USUAL = {
    "top": "", "tables": 1, "between": "line", "fitted": "2027-03-02T08:00", "owed": 12, "a": "",
    "b": "", "zone": "", "measured": "", "start": "09:00", "end": "21:00", "ramp": 60, "light": 70,
}  # fmt: skip

FADING = ", depreciation: {kind: exponential, loss_percent_per_1000_h: 5}"

LOSS = ", depreciation: {kind: points, points: [{lit_hours: 100, light_percent: 100}, {lit_hours: 1000, light_percent: 80}]}"  # noqa: E501

#: White gives way under blue: 130 + 91 is over 160.
BOTH_NEW = ("  c: {watts: 54, fitted: 2026-03-02, lit_hours: 500}",
            "  c: {watts: 54, fitted: 2027-03-02T08:00, burn_in_full_hours: 12}")  # fmt: skip


def schedule(**changes: object) -> Schedule:
    outcome = load("test.yaml", TEXT.format(**(USUAL | changes)).encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    return outcome.schedule


def march(first: int, last: int) -> DateSpan:
    return DateSpan(dt.date(2027, 3, first), dt.date(2027, 3, last))


def program(span: DateSpan | None = None, **changes: object) -> Program:
    return compile_program(schedule(**changes), span or march(1, 10))


def spans(p: Program) -> list[tuple[int, int]]:
    return [(t.span.first.day, t.span.last.day) for t in p.tables if t.span]


def ledger_state_of(p: Program) -> LedgerState:
    """What is known as the date after a program begins."""
    tubes = {
        id: TubeState(t.hours.lit_hours, t.hours.owed_hours)
        for id, t in p.tubes.items()
        if t.is_fitted
    }
    return LedgerState(tubes=tubes, windows=p.tables[-1].plan.windows)


def full_minutes(table: Table, id: str = "blue") -> tuple[str, str]:
    start, stop = (second // 60 for second in table.plan.windows[id])
    return f"{start // 60:02}:{start % 60:02}", f"{stop // 60:02}:{stop % 60:02}"


def edited(*changes: tuple[str, str], **more: object) -> Schedule:
    text = TEXT.format(**(USUAL | more))
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    outcome = load("test.yaml", text.encode())
    assert outcome.schedule is not None, [d.message for d in outcome.report]
    return outcome.schedule
