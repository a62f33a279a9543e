"""A tube burns longer than its `replace_after_hours`."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text


def tube_overdue(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each tube that is overdue by the last date."""
    for id, t in program.tubes.items():
        limit = t.tube.replace_after_hours
        if limit is None or t.hours.lit_hours <= limit or program.span is None:
            continue
        yield on_value(
            "PHO414",
            (*t.tube.path, "replace_after_hours"),
            f"tube '{id}' will have burned {number_text(t.hours.lit_hours, 0)} h by"
            f" {program.span.last}, more than {number_text(limit, 0)} h",
            help="replace it, but not all tubes of a tank on one day: the light would jump",
        )
