"""Diagnostics for programs: JSON by our own schema, SARIF by the standard's required fields."""

from __future__ import annotations

import json
import unicodedata
from urllib.parse import unquote, urlsplit

import jsonschema
import pytest

from photoperiod import __version__
from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.model import Diagnostic, Related, Report, SourceRange
from photoperiod.report.machine import VERSION, render_json, render_sarif, report_data
from photoperiod.source.json_schema import load_schema
from tests.conftest import EXAMPLES, changed, compile_and_check, load

FAULTY = changed(
    ("title: Test bench", "titel: Test bench"),
    ("    full_volts: 10.0", "    full_volts: 10 V\n    full_volts: 9"),
    ("tubes: [blue-a]", "tubes: [blue-a, blue-b]"),
    ("  blue-a: {watts: 54}", "  blue-a: {watts: 54}\n  spare: {watts: 54}"),
    (", dark_hours_min: 8", ""),
)
HOSTILE = '\x00\x1b[2J\x7f\x85\x9b2J\u2028\u2029\u202e\u2066\ufeff\U000e0041"\\\n\t'


def everything():
    """Return a report that uses every field there is."""
    report = Report("tank.yaml")
    report.add(
        [
            Diagnostic(
                code="PHO308",
                message="the floor is not below full",
                path=("ballasts", "pair", "floor", "volts"),
                source_range=SourceRange(3, 20, 3, 22),
                help="lower it",
                related=(
                    Related(
                        message="full",
                        path=("ballasts", "pair", "full_volts"),
                        source_range=SourceRange(4, 1, 5, 3),
                    ),
                    Related(message="nowhere"),
                ),
            ),
            Diagnostic(
                code="PHO403", message="not dark", path=("channels", "a", "day", "peaks", 0)
            ).accept("algae only"),
            Diagnostic(
                code="PHO318",
                message="unused",
                path=("tubes", "b"),
                source_range=SourceRange(9, 1, 9, 2),
            ),
            Diagnostic(
                code="PHO324", message="a default", path=(), source_range=SourceRange(1, 1, 1, 2)
            ),
        ]
    )
    report.not_run["tube-overdue"] = "needs dates"
    return report


def hostile():
    report = Report(f"tank{HOSTILE}.yaml")
    report.add(
        [
            Diagnostic(
                code="PHO201",
                message=HOSTILE,
                path=(HOSTILE, 0),
                source_range=SourceRange(1, 1, 1, 2),
                help=HOSTILE,
                related=(Related(message=HOSTILE, path=(HOSTILE,)),),
            ),
            Diagnostic(code="PHO403", message=HOSTILE).accept(HOSTILE),
        ]
    )
    return report


def faulty():
    return load("tank.yaml", FAULTY.encode()).report


def compiled():
    outcomes = [
        compile_and_check(load(path.name, path.read_bytes()), None) for path in EXAMPLES[:2]
    ]
    return [outcome.report for outcome in outcomes]


REPORTS = [Report("empty.yaml"), everything(), hostile(), faulty()]


@pytest.mark.parametrize("report", REPORTS, ids=["empty", "everything", "hostile", "faulty"])
def test_json_is_as_its_schema_says(report):
    validator = jsonschema.Draft202012Validator(load_schema("diagnostics"))
    data = json.loads(render_json(report))
    assert list(validator.iter_errors(data)) == []
    assert data == report_data(report)


def test_json_of_compiled_examples_is_as_its_schema_says():
    validator = jsonschema.Draft202012Validator(load_schema("diagnostics"))
    for report in compiled():
        assert list(validator.iter_errors(json.loads(render_json(report)))) == []


def test_json_says_all_of_a_diagnostic():
    first = json.loads(render_json(everything()))["diagnostics"][2]
    assert first == {
        "code": "PHO308",
        "name": "floor-above-full",
        "severity": "error",
        "message": "the floor is not below full",
        "file": "tank.yaml",
        "line": 3,
        "column": 20,
        "end_line": 3,
        "end_column": 22,
        "path": ["ballasts", "pair", "floor", "volts"],
        "help": "lower it",
        "related": [
            {
                "message": "full",
                "line": 4,
                "column": 1,
                "end_line": 5,
                "end_column": 3,
                "path": ["ballasts", "pair", "full_volts"],
            },
            {
                "message": "nowhere",
                "line": None,
                "column": None,
                "end_line": None,
                "end_column": None,
                "path": [],
            },
        ],
    }


def test_json_says_what_was_accepted_and_what_was_not_run():
    data = json.loads(render_json(everything()))
    (accepted,) = [d for d in data["diagnostics"] if d["severity"] == "accepted"]
    assert accepted["accepted_because"] == "algae only"
    assert accepted["path"] == ["channels", "a", "day", "peaks", 0]
    assert accepted["line"] is None
    assert data["not_run"] == {"tube-overdue": "needs dates"}
    assert data["version"] == VERSION == 1


def test_json_counts():
    assert json.loads(render_json(everything()))["summary"] == {
        "file": "tank.yaml",
        "errors": 1,
        "warnings": 1,
        "accepted": 1,
        "notes": 1,
    }
    data = json.loads(render_json(faulty()))
    counted = [d["severity"] for d in data["diagnostics"]]
    for severity in ("error", "warning", "note"):
        assert data["summary"][f"{severity}s"] == counted.count(severity)


def test_json_follows_the_order_of_the_file():
    data = json.loads(render_json(faulty()))["diagnostics"]
    assert [(d["line"], d["column"]) for d in data] == sorted(
        (d["line"], d["column"]) for d in data
    )
    assert [d["code"] for d in data] == ["PHO201", "PHO203", "PHO102", "PHO324", "PHO301"]


@pytest.mark.parametrize("render", [render_json, render_sarif])
@pytest.mark.parametrize("report", REPORTS, ids=["empty", "everything", "hostile", "faulty"])
def test_nothing_is_put_out_that_could_steer_a_terminal(render, report):
    text = render(report)
    for character in sorted(set(text) - {"\n"}):
        assert unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Zl", "Zp"), ascii(
            character
        )
    assert text.endswith("}\n")
    json.loads(text)


def test_words_of_the_file_come_back_unchanged():
    data = json.loads(render_json(hostile()))
    (first,) = [d for d in data["diagnostics"] if d["code"] == "PHO201"]
    assert first["message"] == first["help"] == first["related"][0]["message"] == HOSTILE
    assert first["path"] == [HOSTILE, 0]
    assert first["file"] == f"tank{HOSTILE}.yaml"


def test_letters_that_are_not_ascii_stay_readable():
    report = Report("Becken Süd.yaml")
    report.add([Diagnostic(code="PHO205", message="more than 0 µmol m⁻² s⁻¹ 水槽 \U0001f420")])
    for render in (render_json, render_sarif):
        assert "µmol m⁻² s⁻¹ 水槽 \U0001f420" in render(report)


@pytest.mark.parametrize("render", [render_json, render_sarif])
def test_the_same_report_gives_the_same_bytes(render):
    assert render(faulty()) == render(faulty())


# SARIF. Required and recommended properties by OASIS, Static Analysis Results Interchange Format
# (SARIF) Version 2.1.0, chapters 3.13 (log file), 3.14 (run), 3.19 (tool component), 3.27 (result),
# 3.28 to 3.30 (location, physical location, region), 3.35 (suppression).


def sarif(report):
    return json.loads(render_sarif(report))


@pytest.mark.parametrize("report", REPORTS, ids=["empty", "everything", "hostile", "faulty"])
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
