"""A tube burns longer than its `replace_after_hours`, or is in longer than its `replace_after_months`."""

import datetime as dt
from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program, TubeUse
from photoperiod.schedule.tube_places import left_at
from photoperiod.text import number_text
from photoperiod.upkeep.due import WAYS_TO_REPLACE, months_later

CODE = "PHO414"
HELP = f"replace it. {WAYS_TO_REPLACE}"


def tube_overdue(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each tube that is overdue by the last date, by its hours or else by its months."""
    if program.span is None:
        return
    left = left_at(program.schedule)
    for id, t in program.tubes.items():
        limit = t.tube.replace_after_hours
        if limit is not None and t.hours.lit_hours > limit:
            yield on_value(
                CODE,
                (*t.tube.path, "replace_after_hours"),
                f"tube '{id}' will have burned {number_text(t.hours.lit_hours, 0)} h by"
                f" {program.span.last}, more than {number_text(limit, 0)} h",
                help=HELP,
            )
            continue
        gone = left.get(id)
        if gone is not None and gone.date() <= program.span.first:
            continue
        until = program.span.last if gone is None else min(program.span.last, gone.date())
        yield from _by_months(id, t, until)


def _by_months(id: str, t: TubeUse, until: dt.date) -> Iterator[Diagnostic]:
    """Yield a finding if a tube was due by its months before a date on which it is still in."""
    months, fitted = t.tube.replace_after_months, t.tube.fitted
    if months is None or fitted is None:
        return
    due = months_later(fitted.date(), months)
    if due < until:
        yield on_value(
            CODE,
            (*t.tube.path, "replace_after_months"),
            f"tube '{id}', fitted on {fitted:%Y-%m-%d}, is in until {until}: it was due on {due}, after"
            f" {number_text(months)} months",
            help=HELP,
        )
