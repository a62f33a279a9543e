"""Tubes that start more than twice a day."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program

CODE = "PHO411"
TITLE = "tubes start at most twice a day"
NEEDS_DATES = False

#: Our choice, no source; rated life counts on about eight starts a day (3 h on, 20 min off:
#: LRC, Lighting Answers 6(1), 2002), and fewer are kinder.
MOST_STARTS = 2


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel with tubes that starts too often."""
    for id, c in program.channels.items():
        if c.channel.tubes and c.starts > MOST_STARTS:
            yield Diagnostic(
                code=CODE,
                path=c.channel.origin,
                on_key=True,
                message=f"the tubes of '{id}' start {c.starts} times a day",
                help="join the lit stretches, or hold the floor between them",
            )
