"""A change goes on after the compiled dates, or none of its dates is among them."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from photoperiod.schedule.changes import Change, MovedHours


def change_beyond_dates(program: Program) -> Iterator[Diagnostic]:
    """Yield a note for each change that the dates cut off, or that is not within them at all."""
    for index, change in enumerate(program.schedule.changes):
        told = _told(change, program.span) if program.span else ""
        if told:
            yield on_value("PHO442", ("changes", index, "from_date"), told, help=_help(change))


def _told(change: Change, span: DateSpan) -> str:
    """Return in words how a change lies beside dates; empty if all of it is within them, or it stays."""
    if change.first > span.last:
        return f"the change begins on {change.first}, after the dates: it does nothing up to {span.last}"
    if change.last is None:
        return ""
    if change.last < span.first:
        if isinstance(change, MovedHours):
            return ""
        return f"the change ended on {change.last}, before the dates: it does nothing from {span.first} on"
    if change.last > span.last:
        return (
            f"the change goes on until {change.last}, but the tables end on {span.last}: a controller then"
            " stays as it is on that date"
        )
    return ""


def _help(change: Change) -> str:
    if change.last is None:
        return "compile the dates from then on with the same `--ledger`"
    return f"compile up to {change.last} or later, or go on from there with the same `--ledger`"
