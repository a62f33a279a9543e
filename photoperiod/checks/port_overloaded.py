"""The ballasts of a channel source more control current than the port can sink."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text


def port_overloaded(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose ballasts together source too much current."""
    controller = program.schedule.controller
    sink = controller.sink_milliamps
    if sink is None:
        return
    for id, c in program.channels.items():
        current = c.channel.ballast_count * c.channel.ballast.control_milliamps
        if current > sink:
            yield on_key(
                "PHO412",
                c.channel.path,
                f"the {c.channel.ballast_count} ballasts of '{id}' source up to"
                f" {number_text(current)} mA, the port sinks {number_text(sink)} mA",
                help="spread them over more ports, or add an amplifier; write `control_milliamps` if the data"
                " sheet of the ballast states less current",
            )
