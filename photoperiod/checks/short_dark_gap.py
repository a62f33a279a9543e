"""A channel goes dark for a short time between two lit stretches."""

from collections.abc import Iterator

from photoperiod.arrays import runs_of_true
from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text

#: A shorter dark stretch is probably a mistake [s]. Our choice, no source.
SHORT_S = 900


def short_dark_gap(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each dark stretch that is shorter than a quarter of an hour."""
    for id, c in program.channels.items():
        for begin, end in runs_of_true(~c.replay.lit, repeats=True):
            length = end - begin
            if length < SHORT_S:
                yield on_key(
                    "PHO417",
                    c.channel.path,
                    f"'{id}' goes dark at {clock_text(begin)} for"
                    f" {number_text(length / 60, 1)} min and lights again",
                    help="let the second stretch begin before the first ends, or hold the floor between",
                    gravity=-length,
                )
