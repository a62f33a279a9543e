from __future__ import annotations

import datetime as dt
import hashlib
import os
import subprocess
import sys
from dataclasses import dataclass, field
from fractions import Fraction

import pytest

from photoperiod.schedule.digest import digest_of
from photoperiod.sky.clock import ClockKind


@dataclass(frozen=True)
class Value:
    number: float = 1.5
    kind: ClockKind = ClockKind.UTC
    aside: str = field(default="", compare=False)


def sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "null"),
        (0.1, "0.1"),
        ("é", '"\\u00e9"'),
        (Fraction(1, 10), '"1/10"'),
        (dt.datetime(2027, 3, 2, 10), '"2027-03-02T10:00:00"'),
        ((1, True), "[1,true]"),
        ({"b": 1, "a": 2}, '[["b",1],["a",2]]'),
        (frozenset({"b", "a"}), '["a","b"]'),
        (Value(), '["Value",[["number",1.5],["kind","utc"]]]'),
    ],
)
def test_the_text_that_is_digested_is_written_by_hand(value: object, text: str) -> None:
    assert digest_of(value) == sha256(text)


def test_what_has_no_say_in_equality_has_none_here() -> None:
    assert digest_of(Value(aside="x")) == digest_of(Value())


def test_another_process_with_other_hashes_gives_the_same() -> None:
    code = (
        "from photoperiod.schedule.digest import digest_of;"
        "print(digest_of(frozenset('abcdefgh')), end='')"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert found == {digest_of(frozenset("abcdefgh"))}


@pytest.mark.parametrize("value", [print, object(), [1], {1, 2}])
def test_no_plain_value_no_digest(value: object) -> None:
    with pytest.raises(TypeError, match="is no plain value"):
        digest_of((value,))
