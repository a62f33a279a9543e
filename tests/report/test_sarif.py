"""A report as SARIF: what the standard requires, levels, places and file names."""

from __future__ import annotations

import json
from urllib.parse import unquote, urlsplit

import pytest

from photoperiod import __version__
from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.model import Diagnostic, Report, SourceRange
from photoperiod.report.sarif import render_sarif
from tests.report.reports import (
    NAMES,
    REPORTS,
    everything,
)

# Required and recommended properties by OASIS, Static Analysis Results Interchange Format
# (SARIF) Version 2.1.0, chapters 3.13 (log file), 3.14 (run), 3.19 (tool component), 3.27 (result),
# 3.28 to 3.30 (location, physical location, region), 3.35 (suppression).


def sarif(report):
    return json.loads(render_sarif(report))


@pytest.mark.parametrize("report", REPORTS, ids=NAMES)
def test_sarif_has_its_required_fields(report):
    log = sarif(report)
    assert log["version"] == "2.1.0"
    assert urlsplit(log["$schema"]).scheme == "https"
    (run,) = log["runs"]
    driver = run["tool"]["driver"]
    assert driver["name"] == "photoperiod"
    assert driver["version"] == __version__
    assert run["columnKind"] == "unicodeCodePoints"
    rules = driver["rules"]
    assert len({rule["id"] for rule in rules}) == len(rules)
    assert len(run["results"]) == len(report.diagnostics)
    for result in run["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
        assert result["level"] in ("error", "warning", "note")
        assert result["message"]["text"]
        (location,) = result["locations"]
        physical = location["physicalLocation"]
        assert physical["artifactLocation"]["uri"]
        assert location["logicalLocations"][0]["fullyQualifiedName"]
        if "region" in physical:
            region = physical["region"]
            assert region["startLine"] >= 1
            assert region["startColumn"] >= 1
            assert (region["endLine"], region["endColumn"]) >= (
                region["startLine"],
                region["startColumn"],
            )


def test_sarif_explains_the_rules_it_uses():
    rules = sarif(everything())["runs"][0]["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in rules] == ["PHO308", "PHO318", "PHO324", "PHO403"]
    for rule in rules:
        assert rule["name"] == CODES[rule["id"]].name
        assert rule["shortDescription"]["text"] == CODES[rule["id"]].title
        assert rule["fullDescription"]["text"] == CODES[rule["id"]].explanation


def test_sarif_levels_and_places():
    results = {r["ruleId"]: r for r in sarif(everything())["runs"][0]["results"]}
    levels = {rule: result["level"] for rule, result in results.items()}
    assert levels == {"PHO308": "error", "PHO318": "warning", "PHO403": "note", "PHO324": "note"}
    (location,) = results["PHO308"]["locations"]
    assert location["physicalLocation"]["region"] == {
        "startLine": 3,
        "startColumn": 20,
        "endLine": 3,
        "endColumn": 22,
    }
    assert location["logicalLocations"] == [
        {"fullyQualifiedName": "ballasts.pair.floor.volts"}
    ]  # fmt: skip
    assert results["PHO308"]["message"]["text"] == "the floor is not below full\nlower it"
    assert "region" not in results["PHO403"]["locations"][0]["physicalLocation"]
    accepted = results["PHO403"]["locations"][0]["logicalLocations"][0]
    assert accepted["fullyQualifiedName"] == "channels.a.day.peaks[0]"


def test_sarif_marks_what_was_accepted_as_suppressed():
    results = {r["ruleId"]: r for r in sarif(everything())["runs"][0]["results"]}
    assert results["PHO403"]["suppressions"] == [
        {"kind": "inSource", "justification": "algae only"}
    ]  # fmt: skip
    assert "suppressions" not in results["PHO308"]


@pytest.mark.parametrize(
    "name", ["tank.yaml", "tanks/reef 1.yaml", "Becken Süd.yaml", "a%20b.yaml", "x#y?z.yaml", "-"]
)
def test_sarif_names_the_file_by_a_uri(name):
    # RFC 3986: a URI reference has no blanks, and '#', '?' and '%' have a meaning of their own.
    report = Report(name)
    report.add([Diagnostic(code="PHO100", message="empty", source_range=SourceRange(1, 1, 1, 1))])
    result = sarif(report)["runs"][0]["results"][0]
    uri = result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert uri.isascii()
    assert " " not in uri
    parts = urlsplit(uri)
    assert (parts.scheme, parts.query, parts.fragment) == ("", "", "")
    assert unquote(parts.path) == name
