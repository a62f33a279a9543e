"""Burn-in that waits because animals come first."""

from collections.abc import Iterator

from photoperiod.diagnostics import Diagnostic
from photoperiod.program import Program

CODE = "C419"
TITLE = "tubes that owe burn-in get their day at full at once"
NEEDS_DATES = True


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that waits, by the first table in which it does."""
    for table in program.tables:
        for id in sorted(table.dark | table.dimmed):
            how = "stays dark" if id in table.dark else "is dimmed by the plan"
            why = f": {table.reason}" if table.reason else ""
            yield Diagnostic(
                code=CODE,
                path=program.schedule.channels[id].origin,
                on_key=True,
                message=f"'{id}' owes burn-in and {how}, because a day at full is not possible{why}",
                help="shade the zone or raise the lamps, or burn the tubes in elsewhere and enter"
                " `lit_hours` and `burn_in_full_hours: 0`",
            )
