"""Data against a schema: one diagnostic for each fault, and the paths that nobody may use."""

from __future__ import annotations

import copy
import json
import random
from typing import Any

import jsonschema
import pytest
from jsonschema.exceptions import ValidationError
from jsonschema.validators import extend

from photoperiod.source.document import read_text
from photoperiod.source.json_schema import (
    _OWN_KEYWORDS,
    NAMES,
    _validator,
    load_schema,
    schema_path,
    schema_text,
    validate,
)
from tests.conftest import ROOT, SCHEDULE

GOOD: dict[str, Any] = read_text("test.yaml", SCHEDULE.encode()).data


def faults(
    **changes: Any,
) -> tuple[list[tuple[str, tuple[str | int, ...]]], set[tuple[str | int, ...]]]:
    """Return codes with paths, and bad paths, of a schedule with top keys changed."""
    data = {**copy.deepcopy(GOOD), **changes}
    found, bad = validate(data)
    return [(d.code, d.path) for d in found], bad


@pytest.mark.parametrize("name", ["schedule", "parts", "board"])
def test_a_file_of_ours_where_people_write_one_is_one_fault(name: str) -> None:
    data = {"format": "photoperiod-table", "version": 1, "channels": {}}
    (found,), bad = validate(data, name)
    assert (found.code, found.path, bad) == ("PHO203", ("format",), {()})
    assert found.message == (
        f"this is a file that photoperiod wrote (photoperiod-table), not a {name}"
    )
    assert len(validate({**data, "format": "other"}, name)[0]) > 1


@pytest.mark.parametrize(
    ("data", "name", "message"),
    [
        ({"board": 1, "channels": {}}, "schedule", "this is a board file, not a schedule"),
        ({"parts": 1}, "schedule", "this is a file of parts, not a schedule"),
        ({"schedule": 1, "channels": {}}, "board", "this is a schedule, not a board file"),
        ({"schedule": 1, "channels": {}}, "parts", "this is a schedule, not a file of parts"),
        ({"parts": 1}, "board", "this is a file of parts, not a board file"),
    ],
)
def test_a_file_of_another_kind_is_one_fault(data: Any, name: str, message: str) -> None:
    (found,), bad = validate(data, name)
    assert (found.code, found.message, bad) == ("PHO203", message, {()})
    assert found.path == (next(iter(data)),)
    assert found.on_key


def changed(path: tuple[str | int, ...], value: Any) -> Any:
    """Return the schedule with one value changed."""
    data = copy.deepcopy(GOOD)
    inner: Any = data
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return data


def test_a_schedule_without_a_fault() -> None:
    assert faults() == ([], set())


def test_the_top_must_be_a_mapping() -> None:
    found, bad = validate(["a"])
    assert [(d.code, d.path) for d in found] == [("PHO203", ())]
    assert bad == {()}


def test_a_misspelt_key_is_not_missing_too() -> None:
    data = copy.deepcopy(GOOD)
    data["controller"]["betwen"] = data["controller"].pop("between")
    found, bad = validate(data)
    assert [(d.code, d.path, d.on_key) for d in found] == [
        ("PHO201", ("controller", "betwen"), True)
    ]
    assert bad == {("controller", "between")}


def test_a_missing_key_is_a_bad_path() -> None:
    data = copy.deepcopy(GOOD)
    del data["controller"]["between"]
    found, bad = validate(data)
    assert [(d.code, d.path) for d in found] == [("PHO202", ("controller",))]
    assert bad == {("controller", "between")}
    assert found[0].help.startswith("between: ")


@pytest.mark.parametrize("path", [("schedule",), ("controller", "between")])
def test_of_several_broken_rules_of_a_value_the_type_is_reported(
    path: tuple[str | int, ...],
) -> None:
    # A mapping is neither a number nor a word, nor is it the number or one of the words allowed.
    found, bad = validate(changed(path, {}))
    assert [(d.code, d.path) for d in found] == [("PHO203", path)]
    assert bad == {path}


def test_an_id_of_the_wrong_form() -> None:
    found, bad = faults(zones={"Crest!": {}})
    assert found[0] == ("PHO206", ("zones", "Crest!"))
    assert ("zones", "Crest!") in bad


def test_faults_come_in_the_order_of_their_places_values_before_keys() -> None:
    found, _ = faults(titel="x", schedule=2, title=3)
    assert found == [("PHO210", ("schedule",)), ("PHO203", ("title",)), ("PHO201", ("titel",))]


@pytest.mark.parametrize("end", ["", "\n"])
def test_a_line_end_after_a_word_does_not_match(end: str) -> None:
    # ECMA-262: without the flag m, $ matches at the end only. Python's $ also matches before "\n".
    found, _ = validate(changed(("channels", "blue", "ballast"), "pair" + end))
    assert [d.code for d in found] == (["PHO206"] if end else [])


def test_names_that_stand_twice_and_lists_that_are_too_long() -> None:
    path = ("channels", "blue", "tubes")
    found, bad = validate(changed(path, ["blue-a", "blue-a"]))
    assert [(d.code, d.path) for d in found] == [("PHO208", (*path, 1))]
    assert bad == {(*path, 1)}
    limit = load_schema("schedule")["$defs"]["channel"]["properties"]["tubes"]["maxItems"]
    found, _ = validate(changed(path, [f"t{n}" for n in range(limit + 1)]))
    assert [(d.code, d.path) for d in found] == [("PHO207", path)]
    assert len(found[0].message) < 80


def test_no_error_holds_a_whole_list() -> None:
    # Each error would otherwise write the list down: 20,000 names, as often as an alias repeats it.
    names = [f"t{n % 9_000}" for n in range(10_000)]
    errors = list(_validator("schedule").iter_errors(changed(("channels", "blue", "tubes"), names)))
    assert {error.validator for error in errors} == {"uniqueItems", "maxItems"}
    assert all(len(error.message) < 100 for error in errors)


@pytest.mark.parametrize("name", NAMES)
def test_schemas_are_found(name: str) -> None:
    assert schema_path(name).name == f"{name}.schema.json"
    assert json.loads(schema_text(name)) == load_schema(name)
    assert load_schema(name) is load_schema(name)


def test_a_schema_that_does_not_exist() -> None:
    with pytest.raises(KeyError):
        schema_path("../schedule")


def test_references_lead_where_the_library_finds_them() -> None:
    chance = random.Random(5)
    schema = load_schema("schedule")
    kind = extend(jsonschema.Draft202012Validator, _OWN_KEYWORDS)
    data = read_text("a", (ROOT / "examples" / "teaching-reef.yaml").read_bytes()).data
    faulty = 0
    for _ in range(40):
        damaged = copy.deepcopy(data)
        for _ in range(3):
            spot = damaged
            while isinstance(spot, dict) and spot and chance.random() < 0.8:
                inside = spot
                key = chance.choice(sorted(spot))
                spot = spot[key]
            inside[key] = chance.choice((None, -1, "x", [], {}, True, 1e9))
        ours = [_told(e) for e in _validator("schedule").iter_errors(damaged)]
        assert ours == [_told(e) for e in kind(schema).iter_errors(damaged)]
        faulty += bool(ours)
    assert faulty >= 30


def _told(error: ValidationError) -> tuple[object, ...]:
    return (
        tuple(error.absolute_path),
        tuple(error.absolute_schema_path),
        error.validator,
        error.message,
        id(error.schema),
    )
