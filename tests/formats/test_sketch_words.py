"""What sketches say in the same words."""

from __future__ import annotations

from photoperiod.formats.sketch_words import OF_LEVELS, OF_STOP, WHOSE, sentence
from photoperiod.formats.wiring import LevelOutput


def test_sentences_begin_with_a_capital_and_end_with_a_point() -> None:
    assert sentence("levels are pulses") == "Levels are pulses."


def test_cautions_stand_where_a_person_writes() -> None:
    assert (
        "no isolation" in " ".join(OF_STOP.split()) and "a wrong pin can light a lamp" in WHOSE[1]
    )
    assert set(OF_LEVELS) == set(LevelOutput)
