"""A channel burns in at full, and no other light comes before it or after it."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key, others
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import clock_text


def burn_in_from_dark(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that goes from dark to full, or back, with no other light."""
    for id in program.schedule.channels:
        tables = [table for table in program.tables if id in table.plan.outside]
        if tables and tables[0].span:
            start, stop = (clock_text(second % 86_400) for second in tables[0].plan.windows[id])
            yield on_key(
                "PHO421",
                program.schedule.channels[id].path,
                f"'{id}' burns in at full from {start} to {stop} on {tables[0].span.first}, and no"
                " dimmable channel lights the same zones before and after it"
                f"{others([str(table.span.first) for table in tables[1:] if table.span], 'in')}",
                help="shade the zone for those days, or let another channel begin earlier and end later",
            )
