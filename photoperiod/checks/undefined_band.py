"""A channel spends time between standby and floor volts, where its light is not defined."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text


def undefined_band(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that spends more than two time steps a day there."""
    step_s = program.schedule.controller.times.step_s
    for id, c in program.channels.items():
        if c.undefined_seconds <= 2 * step_s:
            continue
        curve = c.channel.ballast.curve
        yield on_key(
            "PHO413",
            c.channel.path,
            f"'{id}' spends {c.undefined_seconds} s a day between"
            f" {number_text(curve.standby_volts)} V and {number_text(curve.floor_volts)} V, where its"
            " light is not defined",
            help="it crosses that band each time it lights or goes dark: let it light fewer times a day,"
            " or use a finer time step",
            gravity=c.undefined_seconds,
        )
