"""A report as JSON: what its schema says, and nothing that steers a terminal."""

from __future__ import annotations

import json
import unicodedata

import jsonschema
import pytest

from photoperiod.diagnostics.model import Diagnostic, Report
from photoperiod.report.json import VERSION, render_json, report_data
from photoperiod.report.sarif import render_sarif
from photoperiod.source.json_schema import load_schema
from tests.report.reports import (
    HOSTILE,
    NAMES,
    REPORTS,
    compiled,
    everything,
    faulty,
    hostile,
)


@pytest.mark.parametrize("report", REPORTS, ids=NAMES)
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


def test_json_says_what_is_not_guarded():
    assert json.loads(render_json(everything()))["not_guarded"] == [
        {"limits": ["ppfd_max"], "zones": ["sand"], "because": "no ppfd_max"},
        {"limits": ["dli", "dark_hours_min"], "zones": ["a", "b"], "because": "it is not known"},
    ]


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
@pytest.mark.parametrize("report", REPORTS, ids=NAMES)
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
