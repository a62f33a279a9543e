"""A plan or a table asks for volts that the port can't give."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text
from photoperiod.units import CONTROL_VOLTS_FULL

#: So much light may be missing at the top: a 12-bit converter ends at 9.9976 V, not at 10 V.
#: It is half of a level step of 1 % [fraction of full]. Our choice, no source.
TOP_SLACK = 0.005


def volts_out_of_reach(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose table or plan is above the top of the port."""
    port = program.schedule.controller.most_volts
    limit = min(port, CONTROL_VOLTS_FULL)
    for id, c in program.channels.items():
        if c.most_volts > limit + 1e-9:
            yield on_key(
                "PHO401",
                c.channel.path,
                f"the table of '{id}' reaches {number_text(c.most_volts, 4)} V, above the"
                f" {number_text(limit)} V of the port",
                gravity=c.most_volts,
            )
        wanted = c.wanted_peak
        if wanted > c.path.most_light + TOP_SLACK:
            volts = float(c.path.volts[-1])
            yield on_key(
                "PHO401",
                c.channel.path,
                f"'{id}' asks for {number_text(wanted * 100)} % light, but the"
                f" {number_text(volts)} V of the port give {number_text(c.path.most_light * 100)} %",
                help=f"plan at most {number_text(c.path.most_light * 100, 1)} %, or use an output that"
                f" reaches {number_text(c.channel.ballast.curve.full_volts)} V",
                gravity=wanted,
            )
