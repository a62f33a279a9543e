"""The two kinds of finding that a check yields: one marks a key of the schedule, one a value.

A finding that tells one date of several names the others with `others`, so that none is silent.
"""

from collections.abc import Sequence

from photoperiod.diagnostics.model import Diagnostic, Path, Related
from photoperiod.text import counted

#: So many other dates are named one by one; of more the count and the last are told.
MOST_OTHERS = 12


def on_key(code: str, path: Path, message: str, help: str = "", gravity: float = 0.0) -> Diagnostic:
    """Return a finding that marks the key at a path, such as the id of a channel."""
    return Diagnostic(
        code=code, path=path, on_key=True, message=message, help=help, gravity=gravity
    )


def on_value(
    code: str,
    path: Path,
    message: str,
    help: str = "",
    related: tuple[Related, ...] = (),
    gravity: float = 0.0,
) -> Diagnostic:
    """Return a finding that marks the value at a path, such as a limit of a zone."""
    return Diagnostic(
        code=code, path=path, message=message, help=help, related=related, gravity=gravity
    )


def others(dates: Sequence[str], of: str = "on") -> str:
    """Return in words on which other dates the same is so; empty if there are none.

    ``of`` is ``on`` for single dates and ``in`` for tables, told by their first dates.
    """
    if not dates:
        return ""
    if len(dates) > MOST_OTHERS:
        listed = f"{', '.join(dates[:MOST_OTHERS])} and so on, the last {dates[-1]}"
    else:
        listed = ", ".join(dates)
    if of == "in":
        return f"; and in {counted(len(dates), 'other table')}, from {listed}"
    return f"; and on {counted(len(dates), 'other date')}: {listed}"
