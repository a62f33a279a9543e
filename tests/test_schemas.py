"""The schemas themselves, and the reference that is made from them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import jsonschema
import pytest

from photoperiod.diagnostics.codes import HARD_NAMES
from photoperiod.report.language import render_language
from photoperiod.source.json_schema import NAMES, load_schema, schema_path
from tests.conftest import ROOT


def nodes(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
        for value in node.values():
            yield from nodes(value)
    elif isinstance(node, list):
        for value in node:
            yield from nodes(value)


@pytest.mark.parametrize("name", NAMES)
def test_schema_is_draft_2020_12(name: str) -> None:
    schema = load_schema(name)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)


def test_every_schema_file_has_a_name() -> None:
    files = {path.name for path in (ROOT / "schemas").iterdir()}
    assert files == {f"{name}.schema.json" for name in NAMES}
    assert schema_path("table").is_file()


@pytest.mark.parametrize("name", NAMES)
def test_objects_are_closed_and_never_alternatives(name: str) -> None:
    for node in nodes(load_schema(name)):
        assert "oneOf" not in node
        assert "anyOf" not in node
        if node.get("type") == "object" and "properties" in node and "allOf" not in node:
            if set(node["properties"]) == {"kind"} and "const" in node["properties"]["kind"]:
                continue  # the condition of a kind switch
            assert node.get("additionalProperties") is False


def test_every_key_of_the_language_is_described() -> None:
    schema = load_schema("schedule")
    for node in nodes(schema):
        for key, about in node.get("properties", {}).items():
            if isinstance(about, dict) and "const" in about and len(about) == 1:
                continue
            target = about
            if "$ref" in about and "description" not in about:
                target = schema["$defs"][about["$ref"].rsplit("/", 1)[-1]]
            assert target.get("description"), key


def test_every_kind_leads_to_its_own_variant() -> None:
    schema = load_schema("schedule")
    for node in nodes(schema["$defs"]):
        if "allOf" in node:
            kinds = node["properties"]["kind"]["enum"]
            switched = [b["if"]["properties"]["kind"]["const"] for b in node["allOf"]]
            assert kinds == switched
            for branch in node["allOf"]:
                variant = schema["$defs"][branch["then"]["$ref"].rsplit("/", 1)[-1]]
                assert variant["properties"]["kind"]["const"] in kinds


def test_units_stand_in_the_descriptions_that_editors_show() -> None:
    for node in nodes(load_schema("schedule")):
        if "x-unit" in node:
            assert node["x-unit"] in node["description"]


def test_what_can_be_accepted_is_what_is_hard() -> None:
    finding = load_schema("schedule")["$defs"]["acceptance"]["properties"]["finding"]
    assert tuple(finding["enum"]) == HARD_NAMES


def test_language_reference_is_current() -> None:
    written = (ROOT / "docs" / "language.md").read_text(encoding="utf-8")
    assert written == render_language(load_schema("schedule"), load_schema("parts")), (
        "run: photoperiod schema --markdown > docs/language.md"
    )
