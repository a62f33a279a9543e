"""The controller: its grids, relay and converter."""

from __future__ import annotations

from fractions import Fraction

from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import (
    RANGE,
    AfterLastRow,
    Between,
    LevelGrid,
    LevelUnit,
    RelayKind,
    RelayMode,
    Rounding,
    TimeGrid,
)
from photoperiod.schedule.converters import build_converter
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings, attempt
from photoperiod.schedule.model import SOFT_START_MINUTES, USUAL_LEVELS, Controller, LoadedBy
from photoperiod.sky.clock import ClockKind
from photoperiod.text import plain_number
from photoperiod.units import CONTROL_VOLTS_FULL, SECONDS_PER_DAY

#: A time step in minutes may miss whole seconds by this, for want of decimals [s].
ROUNDING_S = Fraction(5, 1000)

#: More counts than this in a level grid are a mistake in its step.
MAX_COUNTS = 100_000


def build_controller(top: Cursor, findings: Findings) -> Controller:
    """Return the controller, or raise AlreadyReported."""
    cursor = top.child("controller")
    port = cursor.child_or_empty("port")
    most_volts = port.number("most_volts", CONTROL_VOLTS_FULL)
    times = attempt(lambda: _times(cursor, findings))
    levels = attempt(lambda: _levels(cursor, findings))
    relay = attempt(lambda: _relay(cursor))
    converter = attempt(lambda: build_converter(cursor.child("converter"), most_volts, findings))
    clock = cursor.kind("clock", ClockKind)
    if times is None or levels is None or relay is None or converter is None:
        raise AlreadyReported
    _check_steps(cursor, times, levels, converter, findings)
    _note_defaults(cursor, findings)
    return Controller(
        label=cursor.text("label"),
        clock=clock,
        channels=cursor.integer("channels") if cursor.has("channels") else None,
        setpoints_per_channel=cursor.integer("setpoints_per_channel"),
        shared_times=bool(cursor.get("shared_times", False)),
        dose_within=cursor.number("dose_within_percent", 1.0) / 100,
        tables=cursor.integer("tables", 1),
        loaded_by=cursor.kind("loaded_by", LoadedBy, LoadedBy.HAND),
        times=times,
        levels=levels,
        relay=relay,
        converter=converter,
        most_volts=most_volts,
        sink_milliamps=port.optional_number("sink_milliamps"),
        rounding_is_stated=cursor.child_or_empty("emits").has("rounding"),
        soft_start_minutes=cursor.integer("soft_start_minutes", SOFT_START_MINUTES),
    )


def _check_steps(
    cursor: Cursor, times: TimeGrid, levels: LevelGrid, converter: Converter, findings: Findings
) -> None:
    """Refuse steps of time or level that don't go together with the rest of the controller."""
    if times.step_s % levels.every_seconds:
        findings.add(
            "PHO315",
            cursor.at("emits", "every_seconds"),
            f"the output moves every {levels.every_seconds} s, which does not divide the time step of"
            f" {times.step_s} s",
            "rows take effect when the output moves: choose a divisor of the time step",
        )
        raise AlreadyReported
    if levels.unit == LevelUnit.CODE and levels.step > converter.full_code:
        findings.add(
            "PHO315",
            cursor.at("emits", "step"),
            f"a step of {levels.step} codes is larger than the top code {converter.full_code}",
        )
        raise AlreadyReported


def _note_defaults(cursor: Cursor, findings: Findings) -> None:
    """Report defaults that decide what the table is worth."""
    if not cursor.has("emits"):
        findings.add(
            "PHO324",
            cursor.path,
            "'emits' is taken as whole percents, moved every second, rounded half up",
            "say what the controller emits",
            on_key=True,
        )
    if not cursor.has("time_step_minutes"):
        findings.add(
            "PHO324",
            cursor.path,
            "'time_step_minutes' is taken as 1",
            "say on what grid the controller holds times",
            on_key=True,
        )


def _times(cursor: Cursor, findings: Findings) -> TimeGrid:
    minutes = Fraction(str(cursor.get("time_step_minutes", 1)))
    seconds = round(minutes * 60)  # 0.0167 minutes are meant as one second
    if seconds < 1 or abs(seconds - minutes * 60) > ROUNDING_S or SECONDS_PER_DAY % seconds:
        findings.add(
            "PHO315",
            cursor.at("time_step_minutes"),
            f"steps of {plain_number(float(minutes))} minutes do not divide 24 hours"
            " into whole seconds",
            "use a divisor such as 1, 2, 5, 10, 15, 30 or 60",
        )
        raise AlreadyReported
    return TimeGrid(
        step_s=seconds,
        between=cursor.kind("between", Between),
        after_last_row=cursor.kind("after_last_row", AfterLastRow),
    )


def _levels(cursor: Cursor, findings: Findings) -> LevelGrid:
    emits = cursor.child_or_empty("emits")
    unit = emits.kind("unit", LevelUnit, USUAL_LEVELS.unit)
    step = Fraction(str(emits.get("step", USUAL_LEVELS.step)))
    counts = RANGE[unit] / step if unit in RANGE else Fraction(1)
    whole = counts.denominator == 1 if unit in RANGE else step.denominator == 1
    if not whole:
        what = f"{RANGE[unit]:,} {unit}" if unit in RANGE else "into whole codes"
        findings.add(
            "PHO315",
            emits.at("step"),
            f"a step of {plain_number(float(step))} does not divide {what}",
            "use a step such as 1, 0.5 or 0.1 percent, 10 millivolts or 1 code",
        )
        raise AlreadyReported
    if counts > MAX_COUNTS:
        findings.add(
            "PHO315",
            emits.at("step"),
            f"a step this small makes too many levels; at most {MAX_COUNTS:,} are handled",
            "use a larger step",
        )
        raise AlreadyReported
    return LevelGrid(
        unit=unit,
        step=step,
        every_seconds=emits.integer("every_seconds", USUAL_LEVELS.every_seconds),
        rounding=emits.kind("rounding", Rounding, USUAL_LEVELS.rounding),
    )


def _relay(cursor: Cursor) -> RelayMode:
    relay = cursor.child("relay")
    kind = relay.kind("kind", RelayKind)
    level = relay.number("on_level_percent") if kind == RelayKind.FOLLOWS_LEVEL else 0.0
    return RelayMode(kind=kind, on_level_percent=level)
