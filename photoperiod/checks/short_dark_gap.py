"""A short dark gap between two lit stretches."""

from collections.abc import Iterator

import numpy as np

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text

CODE = "PHO417"
TITLE = "no channel goes dark for a moment between two lit stretches"
NEEDS_DATES = False

#: Gaps shorter than this are hardly meant [s]. Our choice, no source.
SHORT_S = 900


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that blinks."""
    for id, c in program.channels.items():
        lit = c.replay.lit
        begins = np.flatnonzero(~lit & np.roll(lit, 1))
        ends = np.flatnonzero(lit & ~np.roll(lit, 1))
        for begin in begins.tolist():
            later = ends[ends > begin]
            length = int(later[0]) - begin if later.size else int(ends[0]) + lit.size - begin
            if length < SHORT_S:
                yield Diagnostic(
                    code=CODE,
                    path=c.channel.origin,
                    on_key=True,
                    message=f"'{id}' goes dark at {clock_text(begin)} for"
                    f" {number_text(length / 60, 1)} min and lights again",
                    help="let what follows begin before what precedes it has ended, or hold the floor",
                )
