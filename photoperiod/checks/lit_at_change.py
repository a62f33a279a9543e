"""The light of a channel jumps at midnight, where one dated table follows another."""

import itertools
from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import counted, number_text

#: A larger jump is reported [fraction of full]. Our choice, no source.
WORTH_LIGHT = 0.05


def lit_at_change(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose light jumps between tables, at its first jump."""
    for id, channel in program.schedule.channels.items():
        jumps = []
        for before, after in itertools.pairwise(program.controller_tables):
            old = float(before.channels[id].replay.light[-1])
            new = float(after.channels[id].replay.light[0])
            if abs(new - old) > WORTH_LIGHT and after.span:
                jumps.append((after.span.first, old, new))
        if jumps:
            date, old, new = jumps[0]
            yield on_key(
                "PHO422",
                channel.path,
                f"the table changes at the midnight that begins {date} while '{id}' is lit: from"
                f" {number_text(old * 100)} to {number_text(new * 100)} % of full at once"
                f" ({counted(len(jumps), 'such change')})",
                help=_way_out(program),
            )


def _way_out(program: Program) -> str:
    """Return what helps. A table that wraps moves towards its own first row, not that of the next."""
    dark = "let the channel be dark at midnight on the controller's clock"
    if program.schedule.controller.times.wraps:
        return (
            dark
            + "; or use `after_last_row: hold` if the controller can: the level then stays until midnight"
        )
    return (
        dark
        + "; light that follows the sky changes from date to date, and jumps there by the change"
    )
