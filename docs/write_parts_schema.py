"""Write schemas/parts.schema.json: the shape of a file of parts, from that of a schedule.

    python docs/write_parts_schema.py

A schema is one file, so that editors need no other. What both have is the same there, word for word; a test
holds that it is current.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

SCHEMAS = Path(__file__).resolve().parents[1] / "schemas"

#: What belongs to one tube or one zone, not to its kind.
OF_ONE = {
    "tube": ("label", "like", "fitted", "removed", "place", "lit_hours", "burn_in_full_hours"),
    "zone": ("label", "like", "wanted_dli", "extent", "from_readings"),
}

#: What kinds are, for people who write them.
ABOUT = {
    "tube": "What all tubes of a kind share. When one was fitted, its hours, and the burn-in that it still"
    " owes are its own, and stand in the schedule.",
    "zone": "What all zones with such animals share: what they should and must not get. Where a zone is, and"
    " a dose that is asked for, stand in the schedule.",
}


def parts_schema(schedule: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of a file of parts."""
    known = schedule["$defs"]
    kinds = {f"{name}_kind": kind_of(name, known[name]) for name in ("tube", "zone")}
    needed = {"id": known["id"]}
    waiting: list[Any] = [{"$ref": "controller"}, {"$ref": "ballast"}, *kinds.values()]
    while waiting:
        for name in references(waiting.pop()):
            if name not in needed:
                needed[name] = known[name]
                waiting.append(known[name])
    return {
        "$schema": schedule["$schema"],
        "$id": "urn:photoperiod:parts:1",
        "title": "photoperiod parts, version 1",
        "description": "Parts that several tanks share. A schedule names this file by its key `parts`. What"
        " stands in one of the two must not stand in the other.",
        "type": "object",
        "additionalProperties": False,
        "required": ["parts"],
        "properties": {
            "parts": {
                "description": "The version of this language: 1.",
                "type": "integer",
                "const": 1,
            },
            "controller": {
                "$ref": "#/$defs/controller",
                "description": "The controller of every tank that names this file.",
            },
            "ballasts": {
                **{
                    k: v
                    for k, v in schedule["properties"]["ballasts"].items()
                    if k != "minProperties"
                },
                "description": "Kinds of ballasts and LED drivers, by id. A tank has those that its"
                " channels name.",
            },
            "tube_kinds": of_kinds(
                "tube", "Kinds of tubes, by id: a tube names its kind by `like`."
            ),
            "zone_kinds": of_kinds(
                "zone", "Kinds of zones, by id: a zone names its kind by `like`."
            ),
        },
        "$defs": {name: known[name] for name in known if name in needed} | kinds,
    }


def kind_of(name: str, whole: dict[str, Any]) -> dict[str, Any]:
    """Return the definition of a kind: without what belongs to one of them."""
    properties = {k: v for k, v in whole["properties"].items() if k not in OF_ONE[name]}
    required = whole.get("then", {}).get("required", [])
    return {
        "title": f"kind of {name}",
        "description": ABOUT[name],
        "type": "object",
        "additionalProperties": False,
        **({"required": required} if required else {}),
        "properties": properties,
    }


def of_kinds(name: str, about: str) -> dict[str, Any]:
    """Return the property that holds kinds by their ids."""
    return {
        "title": f"{name} kinds",
        "description": about,
        "type": "object",
        "propertyNames": {"$ref": "#/$defs/id"},
        "additionalProperties": {"$ref": f"#/$defs/{name}_kind"},
        "maxProperties": 64,
    }


def references(node: Any) -> list[str]:
    """Return the names of the definitions that a node refers to."""
    if isinstance(node, dict):
        own = [node["$ref"].rsplit("/", 1)[-1]] if "$ref" in node else []
        return own + [name for value in node.values() for name in references(value)]
    if isinstance(node, list):
        return [name for value in node for name in references(value)]
    return []


def text() -> str:
    """Return the schema as it stands in its file."""
    schedule = json.loads((SCHEMAS / "schedule.schema.json").read_text(encoding="utf-8"))
    return json.dumps(parts_schema(schedule), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    (SCHEMAS / "parts.schema.json").write_text(text(), encoding="utf-8")
