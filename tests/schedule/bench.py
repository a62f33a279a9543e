"""A file as data, damaged value by value, and what one part of it gives."""

from __future__ import annotations

from typing import Any

from photoperiod.diagnostics.model import Path
from photoperiod.schedule.cursor import Cursor
from photoperiod.schedule.findings import FileFindings
from photoperiod.source.document import read_text


def data_of(text: str) -> dict[str, Any]:
    document = read_text("test.yaml", text.encode())
    assert not document.diagnostics
    assert isinstance(document.data, dict)
    return document.data


def top_of(text: str, *bad: Path) -> Cursor:
    return Cursor(data_of(text), (), frozenset(bad))


def findings_of(top: Cursor) -> FileFindings:
    return FileFindings(top, is_faulty=False)


def told(findings: FileFindings) -> list[tuple[str, Path]]:
    """Return code and place of each finding, in order."""
    return [(each.code, each.path) for each in findings]
