"""Which keys and words of the language some schedules use, and which none does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from photoperiod.source.json_schema import load_schema

SCHEMA: Mapping[str, Any] = load_schema("schedule")

#: What is reserved, or gives its name to a version: nothing can be drawn of it.
NOT_DRAWN = frozenset({"change.kind=cloudy-days"})


def used(data: Any) -> set[str]:
    """Return the keys, kinds and words that a schedule uses, each as `owner.key` or `owner.key=word`."""
    return set(_used(SCHEMA, data, "file"))


def known() -> set[str]:
    """Return all that the schema knows."""
    return set(_known(SCHEMA, "file", set())) - NOT_DRAWN


def _resolved(schema: Mapping[str, Any], owner: str) -> tuple[Mapping[str, Any], str]:
    """Return a schema without its reference, and the name of what it describes."""
    while "$ref" in schema:
        owner = schema["$ref"].rsplit("/", 1)[-1]
        schema = SCHEMA["$defs"][owner] | {k: v for k, v in schema.items() if k != "$ref"}
    return schema, owner


def _variants(schema: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """Return the variants of a mapping that has several, by their kind."""
    return {
        branch["if"]["properties"]["kind"]["const"]: branch["then"]
        for branch in schema.get("allOf", ())
        if "const" in branch.get("if", {}).get("properties", {}).get("kind", {})
    }


def _used(schema: Mapping[str, Any], data: Any, owner: str) -> Iterator[str]:
    schema, owner = _resolved(schema, owner)
    if isinstance(data, list):
        for each in data:
            yield from _used(schema.get("items", {}), each, owner)
    elif isinstance(data, dict):
        variants = _variants(schema)
        if variants:
            yield f"{owner}.kind={data['kind']}"
            yield from _used(variants[data["kind"]], data, f"{owner}.{data['kind']}")
            return
        for key, value in data.items():
            properties = schema.get("properties", {})
            if key in properties:
                yield f"{owner}.{key}"
                yield from _used(properties[key], value, f"{owner}.{key}")
            else:
                yield from _used(schema["additionalProperties"], value, owner)
    elif "enum" in schema:
        yield f"{owner}={data}"
    elif schema.get("type") == "boolean":
        yield f"{owner}={str(data).lower()}"


def _known(schema: Mapping[str, Any], owner: str, seen: set[str]) -> Iterator[str]:
    schema, owner = _resolved(schema, owner)
    if owner in seen:
        return
    seen = seen | {owner}
    variants = _variants(schema)
    for kind, variant in variants.items():
        yield f"{owner}.kind={kind}"
        yield from _known(variant, f"{owner}.{kind}", seen)
    if variants:
        return
    for key, value in schema.get("properties", {}).items():
        yield f"{owner}.{key}"
        yield from _known(value, f"{owner}.{key}", seen)
    if isinstance(schema.get("additionalProperties"), dict):
        yield from _known(schema["additionalProperties"], owner, seen - {owner})
    if isinstance(schema.get("items"), dict):
        yield from _known(schema["items"], owner, seen - {owner})
    for word in schema.get("enum", ()):
        yield f"{owner}={word}"
    if schema.get("type") == "boolean":
        yield from (f"{owner}=true", f"{owner}=false")
