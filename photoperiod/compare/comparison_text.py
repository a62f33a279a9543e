"""A comparison of a log with a table, as text and as JSON."""

from __future__ import annotations

from typing import Any

from photoperiod.compare.model import Comparison, Finding, Result, time_text
from photoperiod.diagnostics.codes import CODES, Severity
from photoperiod.formats.table import PlayableTable
from photoperiod.text import counted, hours_text, json_text, safe, utc_text


def render_text(table: PlayableTable, comparison: Comparison) -> str:
    """Return a comparison for people: the doses, then the findings."""
    lines = [
        f"{safe(table.about.title)}: the log of"
        f" {time_text(comparison.clock, comparison.first_unix_s)} to"
        f" {time_text(comparison.clock, comparison.last_unix_s)}",
        "",
    ]
    for one in comparison.results:
        if one.covered_s <= 0:
            lines.append(f"  {one.subject}: nothing compared")
            continue
        ratio_text = "none planned"
        if one.planned > 0:
            ratio_text = f"{round((one.given / one.planned - 1) * 100, 1) + 0.0:+.1f} %"
        worst = "" if one.worst is None else f", worst deviation {one.worst * 100:.1f} % of full"
        lines.append(
            f"  {one.subject}: {one.given:.2f} of {one.planned:.2f} {one.unit} ({ratio_text}) in"
            f" {hours_text(one.covered_s)}{worst}"
        )
    lines += ["", *(_finding(finding) for finding in comparison.findings)]
    if comparison.not_seen:
        lines.append(safe(f"not seen: {'; '.join(comparison.not_seen)}"))
    warnings = sum(finding.is_warning for finding in comparison.findings)
    lines.append(counted(warnings, "warning"))
    return "\n".join(lines) + "\n"


def _finding(finding: Finding) -> str:
    code = CODES[finding.code]
    subject = f"{finding.subject}: " if finding.subject else ""
    severity = Severity.WARNING if finding.is_warning else Severity.NOTE
    return f"{severity} {code.code} {code.name}: {safe(subject + finding.message)}"


def render_json(table: PlayableTable, comparison: Comparison) -> str:
    """Return a comparison as JSON, as ``schemas/comparison.schema.json`` describes it."""
    about = table.about
    data: dict[str, Any] = {
        "format": "photoperiod-comparison",
        "version": 1,
        "made_with": about.made_with,
        "schedule": {"title": about.title, "sha256": about.sha256},
        "from": utc_text(comparison.first_unix_s),
        "to": utc_text(comparison.last_unix_s),
        "clock_ahead_seconds": round(comparison.clock_ahead_s, 1),
        "channels": {one.subject: _result(one) for one in comparison.results if not one.is_zone},
        "zones": {one.subject: _result(one) for one in comparison.results if one.is_zone},
        "findings": [
            {
                "code": finding.code,
                "name": CODES[finding.code].name,
                "severity": str(Severity.WARNING if finding.is_warning else Severity.NOTE),
                "subject": finding.subject or None,
                "message": finding.message,
            }
            for finding in comparison.findings
        ],
        "not_seen": list(comparison.not_seen),
    }
    return json_text(data)


def _result(one: Result) -> dict[str, Any]:
    return {
        "unit": one.unit,
        "covered_hours": round(one.covered_s / 3600, 4),
        "given": round(one.given, 5),
        "planned": round(one.planned, 5),
        "worst_deviation_percent": None if one.worst is None else round(one.worst * 100, 3),
        "worst_at": None if one.worst_unix_s is None else utc_text(one.worst_unix_s),
        "dates": {
            date.isoformat(): {
                "given": round(given, 5),
                "planned": round(planned, 5),
                "covered_hours": round(covered / 3600, 4),
            }
            for date, (given, planned, covered) in one.by_date.items()
        },
    }
