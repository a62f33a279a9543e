"""The language reference from a small schema: every part of a schema has its words."""

from __future__ import annotations

import copy
from typing import Any

from photoperiod.report.language import _FORMS, render_language
from photoperiod.source.json_schema import load_schema

DEFINITIONS: dict[str, Any] = {
    **{name: {"type": "string", "description": f"Form {name}."} for name in _FORMS},
    "day_time": {
        "title": "day time",
        "description": "A time.",
        "examples": ["09:00"],
        "properties": {"at": {"$ref": "#/$defs/clock_time"}},
        "required": ["at"],
    },
    "lamp": {
        "type": "object",
        "description": "A lamp.",
        "properties": {
            "watts": {"type": "number", "exclusiveMinimum": 0, "description": "Power | heat."},
            "rows": {"type": "integer", "minimum": 2, "maximum": 2000, "default": 16},
            "mode": {"enum": ["line", "hold"], "default": "line"},
            "is_on": {"type": "boolean", "default": False},
            "names": {"type": "array", "items": {"type": "string"}},
            "points": {
                "type": "array",
                "items": {"type": "object", "properties": {"volts": {"type": "number"}}},
            },
            "parts": {"type": "object", "additionalProperties": {"$ref": "#/$defs/part"}},
            "later": {"x-reserved": {"message": "not yet"}, "description": "Reserved."},
        },
        "required": ["watts"],
    },
    "part": {
        "type": "object",
        "title": "part of a lamp",
        "description": "A part.",
        "properties": {"kind": {"enum": ["a"], "x-reserved": {"values": {"b": "comes later"}}}},
        "allOf": [
            {
                "if": {"properties": {"kind": {"const": "a"}}},
                "then": {"$ref": "#/$defs/part_a"},
            }
        ],
    },
    "part_a": {
        "type": "object",
        "description": "Kind a.",
        "properties": {"kind": {"const": "a"}},
    },
}
SCHEMA: dict[str, Any] = {
    "description": "The whole file.",
    "properties": {"lamp": {"$ref": "#/$defs/lamp"}},
    "required": ["lamp"],
    "$defs": DEFINITIONS,
}


PARTS: dict[str, Any] = {
    "description": "What lamps share.",
    "properties": {"kinds": {"description": "Kinds.", "type": "string"}},
    "$defs": {},
}


def rows() -> dict[str, list[str]]:
    """Return the cells of the tables by key."""
    found = {}
    for line in render_language(SCHEMA, PARTS).splitlines():
        if line.startswith("| `"):
            key, *cells = [cell.strip() for cell in line.replace("\\|", "/").split("|")[1:-1]]
            found[key.strip("`")] = cells
    return found


def test_keys_and_their_values() -> None:
    found = rows()
    assert found["lamp"] == ["[lamp](#lamp)", "yes", "A lamp."]
    assert found["watts"] == ["number, above 0", "yes", "Power / heat."]
    assert found["rows"][:2] == ["whole number, at least 2, at most 2,000", "no; `16`"]
    assert found["mode"][:2] == ["`line`, `hold`", "no; `line`"]
    assert found["is_on"][:2] == ["true or false", "no; `false`"]
    assert found["names"][:2] == ["list of string", "no"]
    assert found["points"][0] == "list of mapping"
    assert found["volts"][0] == "number"
    assert found["parts"][0] == "mapping of id to [part of a lamp](#part)"
    assert found["later"] == ["reserved", "no", "Reserved."]


def test_sections() -> None:
    text = render_language(SCHEMA, PARTS)
    assert '## <a id="lamp"></a>lamp\n\nA lamp.' in text
    assert '## <a id="part"></a>part of a lamp' in text
    assert "- `kind: a`: [part a](#part_a). Kind a." in text
    assert "- `kind: b`: reserved; comes later." in text
    assert '### <a id="part_a"></a>part a\n\nKind a.\n\nIt has no keys but `kind`.' in text
    assert "Each of `points`:" in text
    assert '- <a id="day_time"></a>**day time**: A time. Example: `09:00`.' in text


def test_every_definition_of_the_language_has_a_section_or_a_form() -> None:
    schema = load_schema("schedule")
    text = render_language(schema, PARTS)
    for name in schema["$defs"]:
        assert f'<a id="{name}"></a>' in text, name
    less = copy.deepcopy(schema)
    del less["properties"]["zones"]
    assert '<a id="zone"></a>' not in render_language(less, PARTS)
