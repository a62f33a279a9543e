"""Burn-in that waits because animals come first."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program

CODE = "PHO419"
TITLE = "tubes that owe burn-in get their day at full at once"
NEEDS_DATES = True
OF_ALL_TABLES = True


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that waits, by the first table in which it does."""
    waiting = {id for table in program.tables for id in table.dark | table.dimmed}
    for id in sorted(waiting):
        tables = [table for table in program.tables if id in table.dark | table.dimmed]
        first, last = tables[0].span, tables[-1].span
        if first and last:
            how = "stays dark" if id in tables[0].dark else "is dimmed by the plan"
            why = tables[0].reasons.get(id, "")
            yield Diagnostic(
                code=CODE,
                path=program.schedule.channels[id].origin,
                on_key=True,
                message=f"'{id}' owes burn-in and {how} from {first.first} to {last.last}: {why}",
                help="shade the zone or raise the lamps, or burn the tubes in elsewhere and enter"
                " `lit_hours` and `burn_in_full_hours: 0`",
            )
