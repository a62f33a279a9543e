from __future__ import annotations

import dataclasses

import pytest

from photoperiod.diagnostics.code import Code, Severity


def test_a_code_is_a_value_that_stops_nothing_unless_it_says_so() -> None:
    code = Code("PHO999", "of-a-test", Severity.NOTE, "a title", "An explanation.")
    assert not code.is_hard
    assert code == Code("PHO999", "of-a-test", Severity("note"), "a title", "An explanation.")
    with pytest.raises(dataclasses.FrozenInstanceError):
        code.is_hard = True  # type: ignore[misc]


def test_severities_are_the_words_of_the_outputs() -> None:
    assert [str(each) for each in Severity] == ["error", "warning", "accepted", "note"]
