"""Diagnostics are values: what is wrong, where, how bad, and a way out. Nothing here prints."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple, Protocol

from photoperiod.diagnostics.codes import CODES, Severity
from photoperiod.diagnostics.unguarded import Unguarded

#: Place of a node in the file: mapping keys and list indices from the top.
Path = tuple[str | int, ...]


class SourceRange(NamedTuple):
    """A place in the file: lines and columns count code points from 1, the end is exclusive."""

    line: int
    column: int
    end_line: int
    end_column: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Related:
    """A second place that has to do with a diagnostic, and what stands there."""

    message: str
    path: Path = ()
    source_range: SourceRange | None = None
    file: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnostic:
    """A finding: what is wrong, where, how bad, and a way out.

    Parameters
    ----------
    code : str
        Finding code; its name, severity and explanation stand in `photoperiod.diagnostics.codes`.
    message : str
        The fact, in lower case and without a full stop.
    path : Path
        The value it is about.
    on_key : bool
        True if the key of that value is meant, not the value.
    source_range : SourceRange or None
        Its place in the file, once `photoperiod.source.document.Document.place` has filled it in.
    help : str
        What to do about it.
    related : tuple of Related
        Other places that contributed.
    accepted : str or None
        The reason that the schedule gives for accepting a hard finding; None if it does not.
    variant : str
        Tells findings of one code at one place apart, such as a dose above its band and one below:
        tables that have the same finding are gathered by it.
    gravity : float
        How far off it is, in any unit: of a finding that several tables have, the one with the most is told.
    file : str
        The file of its place, by the name that the schedule has for it; empty for the schedule itself.
    """

    code: str
    message: str
    path: Path = ()
    on_key: bool = False
    source_range: SourceRange | None = None
    help: str = ""
    related: tuple[Related, ...] = ()
    accepted: str | None = None
    variant: str = ""
    gravity: float = 0.0
    file: str = ""

    @property
    def name(self) -> str:
        """The readable name of the code, for example ``repeated-key``."""
        return CODES[self.code].name

    @property
    def severity(self) -> Severity:
        """The severity of the code, or ``ACCEPTED``."""
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


class OtherFile(NamedTuple):
    """A file that a schedule names and that findings can stand in: what to call it, and its lines."""

    shown: str
    lines: Sequence[str]


@dataclass(slots=True)
class Report:
    """The findings of one file, and of files that belong to it.

    Parameters
    ----------
    file : str
        What the file is called in messages.
    diagnostics : list of Diagnostic
        In the order in which they were found; iterating over the report gives the order of the file.
    not_run : dict of str to str
        Checks that could not run, each with the reason.
    not_guarded : tuple of Unguarded
        What no limit of the schedule stands for.
    others : dict of str to OtherFile
        The other files in which findings can stand, by the name that the schedule has for them.
    """

    file: str
    diagnostics: list[Diagnostic] = field(default_factory=list)
    not_run: dict[str, str] = field(default_factory=dict)
    not_guarded: tuple[Unguarded, ...] = ()
    others: dict[str, OtherFile] = field(default_factory=dict)
    _added: set[tuple[str, str, SourceRange, str]] = field(default_factory=set)

    def add(self, diagnostics: Iterable[Diagnostic], places: Places | None = None) -> None:
        """Add diagnostics; ``places`` fills in where each stands in the file.

        The same message about the same place is added once: aliases repeat a value, and its fault.
        """
        for diagnostic in diagnostics:
            placed = places.place(diagnostic) if places else diagnostic
            if placed.source_range is not None:
                key = (placed.code, placed.file, placed.source_range, placed.message)
                if key in self._added:
                    continue
                self._added.add(key)
            self.diagnostics.append(placed)

    def copy(self) -> Report:
        """Return a second report with the same findings, to which others can be added."""
        return Report(
            self.file,
            list(self.diagnostics),
            dict(self.not_run),
            self.not_guarded,
            dict(self.others),
            set(self._added),
        )

    def with_more(self, findings: Iterable[Diagnostic], places: Places | None = None) -> Report:
        """Return a second report with the same findings and others; parameters are those of `add`."""
        report = self.copy()
        report.add(findings, places)
        return report

    def shown(self, file: str) -> str:
        """Return what to call the file of a finding in messages."""
        return self.others[file].shown if file in self.others else self.file

    def lines_of(self, file: str, lines: Sequence[str]) -> Sequence[str]:
        """Return the lines of the file of a finding, where ``lines`` are those of the schedule."""
        return self.others[file].lines if file in self.others else lines

    def without(self, code: str) -> Report:
        """Return a second report that leaves out the findings of a code."""
        found = self.copy()
        found.diagnostics = [each for each in found.diagnostics if each.code != code]
        return found

    def __iter__(self) -> Iterator[Diagnostic]:
        return iter(self.sorted())

    def sorted(self) -> list[Diagnostic]:
        """Return the diagnostics in the order of the file, then of others; at one place the worst first."""
        nowhere = SourceRange(0, 0, 0, 0)
        return sorted(
            self.diagnostics,
            key=lambda d: (d.file, d.source_range or nowhere, _RANK[d.severity], d.code, d.message),
        )

    def count(self, severity: Severity) -> int:
        """Return how many diagnostics have this severity."""
        return sum(d.severity is severity for d in self.diagnostics)

    @property
    def has_errors(self) -> bool:
        """True if the schedule can't be compiled, or its table not be written."""
        return self.count(Severity.ERROR) > 0
