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
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import VOLTS_SLACK, Findings, attempt
from photoperiod.schedule.model import Controller
from photoperiod.text import number_text, plain_number
from photoperiod.units import CONTROL_VOLTS_FULL, SECONDS_PER_DAY

#: A time step in minutes may miss whole seconds by this, for want of decimals [s].
ROUNDING_S = Fraction(5, 1000)

#: More counts than this in a level grid are a slip of the pen.
MAX_COUNTS = 100_000

#: From the floor to the top in a soft start [min]. Our choice, no source.
SOFT_START_MINUTES = 30


def lower_controller(top: Cursor, complaints: Findings) -> Controller:
    """Return the controller, or raise AlreadyReported."""
    view = top.child("controller")
    port = view.child_or_empty("port")
    most_volts = port.number("most_volts", CONTROL_VOLTS_FULL)
    times = attempt(lambda: _times(view, complaints))
    levels = attempt(lambda: _levels(view, complaints))
    relay = attempt(lambda: _relay(view))
    converter = attempt(lambda: _converter(view, most_volts, complaints))
    clock = view.text("clock")
    if times is None or levels is None or relay is None or converter is None:
        raise AlreadyReported
    if times.step_s % levels.every_seconds:
        complaints.add(
            "PHO315",
            view.at("emits", "every_seconds"),
            f"the output moves every {levels.every_seconds} s, which does not divide the time step of"
            f" {times.step_s} s",
            "rows take effect when the output moves: choose a divisor of the time step",
        )
        raise AlreadyReported
    if levels.unit == LevelUnit.CODE and levels.step > converter.full_code:
        complaints.add(
            "PHO315",
            view.at("emits", "step"),
            f"a step of {levels.step} codes is larger than the top code {converter.full_code}",
        )
        raise AlreadyReported
    if not view.has("emits"):
        complaints.add(
            "PHO324",
            view.path,
            "'emits' is taken as whole percents, moved every second, rounded half up",
            "say what the controller emits",
            on_key=True,
        )
    if not view.has("time_step_minutes"):
        complaints.add(
            "PHO324",
            view.path,
            "'time_step_minutes' is taken as 1",
            "say on what grid the controller holds times",
            on_key=True,
        )
    return Controller(
        label=view.text("label"),
        clock=clock,
        channels=view.integer("channels") if view.has("channels") else None,
        setpoints_per_channel=view.integer("setpoints_per_channel"),
        shared_times=bool(view.get("shared_times", False)),
        dose_within=view.number("dose_within_percent", 1.0) / 100,
        tables=view.integer("tables", 1),
        times=times,
        levels=levels,
        relay=relay,
        converter=converter,
        most_volts=most_volts,
        sink_milliamps=port.optional_number("sink_milliamps"),
        rounding_is_stated=view.child_or_empty("emits").has("rounding"),
        soft_start_minutes=view.integer("soft_start_minutes", SOFT_START_MINUTES),
        origin=view.path,
    )


def _times(view: Cursor, complaints: Findings) -> TimeGrid:
    minutes = Fraction(str(view.get("time_step_minutes", 1)))
    seconds = round(minutes * 60)  # 0.0167 minutes are meant as one second
    if seconds < 1 or abs(seconds - minutes * 60) > ROUNDING_S or SECONDS_PER_DAY % seconds:
        complaints.add(
            "PHO315",
            view.at("time_step_minutes"),
            f"steps of {plain_number(float(minutes))} minutes do not divide 24 hours"
            " into whole seconds",
            "use a divisor such as 1, 2, 5, 10, 15, 30 or 60",
        )
        raise AlreadyReported
    return TimeGrid(
        step_s=seconds,
        between=Between(view.text("between")),
        after_last_row=AfterLastRow(view.text("after_last_row")),
    )


def _levels(view: Cursor, complaints: Findings) -> LevelGrid:
    emits = view.child_or_empty("emits")
    unit = LevelUnit(emits.text("unit", LevelUnit.PERCENT))
    step = Fraction(str(emits.get("step", 1)))
    counts = RANGE[unit] / step if unit in RANGE else Fraction(1)
    whole = counts.denominator == 1 if unit in RANGE else step.denominator == 1
    if not whole:
        what = f"{RANGE[unit]:,} {unit}" if unit in RANGE else "into whole codes"
        complaints.add(
            "PHO315",
            emits.at("step"),
            f"a step of {plain_number(float(step))} does not divide {what}",
            "use a step such as 1, 0.5 or 0.1 percent, 10 millivolts or 1 code",
        )
        raise AlreadyReported
    if counts > MAX_COUNTS:
        complaints.add(
            "PHO315",
            emits.at("step"),
            f"a step this small makes too many levels; at most {MAX_COUNTS:,} are handled",
            "use a larger step",
        )
        raise AlreadyReported
    return LevelGrid(
        unit=unit,
        step=step,
        every_seconds=emits.integer("every_seconds", 1),
        rounding=Rounding(emits.text("rounding", Rounding.HALF_UP)),
    )


def _relay(view: Cursor) -> RelayMode:
    relay = view.child("relay")
    kind = RelayKind(relay.text("kind"))
    level = relay.number("on_level_percent") if kind == RelayKind.FOLLOWS_LEVEL else 0.0
    return RelayMode(kind=kind, on_level_percent=level)


def _converter(view: Cursor, most_volts: float, complaints: Findings) -> Converter:
    converter = view.child("converter")
    kind = converter.text("kind")  # first: without it nothing else has been looked at
    bits = converter.integer("bits")
    if kind == "nominal":
        full_scale = converter.number("full_scale_volts")
        return Converter.nominal(bits, full_scale, most_volts)
    low, high = sorted(
        (point.integer("code"), point.number("volts")) for point in converter.list("points")
    )
    fault = ""
    if high[0] >= 2**bits:
        fault = f"code {high[0]} does not fit into {bits} bits"
    elif low[0] == high[0]:
        fault = f"both points are at code {low[0]}"
    elif high[1] - low[1] < VOLTS_SLACK:
        fault = f"code {high[0]} gives no more volts than code {low[0]}"
    if fault:
        complaints.add(
            "PHO314",
            converter.at("points"),
            fault,
            "measure two codes well apart, the ballasts connected",
        )
        raise AlreadyReported
    made = Converter.two_point(bits, low, high, most_volts)
    if made.offset_volts > min(most_volts, CONTROL_VOLTS_FULL):
        complaints.add(
            "PHO314",
            converter.at("points"),
            f"by these points code 0 gives {number_text(made.offset_volts)} V, above the"
            " top of the port",
        )
        raise AlreadyReported
    return made
