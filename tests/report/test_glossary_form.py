from __future__ import annotations

import dataclasses

import pytest

from photoperiod.report.glossary_form import Section, Word


def test_a_word_needs_a_name_and_a_meaning_alone() -> None:
    word = Word(("dose",), "the light of one day")
    assert (word.more, word.also) == ("", ())
    with pytest.raises(dataclasses.FrozenInstanceError):
        Section("Words", (word,)).title = "Other"  # type: ignore[misc]
