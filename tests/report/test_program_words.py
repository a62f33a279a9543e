"""What the words of the program name is there."""

from __future__ import annotations

import re

from photoperiod.report.program_words import PROGRAM_WORDS
from tests.conftest import ROOT, naming


def test_keys_that_words_name_are_keys_of_the_file() -> None:
    keys = (ROOT / "schemas" / "schedule.schema.json").read_text(encoding="utf-8")
    named = [
        (word.names, key)
        for section in PROGRAM_WORDS
        for word in section.words
        for text in (*word.names, word.meaning, word.more)
        for key in re.findall(r"`([a-z]+_[a-z_]+)[`:]", text)
    ]
    assert len(named) > 2
    for names, key in named:
        with naming(names):
            assert f'"{key}"' in keys
