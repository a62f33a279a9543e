"""What a comparison shows, as text and JSON."""

from __future__ import annotations

from typing import Any

from photoperiod.compare.findings import Finding, Judged, Verdict, time_text
from photoperiod.diagnostics.codes import CODES
from photoperiod.formats.table import PlayableTable
from photoperiod.text import counted, hours_text, json_text, safe, utc_text


def render_text(table: PlayableTable, verdict: Verdict) -> str:
    """Return a verdict for people: doses, then what is not as planned."""
    lines = [
        f"{safe(table.about.title)}: the log of"
        f" {time_text(verdict.clock, verdict.first_unix_s)} to"
        f" {time_text(verdict.clock, verdict.last_unix_s)}",
        "",
    ]
    for one in verdict.judged:
        share = "no plan"
        if one.planned > 0:
            share = f"{round((one.given / one.planned - 1) * 100, 1) + 0.0:+.1f} %"
        worst = "" if one.worst is None else f", worst deviation {one.worst * 100:.1f} % of full"
        lines.append(
            f"  {one.subject}: {one.given:.2f} of {one.planned:.2f} {one.unit} ({share}) in"
            f" {hours_text(one.covered_s)}{worst}"
        )
    lines += ["", *(_finding(finding) for finding in verdict.findings)]
    warnings = sum(finding.is_warning for finding in verdict.findings)
    lines.append(counted(warnings, "warning"))
    return "\n".join(lines) + "\n"


def _finding(finding: Finding) -> str:
    code = CODES[finding.code]
    subject = f"{finding.subject}: " if finding.subject else ""
    severity = "warning" if finding.is_warning else "note"
    return f"{severity} {code.code} {code.name}: {safe(subject + finding.message)}"


def render_json(table: PlayableTable, verdict: Verdict) -> str:
    """Return a verdict as JSON, as ``schemas/comparison.schema.json`` describes it."""
    about = table.about
    data: dict[str, Any] = {
        "format": "photoperiod-comparison",
        "version": 1,
        "made_with": about.made_with,
        "schedule": {"title": about.title, "sha256": about.sha256},
        "from": utc_text(verdict.first_unix_s),
        "to": utc_text(verdict.last_unix_s),
        "clock_ahead_seconds": round(verdict.clock_off_s, 1),
        "channels": {one.subject: _judged(one) for one in verdict.judged if not one.is_zone},
        "zones": {one.subject: _judged(one) for one in verdict.judged if one.is_zone},
        "findings": [
            {
                "code": finding.code,
                "name": CODES[finding.code].name,
                "severity": "warning" if finding.is_warning else "note",
                "subject": finding.subject or None,
                "message": finding.message,
            }
            for finding in verdict.findings
        ],
    }
    return json_text(data)


def _judged(one: Judged) -> dict[str, Any]:
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
