"""Seconds spent between standby and floor volts."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO413"
TITLE = "no time is spent between standby and floor volts"
NEEDS_DATES = False


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that lingers where its light is not defined."""
    step_s = program.schedule.controller.times.step_s
    for id, c in program.channels.items():
        if c.undefined_seconds <= 2 * step_s:
            continue
        curve = c.channel.ballast.curve
        yield Diagnostic(
            code=CODE,
            path=c.channel.origin,
            on_key=True,
            message=f"'{id}' spends {c.undefined_seconds} s a day between"
            f" {number_text(curve.standby_volts)} V and {number_text(curve.floor_volts)} V, where its"
            " light is not defined",
            help="each switching crosses that band: light it fewer times a day, or use a finer time step",
        )
