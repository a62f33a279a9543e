"""What the parts of this stage share: collecting findings, trying parts, knowing ids."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic, Path, Related
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.text import close_match, short, suggestion

T = TypeVar("T")

#: Volts from the file are compared with computed ones; they may differ by this for rounding [V].
VOLTS_SLACK = 1e-6


class Findings(list[Diagnostic]):
    """The diagnostics of one pass, in the order in which they were found."""

    def add(
        self,
        code: str,
        path: Path,
        message: str,
        help: str = "",
        *,
        on_key: bool = False,
        related: tuple[Related, ...] = (),
    ) -> None:
        """Add one diagnostic."""
        self.append(
            Diagnostic(
                code=code, path=path, message=message, help=help, on_key=on_key, related=related
            )
        )

    @property
    def has_errors(self) -> bool:
        """True if anything so far stands in the way of a schedule."""
        return any(d.severity is Severity.ERROR for d in self)


class FileFindings(Findings):
    """The diagnostics of a file, and the ids that are written in it.

    Parameters
    ----------
    top : Cursor
        The whole file.
    is_faulty : bool
        True if an earlier stage found errors.
    """

    def __init__(self, top: Cursor, *, is_faulty: bool) -> None:
        super().__init__()
        self.top, self.is_faulty = top, is_faulty

    @property
    def has_errors(self) -> bool:
        """True if anything so far stands in the way of a schedule."""
        return self.is_faulty or super().has_errors

    def ids(self, key: str) -> list[str]:
        """Return all ids under a key, also those of faulty entries.

        A reference to a faulty entry must not be reported as unknown.
        """
        value = self.top.data.get(key)
        return list(value) if isinstance(value, dict) else []

    def knows(self, name: str, key: str, path: Path, *, on_key: bool = False) -> bool:
        """Return whether an id is written under a key; add a finding if it is not."""
        if name in self.ids(key):
            return True
        if self.top.at(key) in self.top.bad:
            return False  # the whole section has a fault, which has been reported
        guess = close_match(name, self.ids(key))
        if guess and self.top.at(key, guess) in self.top.bad:
            return False  # the entry that was probably meant has a fault, which has been reported
        kind = key[:-1].replace("_", " ")
        self.add(
            "PHO301",
            path,
            f"there is no {kind} '{short(name)}'",
            suggestion(name, self.ids(key), kind),
            on_key=on_key,
        )
        return False


def attempt(make: Callable[[], T]) -> T | None:
    """Return what a function makes, or None if something that it needs has a fault."""
    try:
        return make()
    except AlreadyReported:
        return None
