"""More control current than the port can sink."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO412"
TITLE = "the port can sink the control current of its ballasts"
NEEDS_DATES = False


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose ballasts source too much."""
    controller = program.schedule.controller
    sink = controller.sink_milliamps
    if sink is None:
        return
    for id, c in program.channels.items():
        current = c.channel.ballast_count * c.channel.ballast.control_milliamps
        if current > sink:
            yield Diagnostic(
                code=CODE,
                path=c.channel.origin,
                on_key=True,
                message=f"the {c.channel.ballast_count} ballasts of '{id}' source up to"
                f" {number_text(current)} mA, the port sinks {number_text(sink)} mA",
                help="spread them over more ports or add an amplifier; if the data sheet states less"
                " current, write `control_milliamps`",
            )
