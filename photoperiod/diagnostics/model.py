"""Diagnostics are values: what is wrong, where, how bad, and a way out. Nothing here prints."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Protocol

from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.codes import Severity as Severity  # a diagnostic shows it

#: Place of a node in the file: mapping keys and list indices from the top.
Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, order=True)
class SourceRange:
    """A stretch of the source; lines and columns count code points from 1, the end is exclusive."""

    line: int
    column: int
    end_line: int
    end_column: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Related:
    """A second place that has to do with a diagnostic."""

    message: str
    path: Path = ()
    source_range: SourceRange | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnostic:
    """One finding.

    Parameters
    ----------
    code : str
        Stable code; its name, severity and explanation stand in `photoperiod.diagnostics.codes`.
    message : str
        The fact, in lower case and without a full stop.
    path : Path
        The node it is about.
    on_key : bool
        True if the key of that node is meant, not its value.
    source_range : SourceRange or None
        Filled in by `photoperiod.source.document.Source.place`.
    help : str
        The way out.
    related : tuple of Related
        Other places that contributed.
    accepted : str or None
        The schedule's own reason where a hard finding was accepted.
    """

    code: str
    message: str
    path: Path = ()
    on_key: bool = False
    source_range: SourceRange | None = None
    help: str = ""
    related: tuple[Related, ...] = ()
    accepted: str | None = None

    @property
    def name(self) -> str:
        """Readable name of the code."""
        return CODES[self.code].name

    @property
    def severity(self) -> Severity:
        """Severity of the code, or ``ACCEPTED``."""
        if self.accepted is not None:
            return Severity.ACCEPTED
        return CODES[self.code].severity

    def accept(self, reason: str) -> Diagnostic:
        """Return the same finding, accepted for a reason."""
        return replace(self, accepted=reason)


class Places(Protocol):
    """Fills in the source range of diagnostics."""

    def place(self, diagnostic: Diagnostic) -> Diagnostic:
        """Return the diagnostic with its source range."""


_RANK = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.ACCEPTED: 2, Severity.NOTE: 3}


@dataclass(slots=True)
class Report:
    """The diagnostics of one file, in the order of the file."""

    file: str
    diagnostics: list[Diagnostic] = field(default_factory=list)
    not_run: dict[str, str] = field(default_factory=dict)
    _told: set[tuple[str, SourceRange, str]] = field(default_factory=set)

    def add(self, diagnostics: Iterable[Diagnostic], places: Places | None = None) -> None:
        """Add diagnostics, each put at its place in the source.

        A fault in a value that aliases repeat is one fault, told of once.
        """
        for diagnostic in diagnostics:
            placed = places.place(diagnostic) if places else diagnostic
            if placed.source_range is not None:
                told = (placed.code, placed.source_range, placed.message)
                if told in self._told:
                    continue
                self._told.add(told)
            self.diagnostics.append(placed)

    def copy(self) -> Report:
        """Return a report of its own with the same findings."""
        return Report(self.file, list(self.diagnostics), dict(self.not_run), set(self._told))

    def __iter__(self) -> Iterator[Diagnostic]:
        return iter(self.sorted())

    def sorted(self) -> list[Diagnostic]:
        """Return the diagnostics by place, the gravest first where places are equal."""
        nowhere = SourceRange(0, 0, 0, 0)
        return sorted(
            self.diagnostics,
            key=lambda d: (d.source_range or nowhere, _RANK[d.severity], d.code, d.message),
        )

    def count(self, severity: Severity) -> int:
        """Return how many diagnostics have this severity."""
        return sum(d.severity is severity for d in self.diagnostics)

    @property
    def has_errors(self) -> bool:
        """True if anything stands in the way of an output."""
        return self.count(Severity.ERROR) > 0
