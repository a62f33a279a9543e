"""A schedule on which limits can be reckoned by hand, programs made by hand, and what checks mark.

A hand-made program is a loaded schedule with rows that the test gives, so that no search for rows
stands between a number in a test and the number that a check sees.
"""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from photoperiod.api import Loaded, load_text
from photoperiod.checks.registry import CHECKS
from photoperiod.checks.run import advised, run_checks
from photoperiod.days.day_curves import DayCurves
from photoperiod.diagnostics.codes import CODES, Severity
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.grid import RelayKind, Row
from photoperiod.program.channel_day import Brightness, CompiledDay, Role, compile_day
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_fit import FittedChannel, light_path, plan_targets
from photoperiod.program.model import Program, Table, TubeUse
from photoperiod.report.text import excerpt
from photoperiod.schedule.model import Schedule
from photoperiod.setpoints.fit import Certificate, Fit, Method
from photoperiod.tubes.burn_in_plan import BY_PLAN as BY_PLAN_DAY
from photoperiod.tubes.hours import TubeHours
from tests.conftest import Outcome, changed, compiled

#: The dates of every dated case unless it needs others.
SPAN = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 5))

#: One level step is 1 %, 0.1 V and 1 % light, each without a remainder: code n of the converter is
#: n × 10.24 V / 1024 = n × 0.01 V, and light goes in a straight line from 10 % at 1 V to 100 % at
#: 10 V. Levels are held from row to row. So a row of 60 is 60 % light, and 60 µmol m⁻² s⁻¹ in
#: `crest` from `strong`, 30 from `weak`.
BENCH = """\
schedule: 1
tank: bench
controller:
  clock: standard
  channels: 4
  setpoints_per_channel: 24
  time_step_minutes: 15
  between: hold
  after_last_row: wrap
  relay: {kind: column}
  emits: {unit: percent, step: 1, every_seconds: 1, rounding: half-up}
  converter: {kind: nominal, bits: 10, full_scale_volts: 10.24}
  port: {most_volts: 10.0, sink_milliamps: 20}
ballasts:
  pair:
    response: {kind: linear}
    floor: {volts: 1.0, light_percent: 10}
    full_volts: 10.0
    dark: {kind: relay}
    below_floor: nearest
tubes:
  tube-a: {watts: 54}
  tube-b: {watts: 54}
zones:
  crest: {dark_hours_min: 0}
  sand: {dark_hours_min: 0}
channels:
  weak:
    ballast: pair
    tubes: [tube-a]
    full_ppfd: {zones: {crest: 50, sand: 10}}
    day: {kind: points, points: [{time: 08:00, light_percent: 80}, {time: 18:00, light_percent: 80}]}
  strong:
    ballast: pair
    tubes: [tube-b]
    full_ppfd: {zones: {crest: 100}}
    day: {kind: points, points: [{time: 08:00, light_percent: 60}, {time: 18:00, light_percent: 60}]}
"""

#: The tables of a channel: from each time on a level in whole per cent; 0 is dark.
Levels = Mapping[str, Sequence[tuple[str, int]]]

#: What BENCH plans: crest gets 0.8 × 50 + 0.6 × 100 = 100 µmol m⁻² s⁻¹ from 08:00 to 18:00.
BY_PLAN: Levels = {
    "weak": [("08:00", 80), ("18:00", 0)],
    "strong": [("08:00", 60), ("18:00", 0)],
}


def bench(*changes: tuple[str, str]) -> str:
    """Return BENCH with replacements, each of which must find its text exactly once."""
    text = BENCH
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
        text = text.replace(old, new)
    return text


@functools.lru_cache(maxsize=256)
def loaded(text: str = BENCH) -> Loaded:
    return load_text("test.yaml", text.encode())


def schedule_of(text: str) -> Schedule:
    return loaded(text).schedule


@dataclass(frozen=True, kw_only=True)
class Day:
    """A hand-made table: levels, dates, and light at full on the first and last of them. [ratio]

    ``plan`` says what is not by the plan, such as the channels that wait for burn-in.
    """

    levels: Levels = field(default_factory=lambda: BY_PLAN)
    first: dt.date | None = None
    last: dt.date | None = None
    brightness: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    roles: Mapping[str, str] = field(default_factory=dict)
    plan: Mapping[str, Any] = field(default_factory=dict)


def second_of(time: str) -> int:
    hours, minutes, *seconds = (int(part) for part in time.split(":"))
    return hours * 3600 + minutes * 60 + sum(seconds)


def compiled_day(text: str, day: Day) -> CompiledDay:
    """Return what hand-made tables give; channels without levels do what BENCH plans."""
    schedule = schedule_of(text)
    curves = DayCurves(schedule).curves(None)
    fits = {}
    for id, channel in schedule.channels.items():
        levels = day.levels.get(id, BY_PLAN.get(id))
        assert levels is not None
        has_relay = schedule.controller.relay.kind is RelayKind.COLUMN
        rows = [
            Row(second_of(time), level, level > 0 if has_relay else None) for time, level in levels
        ]
        fits[id] = Fit(
            rows=tuple(rows),
            rows_needed=2,
            worst_light_error=0.0,
            worst_second=0,
            strict_light_error=0.0,
            method=Method.EXACT,
            certificate=Certificate(
                error=0.0, bound=0.0, floor=0.0, floor_rows=None, half_rows=None, sample_s=60,
                tolerance_s=450,
            ),
            times=schedule.controller.times,
            path=light_path(schedule, channel),
        )  # fmt: skip
    fitted = {
        id: FittedChannel(target, fits[id]) for id, target in plan_targets(schedule, curves).items()
    }
    roles = {id: Role(role) for id, role in day.roles.items()}
    brightness = {id: Brightness(*each) for id, each in day.brightness.items()}
    return compile_day(schedule, curves, fitted, roles, brightness)


def handmade(text: str = BENCH, *days: Day) -> Program:
    """Return a program of hand-made tables, one after the other; by default of one without a date."""
    days = days or (Day(),)
    tables = []
    for day in days:
        span = None if day.first is None else DateSpan(day.first, day.last or day.first)
        tables.append(
            Table(span=span, day=compiled_day(text, day), plan=replace(BY_PLAN_DAY, **day.plan))
        )
    first, last = tables[0].span, tables[-1].span
    span = DateSpan(first.first, last.last) if first and last else None
    schedule = schedule_of(text)
    by_plan = tables[0].day
    if days[0].brightness or days[0].roles:
        by_plan = compiled_day(text, Day(levels=days[0].levels))
    return Program(
        schedule=schedule, span=span, tables=tuple(tables), first_day_by_plan=by_plan, tubes={}
    )


def with_channel(program: Program, id: str, table: int = 0, **values: Any) -> Program:
    """Return a program in one table of which a channel's day has other values."""
    day = program.tables[table].day
    channels = {**day.channels, id: replace(day.channels[id], **values)}
    return _with_day(program, table, replace(day, channels=channels))


def with_fit(program: Program, id: str, table: int = 0, **values: Any) -> Program:
    """Return a program in one table of which a channel's fit has other values."""
    fit = program.tables[table].channels[id].fit
    return with_channel(program, id, table, fit=replace(fit, **values))


def with_zone(program: Program, id: str, table: int = 0, **values: Any) -> Program:
    """Return a program in one table of which a zone's day has other values."""
    day = program.tables[table].day
    zones = {**day.zones, id: replace(day.zones[id], **values)}
    return _with_day(program, table, replace(day, zones=zones))


def _with_day(program: Program, index: int, day: CompiledDay) -> Program:
    tables = list(program.tables)
    tables[index] = replace(tables[index], day=day)
    return replace(program, tables=tuple(tables))


def with_tubes(program: Program, **hours: TubeHours) -> Program:
    """Return a program whose tubes have these hours; ``tube_a`` is `tube-a`."""
    schedule = program.schedule
    channel_of = {tube.id: c.id for c in schedule.channels.values() for tube in c.tubes}
    tubes = {}
    for name, each in hours.items():
        id = name.replace("_", "-")
        tubes[id] = TubeUse(
            tube=schedule.tubes[id], channel=channel_of[id], hours=each, is_fitted=True
        )
    return replace(program, tubes=tubes)


def on(day: int) -> dt.date:
    """Return a date of March 2027; the 1st is a Monday."""
    return dt.date(2027, 3, day)


def findings(code: str, program: Program, text: str = BENCH) -> list[Diagnostic]:
    """Return what one check finds on a program, each finding at its place in the text."""
    (check,) = (check for check in CHECKS if check.code == code)
    found = advised(check, program, list(check.run(program)))
    assert {each.code for each in found} <= {code}
    return [loaded(text).document.place(each) for each in found]


def finding(code: str, program: Program, text: str = BENCH) -> Diagnostic:
    """Return the one finding of a check."""
    found = findings(code, program, text)
    assert len(found) == 1, [each.message for each in found]
    return found[0]


def marked(found: Diagnostic, text: str = BENCH) -> tuple[int, int, str]:
    """Return the line and column of a finding and the words that it marks."""
    place = found.source_range
    assert place is not None
    assert place.line == place.end_line
    words = text.splitlines()[place.line - 1][place.column - 1 : place.end_column - 1]
    return place.line, place.column, words


def found_in(outcome: Outcome, code: str) -> Diagnostic:
    """Return the one finding of a code in a report."""
    matching = [d for d in outcome.report if d.code == code]
    assert len(matching) == 1, [d.message for d in outcome.report]
    return matching[0]


def assert_found(
    code: str,
    changes: Sequence[tuple[str, str]],
    place: tuple[int, int, str],
    words: str,
    span: DateSpan | None = SPAN,
) -> None:
    """Break the faultless schedule of all tests, and look for a finding at its place."""
    outcome = compiled(changed(*changes), span)
    diagnostic = found_in(outcome, code)
    assert words in diagnostic.message
    line, column, marked_words = place
    where = diagnostic.source_range
    assert where is not None
    assert (where.line, where.column) == (line, column)
    source_line = outcome.document.lines[line - 1]
    assert source_line[column - 1 : where.end_column - 1] == marked_words
    shown, marks = excerpt(outcome.document.lines, where)
    assert shown == f"  {line} | {source_line}"
    assert marks == f"  {' ' * len(str(line))} | {' ' * (column - 1)}{'~' * len(marked_words)}"
    assert diagnostic.severity is Severity(CODES[code].severity)
    assert diagnostic.help or code == "PHO405"


def two_dates(text: str = BENCH, first: Day | None = None, second: Day | None = None) -> Program:
    """Return a program of two tables, one for 1 March and one for 2 March."""
    days = [first or Day(), second or Day()]
    return handmade(text, *(replace(day, first=on(n + 1)) for n, day in enumerate(days)))


def assert_only_in_table(code: str, program: Program, table: int) -> None:
    """Of two dated tables only one has a finding, and the message names its date."""
    (found,) = (each for each in run_checks(program)[0] if each.code == code)
    assert found.message.endswith(f" (table from 2027-03-0{table + 1})")
