"""A burn-in waits, because the light that it needs would be too much for the animals."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program


def burn_in_waits(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that waits, with the reason in the first table where it does."""
    waiting = {id for table in program.tables for id in table.plan.dark | table.plan.dimmed}
    for id in sorted(waiting):
        tables = [table for table in program.tables if id in table.plan.dark | table.plan.dimmed]
        first, last = tables[0].span, tables[-1].span
        if first and last:
            how = "stays dark" if id in tables[0].plan.dark else "is dimmed by the plan"
            why = tables[0].plan.reasons.get(id, "")
            yield on_key(
                "PHO419",
                program.schedule.channels[id].path,
                f"'{id}' owes burn-in and {how} from {first.first} to {last.last}: {why}",
                help="it is tried again every Monday; or burn the tubes in elsewhere and enter `lit_hours`"
                " and `burn_in_full_hours: 0`",
            )
