"""Faults of shape in words, from errors of small schemas."""

from __future__ import annotations

from typing import Any

import pytest
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from photoperiod.source import schema_words
from photoperiod.source.json_schema import NAMES, load_schema


def error(schema: dict[str, Any], value: Any) -> ValidationError:
    (found,) = Draft202012Validator(schema).iter_errors(value)
    return found


@pytest.mark.parametrize(
    ("schema", "value", "code", "message", "help"),
    [
        ({"type": "object"}, 1, "PHO203", "expected a mapping, got 1", "write `name: {…}` entries"),
        (
            {"type": "object", "required": ["kind"], "properties": {"kind": {"enum": ["a", "b"]}}},
            "a",
            "PHO203",
            "expected a mapping, got 'a'",
            "write `{kind: …}` with one of a, b",
        ),
        (
            {"type": "object", "properties": {key: {} for key in "abcde"}},
            [],
            "PHO203",
            "expected a mapping, got a list",
            "a mapping with a, b, c, d",
        ),
        (
            {"type": "array"},
            {},
            "PHO203",
            "expected a list, got a mapping",
            "write `[…]`, or lines that begin with '- '",
        ),
        (
            {"type": "array", "examples": [[1, 2]]},
            3,
            "PHO203",
            "expected a list, got 3",
            "write a list, such as [1, 2]",
        ),
        (
            {"type": "string"},
            1.5,
            "PHO203",
            "expected text, got 1.5",
            "put it into quotes if it is meant as text",
        ),
        ({"type": "string"}, None, "PHO203", "expected text, got nothing", ""),
        (
            {"type": "string", "patternErrorMessage": "HH:MM"},
            9,
            "PHO203",
            "expected text, got 9",
            "HH:MM",
        ),
        (
            {"type": ["number", "null"]},
            "9,5",
            "PHO203",
            "expected a number or nothing, got '9,5'",
            "write it with a decimal point: 9.5",
        ),
        (
            {"type": "number", "x-unit": "V"},
            "10 V",
            "PHO203",
            "expected a number, got '10 V'",
            "write the number alone, in V",
        ),
        (
            {"type": "integer"},
            None,
            "PHO203",
            "expected a whole number, got nothing",
            "write a number after the colon",
        ),
        (
            {"type": "number"},
            "ten",
            "PHO203",
            "expected a number, got 'ten'",
            "write it in digits, such as 2",
        ),
        (
            {"type": "boolean"},
            "yes",
            "PHO203",
            "expected true or false, got 'yes'",
            "write true or false",
        ),
        ({"const": 1}, True, "PHO204", "expected 1, got true", ""),
        (
            {"enum": ["line", "hold"]},
            "lin",
            "PHO204",
            "'lin' is not allowed here",
            "did you mean 'line'?",
        ),
        (
            {"minimum": 0, "x-unit": "V", "description": "What it is."},
            -1,
            "PHO205",
            "-1 is out of range: at least 0 V",
            "What it is.",
        ),
        (
            {"minimum": -90, "maximum": 90, "x-unit": "°", "description": "What it is. Unit: °."},
            395,
            "PHO205",
            "395 is out of range: at most 90 °",
            "write a value from -90 to 90 °. What it is.",
        ),
        (
            {"exclusiveMinimum": 0, "maximum": 10},
            11,
            "PHO205",
            "11 is out of range: at most 10",
            "write a value above 0 and at most 10",
        ),
        (
            {"minimum": 0, "exclusiveMaximum": 1},
            1,
            "PHO205",
            "1 is out of range: less than 1",
            "write a value from 0 and below 1",
        ),
        ({"maximum": 10}, 11, "PHO205", "11 is out of range: at most 10", ""),
        ({"exclusiveMinimum": 0}, 0, "PHO205", "0 is out of range: more than 0", ""),
        ({"exclusiveMaximum": 1}, 1, "PHO205", "1 is out of range: less than 1", ""),
        (
            {"pattern": "^[a-z]+$", "patternErrorMessage": "letters"},
            "A",
            "PHO206",
            "'A' does not have the right form",
            "letters",
        ),
        ({"minLength": 2}, "x", "PHO207", "1 character, but at least 2 are needed", ""),
        ({"maxLength": 1}, "xy", "PHO207", "2 characters, but at most 1 is allowed", ""),
        ({"minItems": 1}, [], "PHO207", "0 items, but at least 1 is needed", ""),
        ({"maxItems": 2}, ["a", 2, 3], "PHO207", "3 items, but at most 2 are allowed", ""),
        (
            {"maxItems": 2},  # [3,5, 9] for 3.5 and 9
            [3, 5, 9],
            "PHO207",
            "3 items, but at most 2 are allowed",
            "write decimals with a point: a comma begins the next item",
        ),
        ({"minProperties": 2}, {"a": 1}, "PHO207", "1 entry, but at least 2 are needed", ""),
        ({"maxProperties": 0}, {"a": 1}, "PHO207", "1 entry, but at most 0 are allowed", ""),
    ],
)
def test_a_value_that_breaks_a_keyword(
    schema: dict[str, Any], value: Any, code: str, message: str, help: str
) -> None:
    found = schema_words.of_value(error(schema, value), ("here",), "schedule")
    assert (found.code, found.path) == (code, ("here",))
    assert (found.message, found.help) == (message, help)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a\u2013b", "U+2013, which only looks alike"),
        ("a\u00a0b", "U+00A0, which only looks alike"),
        ("a\tb", "U+0009, which can't be seen"),
        ("a\u200bb", "U+200B, which can't be seen"),
    ],
)
def test_characters_that_deceive_are_named(text: str, says: str) -> None:
    schema = {"pattern": "^[a-z]+$", "patternErrorMessage": "letters"}
    found = schema_words.of_value(error(schema, text), (), "schedule")
    assert found.help == f"letters; it holds the character {says}"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("sunrise+30", "write `sunrise + 30 min`"),
        ("civil dusk - 45 minutes", "write `civil dusk - 45 min`"),
        ("24:30", "a clock shows 00:30: write that; a `day` that ends after midnight also needs"),
        ("26:15", "a clock shows 02:15"),
        ("blue+30", "a time"),
        ("40:00", "a time"),
        ("24:00", "a time"),
    ],
)
def test_a_time_that_is_nearly_in_its_form_is_written_out(text: str, says: str) -> None:
    schema = {"pattern": "^(x|24:00:00x)$", "patternErrorMessage": "a time"}
    assert schema_words.of_value(error(schema, text), (), "schedule").help.startswith(says)


def test_a_start_after_midnight_is_a_slip() -> None:
    schema = {"pattern": "^x$", "patternErrorMessage": "a time"}
    assert schema_words.of_value(error(schema, "25:00"), (), "schedule").help == "a time"


def test_characters_that_deceive_are_named_in_keys_and_words() -> None:
    alike = "it holds the character U+00A0, which only looks alike"
    key = schema_words.of_unknown_key((), "volts:\u00a01.0", None, ["volts"])
    assert key.help.endswith(f"; {alike}")
    word = schema_words.of_value(error({"enum": ["line", "hold"]}, "line\u00a0"), (), "schedule")
    assert word.help == f"did you mean 'line'?; {alike}"
    entry = schema_words.of_value(error({"type": "array"}, {"-\u00a0a": 1}), (), "schedule")
    assert entry.help.endswith(alike)


def test_a_name_that_stands_twice_shows_where_it_stood_first() -> None:
    found = schema_words.of_value(
        error({"uniqueItems": True}, ["a", "b", "b"]), ("tubes",), "schedule"
    )
    assert (found.code, found.path) == ("PHO208", ("tubes", 2))
    assert found.message == "'b' stands twice in this list"
    assert [item.path for item in found.related] == [("tubes", 1)]


def test_another_version_of_the_language() -> None:
    found = schema_words.of_value(error({"const": 1}, 2), ("schedule",), "schedule")
    assert found.code == "PHO210"
    assert found.message == "this is version 2 of the language, not 1"


def test_a_keyword_without_words_is_a_bug() -> None:
    with pytest.raises(AssertionError, match="'multipleOf' has no words"):
        schema_words.of_value(error({"multipleOf": 2}, 3), (), "schedule")


@pytest.mark.parametrize("name", NAMES)
def test_every_keyword_of_our_schemas_has_words(name: str) -> None:
    structure = {"properties", "additionalProperties", "required", "propertyNames", "items"}
    structure |= {"allOf", "anyOf", "oneOf", "if", "then", "else", "not"}
    structure |= {"$ref", "$defs", "prefixItems"}
    silent = {"$schema", "$id", "$comment", "title", "description", "examples", "default", "format"}
    silent |= {"x-unit", "patternErrorMessage", "deprecated", "enumDescriptions"}
    worded = {"const", *schema_words._WORDS}

    def keywords(schema: Any) -> set[str]:
        if not isinstance(schema, dict):
            return set()
        found = set(schema)
        for key in ("properties", "$defs"):
            for inner in schema.get(key, {}).values():
                found |= keywords(inner)
        for key in ("additionalProperties", "propertyNames", "items", "if", "then", "else"):
            found |= keywords(schema.get(key))
        for key in ("allOf", "anyOf", "oneOf", "prefixItems"):
            for inner in schema.get(key, []):
                found |= keywords(inner)
        return found

    of_schema = keywords(load_schema(name))
    assert of_schema & {"type", "const"}
    ours = {key for key in of_schema if key.startswith(("x-", "markdown"))}
    assert of_schema - structure - silent - ours <= worded


def test_keys() -> None:
    unknown = schema_words.of_unknown_key(("a",), "colr", "color", ["color"])
    assert (unknown.code, unknown.path, unknown.on_key) == ("PHO201", ("a", "colr"), True)
    assert (unknown.message, unknown.help) == ("unknown key 'colr'", "did you mean 'color'?")
    renamed = schema_words.of_unknown_key((), "old", "new", ["new"], is_renamed=True)
    assert renamed.help == "this key is called 'new' now"
    strange = schema_words.of_unknown_key((), "x", None, ["volts", "watts"])
    assert strange.help == "allowed here: volts, watts"
    about = {"description": "The response.", "properties": {"kind": {"enum": ["a", "b"]}}}
    missing = schema_words.of_missing_key((), "response", about, "schedule")
    assert (missing.code, missing.path) == ("PHO202", ())
    assert missing.message == "the schedule lacks 'response'"
    assert missing.help == "response: The response. One of: a, b."
    for path, where in ((("pair",), "'pair' lacks"), (("points", 0), "this item lacks")):
        message = schema_words.of_missing_key(path, "volts", {}, "schedule").message
        assert message.startswith(where)


@pytest.mark.parametrize(
    ("mapping", "key", "found"),
    [
        ({"volts": 1, "0": None, "light_percent": 1}, "0", ("volts", 1)),
        ({"volts": 92, "5": None}, "5", ("volts", 92)),
        ({"volts": 1, "0": 3}, "0", None),  # a value of its own
        ({"volts": 1.5, "0": None}, "0", None),  # 1.5,0 is no number
        ({"volts": True, "0": None}, "0", None),
        ({"volts": 1, "x": None}, "x", None),
        ({"0": None, "volts": 1}, "0", None),  # nothing before it
    ],
)
def test_a_comma_that_cut_a_number_in_two(
    mapping: dict[str, Any], key: str, found: tuple[str, int] | None
) -> None:
    assert schema_words.cut_at_comma(mapping, key) == found


def test_a_key_that_is_no_id() -> None:
    schema = {"propertyNames": {"pattern": "^[a-z]+$", "patternErrorMessage": "letters"}}
    found = schema_words.of_id(error(schema, {"A": 1}), ("tubes", "A"))
    assert (found.code, found.on_key) == ("PHO206", True)
    assert (found.message, found.help) == ("'A' is no id", "letters")
