"""Hold plain data against a JSON Schema; each fault becomes one diagnostic at its place.

This is the only module that imports jsonschema. The schemas stand in ``schemas/`` at the top of a
checkout, for editors, and inside the package in a wheel.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any

import jsonschema
from jsonschema.exceptions import ValidationError

from photoperiod.diagnostics.model import Diagnostic, Path, Related
from photoperiod.text import close_match, short, suggestion

NAMES = (
    "schedule", "table", "summary", "manifest", "diagnostics", "ledger", "board", "comparison", "replay",
)  # fmt: skip

_TYPE_WORDS = {
    "object": "a mapping",
    "array": "a list",
    "string": "text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "null": "nothing",
}


def schema_path(name: str) -> FilePath:
    """Return where a schema lies: in the package, or in the checkout around it.

    Raises
    ------
    KeyError
        If there is no schema of that name.
    """
    if name not in NAMES:
        raise KeyError(name)
    package = FilePath(__file__).resolve().parents[1]
    file_name = f"{name}.schema.json"
    packaged = package / "schemas" / file_name
    return packaged if packaged.is_file() else package.parent / "schemas" / file_name


def schema_text(name: str) -> str:
    """Return the text of a schema."""
    return schema_path(name).read_text(encoding="utf-8")


@functools.cache
def load_schema(name: str) -> Any:
    """Return a schema as data."""
    return json.loads(schema_text(name))


def _reserved(_validator: Any, rule: Any, instance: Any, _schema: Any) -> Iterator[ValidationError]:
    """The keyword ``x-reserved``: a place, or some of its values, that a later version fills."""
    if "message" in rule and "pattern" not in rule:
        yield ValidationError(rule["message"])
    elif isinstance(instance, str):
        if instance in rule.get("values", {}):
            yield ValidationError(rule["values"][instance])
        elif "pattern" in rule and re.match(rule["pattern"], instance):
            yield ValidationError(rule["message"])


def _pattern(_validator: Any, rule: Any, instance: Any, _schema: Any) -> Iterator[ValidationError]:
    """The keyword ``pattern``, whose `$` must not forgive a line end as Python's does."""
    if isinstance(instance, str) and not re.search(re.sub(r"\$$", r"\\Z", rule), instance):
        yield ValidationError("does not match")


def _unique_items(_v: Any, rule: Any, instance: Any, _schema: Any) -> Iterator[ValidationError]:
    """The keyword ``uniqueItems``, without the whole list in the message."""
    if rule and isinstance(instance, list):
        names = [item for item in instance if isinstance(item, str)]  # all such lists hold names
        if len(set(names)) < len(names):
            yield ValidationError("stands twice")


def _max_items(_v: Any, rule: Any, instance: Any, _schema: Any) -> Iterator[ValidationError]:
    """The keyword ``maxItems``, without the whole list in the message."""
    if isinstance(instance, list) and len(instance) > rule:
        yield ValidationError("too many")


_OWN_KEYWORDS = {
    "x-reserved": _reserved,
    "pattern": _pattern,
    "uniqueItems": _unique_items,
    "maxItems": _max_items,
}


#: Of several faults of one value the first of these is told of.
_RANK = ("x-reserved", "type", "const", "enum", "pattern")


@functools.cache
def _validator(name: str) -> Any:
    extend: Any = jsonschema.validators.extend
    kind = extend(jsonschema.Draft202012Validator, _OWN_KEYWORDS)
    return kind(load_schema(name))


def validate(data: Any, name: str = "schedule") -> tuple[list[Diagnostic], set[Path]]:
    """Return what is wrong with the shape of the data, and the paths it makes unusable.

    Parameters
    ----------
    data : Any
        Plain data, as `photoperiod.source.document.read_text` gives it.
    name : str
        The schema to hold it against.

    Returns
    -------
    diagnostics : list of Diagnostic
        One for each fault, without spans.
    bad : set of Path
        Values that a later stage must not use; a missing key is a bad path too.
    """
    found: dict[Path, Diagnostic] = {}
    of_keys: list[Diagnostic] = []
    bad: set[Path] = set()
    by_object: dict[Path, list[ValidationError]] = {}
    errors = sorted(_validator(name).iter_errors(data), key=_order)
    for error in errors:
        path: Path = tuple(error.absolute_path)
        keyword = str(error.validator)
        if keyword in ("required", "additionalProperties"):
            by_object.setdefault(path, []).append(error)
        elif "propertyNames" in error.absolute_schema_path:
            key_path = (*path, str(error.instance))
            bad.add(key_path)
            found.setdefault(key_path, _bad_id(error, key_path))
        elif path not in found:
            found[path] = _word(error, path, keyword, name)
            bad.add(found[path].path)
    for path, group in by_object.items():
        unknown, missing = _keys(path, group, name)
        of_keys += unknown + missing
        bad |= _meant(path, group)
    return [*found.values(), *of_keys], bad


def _bad_id(error: ValidationError, path: Path) -> Diagnostic:
    schema: Any = error.schema
    return Diagnostic(
        code="PHO206",
        path=path,
        on_key=True,
        message=f"'{short(error.instance)}' is no id",
        help=str(schema.get("patternErrorMessage", "")),
    )


def _order(error: ValidationError) -> tuple[str, str]:
    keyword = str(error.validator)
    rank = _RANK.index(keyword) if keyword in _RANK else len(_RANK)
    return (str([str(step) for step in error.absolute_path]), f"{rank} {keyword}")


def _allowed(group: list[ValidationError]) -> list[str]:
    """Return the keys that a mapping may have."""
    schema: Any = group[0].schema
    return list(schema.get("properties", {}))


def _unknown(group: list[ValidationError]) -> dict[str, str | None]:
    """Return the unknown keys of a mapping, each with the key that was probably meant."""
    instance: Any = group[0].instance
    if not any(error.validator == "additionalProperties" for error in group):
        return {}
    allowed = _allowed(group)
    free = [key for key in allowed if key not in instance]
    return {key: close_match(key, free) for key in instance if key not in allowed}


def _missing(group: list[ValidationError]) -> list[str]:
    """Return the keys that a mapping lacks."""
    instance: Any = group[0].instance
    missing: list[str] = []
    for error in group:
        rule: Any = error.validator_value
        if error.validator == "required":
            missing += [key for key in rule if key not in instance and key not in missing]
    return missing


def _meant(path: Path, group: list[ValidationError]) -> set[Path]:
    """Return the paths of keys that are missing or that a misspelt key stands for."""
    guesses = [guess for guess in _unknown(group).values() if guess]
    return {(*path, key) for key in (*_missing(group), *guesses)}


def _keys(
    path: Path, group: list[ValidationError], name: str
) -> tuple[list[Diagnostic], list[Diagnostic]]:
    """Word unknown and missing keys of one mapping, a slip of the pen only once."""
    unknown, missing = _unknown(group), _missing(group)
    strange = [
        Diagnostic(
            code="PHO201",
            path=(*path, key),
            on_key=True,
            message=f"unknown key '{short(key)}'",
            help=f"did you mean '{guess}'?" if guess else suggestion(key, _allowed(group)),
        )
        for key, guess in unknown.items()
    ]
    where = f"'{short(path[-1])}'" if path and isinstance(path[-1], str) else "this item"
    where = where if path else f"the {name}"
    lacking = [
        Diagnostic(
            code="PHO202",
            path=path,
            on_key=True,
            message=f"{where} lacks '{key}'",
            help=_what_is(group[0].schema, key, name),
        )
        for key in missing
        if key not in unknown.values()
    ]
    return strange, lacking


def _what_is(schema: Any, key: str, name: str) -> str:
    about = schema.get("properties", {}).get(key, {})
    if "$ref" in about and "description" not in about:
        about = load_schema(name)["$defs"].get(about["$ref"].rsplit("/", 1)[-1], {})
    text = f"{key}: {about.get('description', '')}"
    kinds = about.get("properties", {}).get("kind", {}).get("enum", about.get("enum", []))
    return text + (f" One of: {', '.join(map(str, kinds))}." if kinds else "")


def _word(error: ValidationError, path: Path, keyword: str, name: str) -> Diagnostic:
    """Return the diagnostic for one schema error that has a value of its own."""
    value: Any = error.instance
    rule: Any = error.validator_value
    schema: Any = error.schema
    unit = f" {schema['x-unit']}" if "x-unit" in schema else ""
    code, message, help = "PHO203", "", ""
    related: tuple[Related, ...] = ()
    match keyword:
        case "x-reserved":
            code, message = "PHO209", error.message
        case "type":
            rules = rule if isinstance(rule, list) else [rule]
            wanted = " or ".join(_TYPE_WORDS.get(each, str(each)) for each in rules)
            message = f"expected {wanted}, got {describe(value)}"
            help = _type_help(rules[0], value, schema)
        case "enum":
            code, message = "PHO204", f"{describe(value)} is not allowed here"
            help = suggestion(str(value), [str(v) for v in rule])
        case "const":
            code, message = "PHO204", f"expected {rule!r}, got {describe(value)}"
            if path == (name,):
                code = "PHO210"
                message = f"this is version {describe(value)} of the language, not {rule}"
                help = f"this program reads version 1: write `{name}: 1`"
        case "minimum" | "maximum" | "exclusiveMinimum" | "exclusiveMaximum":
            code = "PHO205"
            limit = {
                "minimum": "at least",
                "maximum": "at most",
                "exclusiveMinimum": "more than",
                "exclusiveMaximum": "less than",
            }[keyword]
            message = f"{value} is out of range: {limit} {rule}{unit}"
            help = str(schema.get("description", ""))
        case "pattern":
            code, message = "PHO206", f"{describe(value)} is not in the form asked for"
            help = schema.get("patternErrorMessage", "")
            strange = [c for c in value[:200] if (c.isspace() and c != " ") or not c.isprintable()]
            alike = [c for c in value[:200] if c in "\u00a0‐‑‒–—−："]
            if strange or alike:
                character = (alike or strange)[0]
                what = "only looks alike" if alike else "can't be seen"
                help += f"; it holds the character U+{ord(character):04X}, which {what}"
        case (
            "minLength" | "maxLength" | "minItems" | "maxItems" | "minProperties" | "maxProperties"
        ):
            code = "PHO207"
            things = {"L": "characters", "I": "items", "P": "entries"}[keyword[3]]
            if len(value) == 1:
                things = {"L": "character", "I": "item", "P": "entry"}[keyword[3]]
            side = "at least" if keyword.startswith("min") else "at most"
            message = f"{len(value)} {things}, but {side} {rule} {_are(rule)} needed"
            if side == "at most":
                message = f"{len(value)} {things}, but at most {rule} {_are(rule)} allowed"
        case "uniqueItems":
            code = "PHO208"
            twice = _second(value)
            message = f"{describe(value[twice])} stands twice in this list" if value else ""
            path = (*path, twice)
            related = (Related(message="first here", path=(*path[:-1], value.index(value[twice]))),)
        case _:
            raise AssertionError(f"the schema keyword {keyword!r} has no words")
    return Diagnostic(code=code, message=message, path=path, help=help, related=related)


def _second(items: list[Any]) -> int:
    """Return the index of the first name that stands in a list for the second time."""
    seen: set[str] = set()
    for index, item in enumerate(items):
        if isinstance(item, str):
            if item in seen:
                return index
            seen.add(item)
    return 0


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def _type_help(wanted: str, value: Any, schema: Any) -> str:
    if wanted in ("number", "integer"):
        if isinstance(value, str) and re.match(r"[-+]?[0-9.,]+\s*\S{0,12}$", value):
            if re.match(r"[-+]?[0-9]+,[0-9]+$", value):
                return f"write it with a decimal point: {value.replace(',', '.')}"
            unit = schema.get("x-unit")
            return "write the number alone" + (f", in {unit}" if unit else "")
        if value is None:
            return "write a number after the colon"
    if wanted == "string" and "patternErrorMessage" in schema:
        return str(schema["patternErrorMessage"])
    if wanted == "string" and value is not None and not isinstance(value, dict | list):
        return "put it into quotes if it is meant as text"
    if wanted == "object" and schema.get("required") == ["kind"]:
        kinds = schema["properties"]["kind"]["enum"]
        return f"write `{{kind: …}}` with one of {', '.join(kinds)}"
    if wanted == "object":
        keys = list(schema.get("required", ())) or list(schema.get("properties", ()))[:4]
        return (
            f"a mapping with {', '.join(map(str, keys))}" if keys else "write `name: {…}` entries"
        )
    if wanted == "array" and "examples" in schema:
        return f"write a list, such as {schema['examples'][0]}"
    if wanted == "array":
        return "write `[…]`, or lines that begin with '- '"
    if wanted == "boolean":
        return "write true or false"
    return ""


def describe(value: Any) -> str:
    """Return a value as a message names it."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, str):
        return f"'{short(value)}'"
    return str(value)
