"""The table strays from the plan."""

from collections.abc import Iterator

from photoperiod.diagnostics import Diagnostic
from photoperiod.program import Program
from photoperiod.units import clock_text, number_text

CODE = "C410"
TITLE = "the light of the finished table is close to the reachable plan"
NEEDS_DATES = False

#: A difference from which it is reported [fraction of full]. Our choice, no source.
WORTH_LIGHT = 0.05


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose table strays."""
    for id, c in program.channels.items():
        if c.fit.worst_light_error <= WORTH_LIGHT:
            continue
        second = c.fit.worst_second
        wanted = number_text(float(c.reachable[second]) * 100, 1)
        given = number_text(float(c.replay.light[second]) * 100, 1)
        yield Diagnostic(
            code=CODE,
            path=c.channel.origin,
            on_key=True,
            message=f"'{id}' gives {given} % light at {clock_text(second)} where {wanted} % is"
            f" wanted: {len(c.fit.rows)} rows do not hold this day better",
            help="gentler or fewer ramps, or more rows, bring it closer",
        )
