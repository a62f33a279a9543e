"""Sketches as text: what is a person's, and what is not. They run in tests/targets/test_sketches.py."""

from __future__ import annotations

import ast
import re

import pytest

from photoperiod.formats.sketch import is_untouched, render
from tests.formats.evil import EVIL, evil_about
from tests.formats.sketching import BOARDS, many, text, wiring
from tests.targets.images import image


@pytest.mark.parametrize("board", BOARDS)
def test_all_its_pins_are_those_of_a_person_with_cautions(board: str) -> None:
    made, told = many(2)
    sketch = render(wiring(board), made, told)
    name, raw = sketch.pins
    assert name not in sketch.made and sketch.main in sketch.made
    words = " ".join(re.sub(r"[#*/]", " ", raw.decode()).split())
    for caution in (
        "This file is yours",
        "Pins here are examples",
        "Mains voltage",
        "no isolation",
    ):
        assert caution in words
    main = " ".join(re.sub(r"[#*/]", " ", text(sketch)).split())
    assert "Mains voltage" in main and "keeps it open" in main and "docs sketch.md" in main


@pytest.mark.parametrize("board", BOARDS)
def test_a_sketch_that_a_person_changed_is_known(board: str) -> None:
    sketch = render(wiring(board), *many(2))
    raw = sketch.made[sketch.main]
    assert is_untouched(raw)
    assert not is_untouched(raw.replace(b"0x68", b"0x69", 1))
    assert not is_untouched(raw + b"\n")
    assert not is_untouched(raw.partition(b"\n")[2])
    assert not is_untouched(b"")


@pytest.mark.parametrize("words", EVIL)
@pytest.mark.parametrize("board", BOARDS)
def test_comments_do_not_break_out(board: str, words: str) -> None:
    made = image([(0, 1)])
    evil, tame = (render(wiring(board), made, evil_about(made, t)) for t in (words, "Reef"))
    if board == "atmega328p":
        # Both are the same below the comment at the top, which ends where it should.
        top, _, rest = text(evil).partition("\n */\n")
        assert "*/" not in top.partition("\n")[2]
        assert rest == text(tame).partition("\n */\n")[2]
    else:
        assert ast.dump(ast.parse(text(evil))) == ast.dump(ast.parse(text(tame)))
