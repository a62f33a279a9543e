"""A channel goes dark for a short time between two lit stretches."""

from collections.abc import Iterator

import numpy as np

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text

#: A shorter dark stretch is probably a mistake [s]. Our choice, no source.
SHORT_S = 900


def short_dark_gap(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each dark stretch that is shorter than a quarter of an hour."""
    for id, c in program.channels.items():
        lit = c.replay.lit
        begins = np.flatnonzero(~lit & np.roll(lit, 1))
        ends = np.flatnonzero(lit & ~np.roll(lit, 1))
        for begin in begins.tolist():
            later = ends[ends > begin]
            length = int(later[0]) - begin if later.size else int(ends[0]) + lit.size - begin
            if length < SHORT_S:
                yield on_key(
                    "PHO417",
                    c.channel.origin,
                    f"'{id}' goes dark at {clock_text(begin)} for"
                    f" {number_text(length / 60, 1)} min and lights again",
                    help="let the second stretch begin before the first ends, or hold the floor between",
                )
