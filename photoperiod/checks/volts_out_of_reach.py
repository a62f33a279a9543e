"""Volts or light that the port can't give."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text
from photoperiod.units import CONTROL_VOLTS_FULL

CODE = "PHO401"
TITLE = "the port can give the volts that the plan and the table ask for"
NEEDS_DATES = False

#: Light that may be missing at the very top: a 12-bit converter ends at 9.9976 V, not at 10 V.
#: Half of a level step of 1 % [fraction of full].
TOP_SLACK = 0.005


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that asks for more than the port gives."""
    port = program.schedule.controller.most_volts
    limit = min(port, CONTROL_VOLTS_FULL)
    for id, c in program.channels.items():
        if c.most_volts > limit + 1e-9:
            yield Diagnostic(
                code=CODE,
                path=c.channel.origin,
                on_key=True,
                message=f"the table of '{id}' reaches {number_text(c.most_volts, 4)} V, above the"
                f" {number_text(limit)} V of the port",
            )
        wanted = c.wanted_peak
        if wanted > c.path.most_light + TOP_SLACK:
            volts = float(c.path.volts[-1])
            yield Diagnostic(
                code=CODE,
                path=c.channel.origin,
                on_key=True,
                message=f"'{id}' asks for {number_text(wanted * 100)} % light, but the"
                f" {number_text(volts)} V of the port give {number_text(c.path.most_light * 100)} %",
                help=f"plan at most {number_text(c.path.most_light * 100, 1)} %, or fit an output that"
                f" reaches {number_text(c.channel.ballast.curve.full_volts)} V",
            )
