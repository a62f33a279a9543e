"""The MicroPython module: what stands in it. Interpreters run it in tests/targets."""

from __future__ import annotations

import ast
import re
import tokenize
from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest

from photoperiod.formats import c_header, micropython
from photoperiod.formats.image import encode
from tests.formats.evil import EVIL, evil_about
from tests.targets.images import HARD, about, image


@pytest.mark.parametrize("text", EVIL)
def test_python_comments_do_not_break_out(text: str) -> None:
    made = image([(0, 1)])
    tame = micropython.render(made, evil_about(made, "Reef"))
    module = micropython.render(made, evil_about(made, text))
    assert ast.dump(ast.parse(module)) == ast.dump(ast.parse(tame))
    kinds = {t.type for t in tokenize.tokenize(BytesIO(module).readline)}
    assert tokenize.ERRORTOKEN not in kinds
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e]", module.decode())


def names_of(module: bytes) -> dict[str, Any]:
    """Return the constants that a module assigns at its top."""
    found = {}
    for node in ast.parse(module).body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            found[node.targets[0].id] = node.value
    return found


@pytest.mark.parametrize("name", HARD)
def test_the_image_stands_there_in_short_pieces(name: str) -> None:
    made = HARD[name]
    value = names_of(micropython.render(made, about(made)))["IMAGE"]
    pieces = ast.literal_eval(value.args[0])
    assert b"".join(pieces) == encode(made)
    assert max(map(len, pieces)) <= 48


def test_channels_are_named_in_order() -> None:
    made = HARD["dated-and-shared"]
    value = names_of(micropython.render(made, about(made)))["CHANNELS"]
    assert ast.literal_eval(value) == ("lamp-0", "lamp-1")


def test_header_and_module_name_channels_alike() -> None:
    """A label, BLUE_LEFT for an id blue-left, is that of the header without its prefix."""
    made = HARD["dated-and-shared"]
    told = about(made)
    told = replace(
        told, channels={"blue-left": told.channels["lamp-0"], "moon": told.channels["lamp-1"]}
    )
    header = c_header.render(made, told).decode()
    values = names_of(micropython.render(made, told))
    named = {name: ast.literal_eval(value) for name, value in values.items() if name != "IMAGE"}
    assert named["CHANNEL_BLUE_LEFT"] == 0 and named["CHANNEL_MOON"] == 1
    defined = dict(
        re.findall(r"^#define PHOTOPERIOD_((?:CHANNEL|OUTPUTS)\w*) ([^/\n]+)", header, re.MULTILINE)
    )
    assert defined.keys() == {name for name in named if name.startswith(("CHANNEL", "OUTPUTS"))}
    for name, text in defined.items():
        assert ast.literal_eval(text.strip()) == named[name]


def test_only_a_module_that_loads_others_looks_through_images() -> None:
    made = image([(0, 1)])
    own, other = (micropython.render(made, about(made), loads=loads) for loads in (False, True))
    assert b"def is_playable" not in own and b"def is_playable" in other
    assert len(own) < len(other)
