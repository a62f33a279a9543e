"""The findings on one file of readings, each with its place in that file."""

from __future__ import annotations

from photoperiod.diagnostics.codes import CODES, Severity
from photoperiod.diagnostics.model import Diagnostic, SourceRange

#: After so many errors a file is not read on: its columns are probably exchanged. Our choice.
MOST_FAULTS = 200

#: The place of findings about a whole file.
START = SourceRange(1, 1, 1, 1)


class TooManyFaults(Exception):
    """So many cells are faulty that reading on tells nothing new."""


class Faults(list[Diagnostic]):
    """The findings on a file, in the order in which they were found; ``errors`` counts the errors."""

    errors = 0

    def add(
        self, code: str, at: SourceRange | None, message: str, help: str = "", variant: str = ""
    ) -> None:
        """Add a finding; None is the whole file.

        Raises
        ------
        TooManyFaults
            If there are too many to go on.
        """
        self.append(
            Diagnostic(
                code=code, source_range=at or START, message=message, help=help, variant=variant
            )
        )
        self.errors += CODES[code].severity is Severity.ERROR
        if self.errors >= MOST_FAULTS:
            raise TooManyFaults

    @property
    def has_errors(self) -> bool:
        """True if the file can't be used."""
        return self.errors > 0
