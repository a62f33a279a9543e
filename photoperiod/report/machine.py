"""Diagnostics for programs: one JSON object, or SARIF 2.1.0."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any
from urllib.parse import quote

from photoperiod import __version__
from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.model import Diagnostic, Report, Severity, SourceRange
from photoperiod.text import json_text, path_text

#: Version of the JSON form; it grows only when a reader could be misled.
VERSION = 1


def report_data(report: Report) -> dict[str, Any]:
    """Return a report as plain data, as ``schemas/diagnostics.schema.json`` describes it."""
    return {
        "version": VERSION,
        "diagnostics": [_diagnostic(report.file, d) for d in report],
        "not_run": dict(sorted(report.not_run.items())),
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


def _diagnostic(file: str, d: Diagnostic) -> dict[str, Any]:
    data: dict[str, Any] = {
        "code": d.code,
        "name": d.name,
        "severity": str(d.severity),
        "message": d.message,
        "file": file,
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


def render_sarif(report: Report) -> str:
    """Return a report in the Static Analysis Results Interchange Format (OASIS, 2.1.0)."""
    used = sorted({d.code for d in report})
    levels = {Severity.ERROR: "error", Severity.WARNING: "warning"}
    results = []
    for d in report:
        location: dict[str, Any] = {
            "artifactLocation": {"uri": quote(PurePath(report.file).as_posix())},
        }
        if d.source_range:
            location["region"] = {
                "startLine": d.source_range.line,
                "startColumn": d.source_range.column,
                "endLine": d.source_range.end_line,
                "endColumn": d.source_range.end_column,
            }
        result: dict[str, Any] = {
            "ruleId": d.code,
            "ruleIndex": used.index(d.code),
            "level": levels.get(d.severity, "note"),
            "message": {"text": d.message + (f"\n{d.help}" if d.help else "")},
            "locations": [
                {
                    "physicalLocation": location,
                    "logicalLocations": [{"fullyQualifiedName": path_text(d.path)}],
                }
            ],
        }
        if d.accepted is not None:
            result["suppressions"] = [{"kind": "inSource", "justification": d.accepted}]
        results.append(result)
    rules = [
        {
            "id": code,
            "name": CODES[code].name,
            "shortDescription": {"text": CODES[code].title},
            "fullDescription": {"text": CODES[code].explanation},
        }
        for code in used
    ]
    document = {
        "$schema": "https://json.schemastore.org/sarif-2.1.0.json",
        "version": "2.1.0",
        "runs": [
            {
                "tool": {"driver": {"name": "photoperiod", "version": __version__, "rules": rules}},
                "columnKind": "unicodeCodePoints",
                "results": results,
            }
        ],
    }
    return json_text(document)
