"""A tube past its hours."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO414"
TITLE = "no tube burns longer than its replace_after_hours"
NEEDS_DATES = True
OF_ALL_TABLES = True


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each tube that is due."""
    for id, t in program.tubes.items():
        limit = t.tube.replace_after_hours
        if limit is None or t.ledger.lit_hours <= limit or program.span is None:
            continue
        yield Diagnostic(
            code=CODE,
            path=(*t.tube.origin, "replace_after_hours"),
            message=f"tube '{id}' will have burned {number_text(t.ledger.lit_hours, 0)} h by"
            f" {program.span.last}, more than {number_text(limit, 0)} h",
            help="replace it; not all tubes of a tank on one day, for the light would jump",
        )
