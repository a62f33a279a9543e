"""A table that changes while a channel is lit."""

import itertools
from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import counted, number_text

CODE = "PHO422"
TITLE = "no channel's light jumps where one dated table follows another at midnight"
NEEDS_DATES = True
OF_ALL_TABLES = True

#: A jump from which it is reported [fraction of full]. Our choice.
WORTH_LIGHT = 0.05


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that is lit while tables change, by its first jump."""
    for id, channel in program.schedule.channels.items():
        jumps = []
        for before, after in itertools.pairwise(program.tables):
            old = float(before.channels[id].replay.light[-1])
            new = float(after.channels[id].replay.light[0])
            if abs(new - old) > WORTH_LIGHT and after.span:
                jumps.append((after.span.first, old, new))
        if jumps:
            date, old, new = jumps[0]
            yield Diagnostic(
                code=CODE,
                path=channel.origin,
                on_key=True,
                message=f"the table changes at the midnight that begins {date} while '{id}' is lit: from"
                f" {number_text(old * 100)} to {number_text(new * 100)} % of full at once"
                f" ({counted(len(jumps), 'such change')})",
                help=_way_out(program),
            )


def _way_out(program: Program) -> str:
    """Return what helps: a table that wraps slides towards its own first row, which is last night's."""
    dark = "let the channel be dark at midnight on the controller's clock"
    if program.schedule.controller.times.wraps:
        return (
            dark
            + "; or, if the controller can, `after_last_row: hold`: the level stays until midnight"
        )
    return dark + "; light that follows the sky jumps there by what one date differs from the next"
