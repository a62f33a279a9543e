"""A tube burns longer than its `replace_after_hours`, or is in longer than its `replace_after_months`."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, TubeUse
from photoperiod.schedule.tube_places import left_at
from photoperiod.text import number_text

CODE = "PHO414"

#: A tube is no finding if its replacement stands in the file for a date so soon after it is due, or after the
#: first date: the keeper has planned it. Our choice.
SOON = dt.timedelta(days=14)


def tube_overdue(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each tube that is overdue by the last date, by its hours or else by its months.

    The ways to replace tubes are told once. There is none where the file plans the replacement soon.
    """
    if program.span is None:
        return

    from photoperiod.upkeep.due import WAYS_TO_REPLACE  # a day without a date follows no tubes

    help = f"replace it. {WAYS_TO_REPLACE}"
    for found in _overdue(program, program.span):
        yield replace(found, help=help)
        help = "replace it, too"


def _overdue(program: Program, span: DateSpan) -> Iterator[Diagnostic]:
    from photoperiod.upkeep.due import LitHours

    left, lit = left_at(program.schedule), LitHours(program)
    for id, t in program.tubes.items():
        limit = t.tube.replace_after_hours
        gone = None if left.get(id) is None else left[id].date()
        if limit is not None and t.hours.lit_hours > limit:
            since = span.first if t.tube.fitted is None else max(t.tube.fitted.date(), span.first)
            due = lit.date_of(t.channel, since, limit - t.hours.lit_hours_before)
            if not _is_planned(gone, due, span.first):
                yield on_value(
                    CODE,
                    (*t.tube.path, "replace_after_hours"),
                    f"tube '{id}' will have burned {number_text(t.hours.lit_hours, 0)} h by"
                    f" {_until(gone, span)}, more than {number_text(limit, 0)} h",
                )
            continue
        if gone is None or gone > span.first:
            yield from _by_months(id, t, gone, span)


def _by_months(id: str, t: TubeUse, gone: dt.date | None, span: DateSpan) -> Iterator[Diagnostic]:
    """Yield a finding if a tube was due by its months before a date on which it is still in."""
    from photoperiod.upkeep.due import months_later

    months, fitted = t.tube.replace_after_months, t.tube.fitted
    if months is None or fitted is None:
        return
    due, until = months_later(fitted.date(), months), _until(gone, span)
    if due < until and not _is_planned(gone, due, span.first):
        yield on_value(
            CODE,
            (*t.tube.path, "replace_after_months"),
            f"tube '{id}', fitted on {fitted:%Y-%m-%d}, is in until {until}: it was due on {due}, after"
            f" {number_text(months)} months",
        )


def _until(gone: dt.date | None, span: DateSpan) -> dt.date:
    return span.last if gone is None else min(span.last, gone)


def _is_planned(gone: dt.date | None, due: dt.date | None, first: dt.date) -> bool:
    """Return whether a tube leaves its place soon after it is due, or soon after the first date."""
    return gone is not None and gone <= max(due or first, first) + SOON
