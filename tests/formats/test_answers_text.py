from __future__ import annotations

import pytest

from photoperiod.formats.answers_text import parse, render, shown
from tests.schedule.talking import answered
from tests.schedule.test_starter import REEF


def test_what_is_written_reads_as_the_same_answers() -> None:
    answers = answered(**REEF)
    text = render(answers, "tank.yaml")
    assert parse(text) == answers
    lines = text.decode().splitlines()
    assert lines[0] == "# Answers for tank.yaml. `photoperiod new tank.yaml` goes on from here."
    assert "rows = 10" in lines and "floor-volts strip = 0.6" in lines
    assert "tubes white = 6 x 39 W" in lines and "full-ppfd white/sand = later" in lines
    assert 'title = Reef "2" \\ north: 50 % # \N{FISH}' in lines


def test_what_a_person_changes_in_it_is_read_like_an_answer() -> None:
    raw = b"\n# note\nrows = 9 rows\r\nfloor-volts strip = 0,6 V\ntitle = a = b\n"
    assert parse(raw) == {("rows", ""): 9, ("floor_volts", "strip"): 0.6, ("title", ""): "a = b"}


def test_what_is_not_known_any_more_is_asked_again() -> None:
    assert parse(b"lamp = x\nrows = many\nbits = 12\n") == {("bits", ""): 12}
    assert parse(b"title = \xff\xfe\nbits = 12\n")["bits", ""] == 12


@pytest.mark.parametrize(
    ("raw", "line"), [(b"rows 12\n", 1), (b"rows = 1\nschedule: 1\n", 2), (b"a b c = 1\n", 1)]
)
def test_another_file_is_refused_with_its_line(raw: bytes, line: int) -> None:
    with pytest.raises(ValueError, match=f"^line {line} is no answer$"):
        parse(raw)


def test_a_value_is_shown_as_it_could_be_typed() -> None:
    assert shown(("level_step", ""), ("millivolts", "20")) == "20 mV"
    assert shown(("dli", "crest"), (8.0, 12.5)) == "8 to 12.5"
