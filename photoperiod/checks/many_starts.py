"""Tubes start more than twice a day."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program

#: Our choice, no source. The rated life of a tube assumes about eight starts a day (3 h on,
#: 20 min off: LRC, Lighting Answers 6(1), 2002), and fewer starts wear it less.
MOST_STARTS = 2


def many_starts(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose tubes start too often; other lamps do not wear."""
    for id, c in program.channels.items():
        if c.channel.tubes and c.starts > MOST_STARTS:
            yield on_key(
                "PHO411",
                c.channel.path,
                f"the tubes of '{id}' start {c.starts} times a day",
                help="join the lit stretches, or hold the floor between them",
                gravity=c.starts,
            )
