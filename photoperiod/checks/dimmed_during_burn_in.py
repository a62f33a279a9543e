"""A new tube dimmed before its burn-in is paid."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic, Related
from photoperiod.program.model import Program
from photoperiod.text import clock_text, hours_text, number_text

CODE = "PHO406"
TITLE = "tubes that owe burn-in are dark or full"
NEEDS_DATES = True
OF_ALL_TABLES = True


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each tube that is dimmed while it owes burn-in."""
    for id, t in program.tubes.items():
        if not t.ledger.dimmed:
            continue
        first = t.ledger.dimmed[0]
        c = program.table_on(first.date).channels[t.channel]
        count = int(c.replay.counts[first.second])
        level = float(c.path.level_percents[count])
        dates = len({run.date for run in t.ledger.dimmed})
        total = hours_text(sum(run.length_s for run in t.ledger.dimmed))
        days = "1 date" if dates == 1 else f"{dates} dates"
        step_s = program.schedule.controller.times.step_s
        is_edge = all(run.length_s <= step_s for run in t.ledger.dimmed)
        yield Diagnostic(
            code=CODE,
            path=(*t.tube.origin, "burn_in_full_hours"),
            message=f"tube '{id}' is dimmed on {first.date} at {clock_text(first.second)} to"
            f" {number_text(level)} % level with {number_text(first.owed_hours)} h of burn-in owed;"
            f" in all {total} on {days}"
            + (
                f", each time on its way in one time step of {hours_text(step_s)}"
                if is_edge
                else ""
            ),
            help="a finer time step makes the way from dark to full shorter"
            if is_edge
            else "keep the channel dark or full until it is paid, shorten the day so that the dose"
            " holds, or burn the tube in elsewhere and enter the hours",
            related=(Related(message="its channel", path=c.channel.origin),),
        )
