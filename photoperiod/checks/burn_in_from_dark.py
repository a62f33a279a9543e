"""Light at full that begins or ends in the dark."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import clock_text

CODE = "PHO421"
TITLE = "a channel that burns in is neither first to light nor last to go dark"
NEEDS_DATES = True
OF_ALL_TABLES = True


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each window that no other light surrounds."""
    for id in program.schedule.channels:
        tables = [table for table in program.tables if id in table.outside]
        if tables and tables[0].span:
            start, stop = (clock_text(second % 86_400) for second in tables[0].windows[id])
            yield Diagnostic(
                code=CODE,
                path=program.schedule.channels[id].origin,
                on_key=True,
                message=f"'{id}' burns in at full from {start} to {stop} on {tables[0].span.first}, and no"
                " dimmable channel lights the same zones before and after it",
                help="shade the zone for those days, or let another channel begin earlier and end later",
            )
