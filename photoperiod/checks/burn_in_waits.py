"""A burn-in waits, because the light that it needs would be too much for the animals."""

import functools
import itertools
from collections.abc import Iterator, Sequence

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program, Table


def burn_in_waits(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that waits: when, and the reason in the first table where it does."""
    for id in sorted(program.schedule.channels):
        runs = itertools.groupby(program.tables, key=functools.partial(_waits, id))
        stretches = [list(run) for waits, run in runs if waits]
        if not stretches:
            continue
        plan = stretches[0][0].plan
        how = "stays dark" if id in plan.dark else "is dimmed by the plan"
        again = "".join(f", and again {_dates(stretch)}" for stretch in stretches[1:])
        yield on_key(
            "PHO419",
            program.schedule.channels[id].path,
            f"'{id}' owes burn-in and {how} {_dates(stretches[0])}{again}: {plan.reasons.get(id, '')}",
            help="it is tried again every Monday; or burn the tubes in elsewhere and enter `lit_hours`"
            " and `burn_in_full_hours: 0`",
        )


def _waits(id: str, table: Table) -> bool:
    return table.span is not None and id in table.plan.dark | table.plan.dimmed


def _dates(tables: Sequence[Table]) -> str:
    first, last = tables[0].span, tables[-1].span
    return f"from {first.first} to {last.last}" if first and last else ""
