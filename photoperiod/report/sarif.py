"""A report in the Static Analysis Results Interchange Format (SARIF 2.1.0, OASIS), for programs."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any
from urllib.parse import quote

from photoperiod import __version__
from photoperiod.diagnostics.codes import CODES, Severity
from photoperiod.diagnostics.model import Diagnostic, Report
from photoperiod.text import json_text, path_text

_SCHEMA = "https://json.schemastore.org/sarif-2.1.0.json"

#: The format knows three levels; an accepted finding is a note that is suppressed.
_LEVELS = {
    Severity.ERROR: "error",
    Severity.WARNING: "warning",
    Severity.ACCEPTED: "note",
    Severity.NOTE: "note",
}


def render_sarif(report: Report) -> str:
    """Return a report as one SARIF run."""
    codes = sorted({d.code for d in report})
    driver = {
        "name": "photoperiod",
        "version": __version__,
        "rules": [_rule(code) for code in codes],
    }
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "results": [_result(report.shown(d.file), d, codes.index(d.code)) for d in report],
    }
    return json_text({"$schema": _SCHEMA, "version": "2.1.0", "runs": [run]})


def _rule(code: str) -> dict[str, Any]:
    entry = CODES[code]
    return {
        "id": code,
        "name": entry.name,
        "shortDescription": {"text": entry.title},
        "fullDescription": {"text": entry.explanation},
    }


def _result(file: str, d: Diagnostic, rule_index: int) -> dict[str, Any]:
    result: dict[str, Any] = {
        "ruleId": d.code,
        "ruleIndex": rule_index,
        "level": _LEVELS[d.severity],
        "message": {"text": d.message + (f"\n{d.help}" if d.help else "")},
        "locations": [
            {
                "physicalLocation": _location(file, d),
                "logicalLocations": [{"fullyQualifiedName": path_text(d.path)}],
            }
        ],
    }
    if d.accepted is not None:
        result["suppressions"] = [{"kind": "inSource", "justification": d.accepted}]
    return result


def _location(file: str, d: Diagnostic) -> dict[str, Any]:
    location: dict[str, Any] = {"artifactLocation": {"uri": quote(PurePath(file).as_posix())}}
    if d.source_range:
        location["region"] = {
            "startLine": d.source_range.line,
            "startColumn": d.source_range.column,
            "endLine": d.source_range.end_line,
            "endColumn": d.source_range.end_column,
        }
    return location
