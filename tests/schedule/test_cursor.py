from __future__ import annotations

from enum import StrEnum

import pytest

from photoperiod.schedule.cursor import AlreadyReported, Cursor


class Colour(StrEnum):
    BLUE = "blue"
    RED = "red"


DATA = {
    "number": 5,
    "text": "blue",
    "child": {"inner": 2.5},
    "list": [{"a": 1}, {"a": 2}],
    "tubes": ["one", "two"],
}


def cursor(*bad: tuple[str | int, ...]) -> Cursor:
    return Cursor(DATA, ("top",), frozenset(bad))


def test_values_come_out_as_asked_for() -> None:
    here = cursor()
    assert here.number("number") == 5.0 and isinstance(here.number("number"), float)
    assert here.integer("number") == 5 and here.optional_number("none") is None
    assert here.text("none", "left out") == "left out"
    assert here.kind("text", Colour) is Colour.BLUE
    assert here.kind("none", Colour, Colour.RED) is Colour.RED
    assert here.child("child").number("inner") == 2.5
    assert here.child("child").path == ("top", "child")
    assert [each.integer("a") for each in here.list("list")] == [1, 2]
    assert [each.path for each in here.list("list")] == [("top", "list", 0), ("top", "list", 1)]
    assert list(here.names("tubes")) == [("one", ("top", "tubes", 0)), ("two", ("top", "tubes", 1))]


@pytest.mark.parametrize("key", ["number", "text", "child"])
def test_a_faulty_value_is_never_given_out(key: str) -> None:
    here = cursor(("top", key))
    for read in (here.get, here.text, here.child, here.optional_number):
        with pytest.raises(AlreadyReported):
            read(key)
    assert here.has(key), "it is written, and only its value is faulty"


def test_a_key_that_may_be_misspelt_is_neither_there_nor_left_out() -> None:
    with pytest.raises(AlreadyReported):
        cursor(("top", "lable")).has("lable")
    assert not cursor().has("lable")


def test_what_must_be_there_is_not_left_out() -> None:
    with pytest.raises(AlreadyReported):
        cursor().child("none")
    with pytest.raises(AlreadyReported):
        cursor().kind("none", Colour)
    assert cursor().child_or_empty("none").data == {}


def test_a_faulty_entry_spoils_a_list_but_not_a_list_of_names() -> None:
    with pytest.raises(AlreadyReported):
        list(cursor(("top", "list", 1)).list("list"))
    assert [name for name, _ in cursor(("top", "tubes", 0)).names("tubes")] == ["two"]


def test_faulty_entries_of_a_mapping_are_left_out() -> None:
    here = Cursor({"a": {}, "b": {}}, ("zones",), frozenset({("zones", "a")}))
    assert [key for key, _ in here.items()] == ["b"]
