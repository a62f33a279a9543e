"""A report as one JSON object, for programs; its form is `schemas/diagnostics.schema.json`."""

from __future__ import annotations

from typing import Any

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic, Report, SourceRange
from photoperiod.text import json_text

#: Version of the JSON form; it rises only when a reader of the old form could misread the new one.
VERSION = 1


def report_data(report: Report) -> dict[str, Any]:
    """Return a report as plain data, as ``schemas/diagnostics.schema.json`` describes it."""
    return {
        "version": VERSION,
        "diagnostics": [_diagnostic(report, d) for d in report],
        "not_run": dict(sorted(report.not_run.items())),
        "not_guarded": [each.data() for each in report.not_guarded],
        "summary": {
            "file": report.file,
            "errors": report.count(Severity.ERROR),
            "warnings": report.count(Severity.WARNING),
            "accepted": report.count(Severity.ACCEPTED),
            "notes": report.count(Severity.NOTE),
        },
    }


def render_json(report: Report) -> str:
    """Return a report as one JSON object."""
    return json_text(report_data(report))


def _diagnostic(report: Report, d: Diagnostic) -> dict[str, Any]:
    data: dict[str, Any] = {
        "code": d.code,
        "name": d.name,
        "severity": str(d.severity),
        "message": d.message,
        "file": report.shown(d.file),
        **_position(d.source_range),
        "path": list(d.path),
    }
    if d.help:
        data["help"] = d.help
    if d.accepted is not None:
        data["accepted_because"] = d.accepted
    if d.related:
        data["related"] = [
            {"message": item.message, **_position(item.source_range), "path": list(item.path)}
            | ({"file": report.shown(item.file)} if item.file != d.file else {})
            for item in d.related
        ]
    return data


def _position(source_range: SourceRange | None) -> dict[str, int | None]:
    if source_range is None:
        return {"line": None, "column": None, "end_line": None, "end_column": None}
    return {
        "line": source_range.line,
        "column": source_range.column,
        "end_line": source_range.end_line,
        "end_column": source_range.end_column,
    }
