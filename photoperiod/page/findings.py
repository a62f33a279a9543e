"""Findings with their place in the source, as a page shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic, OtherFile, Related, SourceRange
from photoperiod.text import path_text, safe

#: So much of a source line stands before and after what is marked in it, at most. [characters]
AROUND = 60


@dataclass(frozen=True, slots=True)
class SourceLine:
    """A line of the source with what is marked in it, safe to show."""

    number: int
    before: str
    marked: str
    after: str


@dataclass(frozen=True, slots=True)
class ShownFinding:
    """A finding as a page shows it; ``lines`` are its place, and the other places that contributed."""

    severity: str
    code: str
    name: str
    message: str
    help: str
    accepted: str
    where: str
    lines: tuple[SourceLine, ...]


def shown_findings(
    findings: Sequence[Diagnostic],
    lines: Sequence[str],
    others: Mapping[str, OtherFile] = MappingProxyType({}),
) -> tuple[ShownFinding, ...]:
    """Return findings as a page shows them, the gravest first, then in the order of the file.

    Parameters
    ----------
    findings : sequence of Diagnostic
        In the order of the file.
    lines : sequence of str
        The lines of the source; empty for a schedule without one.
    others : mapping of str to OtherFile
        Other files in which findings can stand, by the name that the schedule has for them.
    """
    order = list(Severity)
    ranked = sorted(findings, key=lambda d: order.index(d.severity))
    return tuple(_shown(d, lines, others) for d in ranked)


def _shown(d: Diagnostic, lines: Sequence[str], others: Mapping[str, OtherFile]) -> ShownFinding:
    places: list[Diagnostic | Related] = [d, *d.related]
    marked = (
        marked_line(others[each.file].lines if each.file in others else lines, each.source_range)
        for each in places
        if each.source_range is not None
    )
    where = f"line {d.source_range.line}" if d.source_range else path_text(d.path)
    where = f"{d.file}, {where}" if d.file else where
    return ShownFinding(
        severity=str(d.severity),
        code=d.code,
        name=d.name,
        message=safe(d.message),
        help=safe(d.help),
        accepted=safe(d.accepted or ""),
        where=safe(where),
        lines=tuple(each for each in marked if each is not None),
    )


def marked_line(lines: Sequence[str], place: SourceRange) -> SourceLine | None:
    """Return the first line of a place in the source, cut around it; None if there is no such line."""
    if not 1 <= place.line <= len(lines):
        return None
    text = lines[place.line - 1]
    begin = min(place.column - 1, len(text))
    end = place.end_column - 1 if place.end_line == place.line else len(text)
    end = max(min(end, len(text)), begin)
    before, after = text[:begin], text[end:]
    if len(before) > AROUND:
        before = "…" + before[-AROUND:]
    if len(after) > AROUND:
        after = after[:AROUND] + "…"
    marked = text[begin:end]
    if len(marked) > 2 * AROUND:
        marked = marked[: 2 * AROUND] + "…"
    return SourceLine(
        place.line, *(safe(part.replace("\t", " ")) for part in (before, marked, after))
    )
