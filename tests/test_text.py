"""What a schedule holds is shown, never sent: no text of a file can steer a terminal."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.text import safe, width

ESCAPED = [
    ("\x00", "\\x00"),
    ("\x07", "\\x07"),
    ("\t", "\\x09"),
    ("\n", "\\x0a"),
    ("\r", "\\x0d"),
    ("\x1b", "\\x1b"),
    ("\x1b[2J\x1b[31mred", "\\x1b[2J\\x1b[31mred"),
    ("\x1b]0;title\x07", "\\x1b]0;title\\x07"),
    ("\x7f", "\\x7f"),
    ("\x85", "\\x85"),
    ("\x9b2J", "\\x9b2J"),  # the one-character form of ESC [
    ("\xad", "\\xad"),  # soft hyphen
    ("\u061c", "\\u061c"),  # Arabic letter mark
    ("\u200b", "\\u200b"),  # zero-width space
    ("\u200e", "\\u200e"),
    ("\u200f", "\\u200f"),
    ("\u2028", "\\u2028"),
    ("\u2029", "\\u2029"),
    ("\u202a", "\\u202a"),
    ("\u202b", "\\u202b"),
    ("\u202c", "\\u202c"),
    ("\u202d", "\\u202d"),
    ("\u202e", "\\u202e"),  # right-to-left override
    ("\u2066", "\\u2066"),
    ("\u2067", "\\u2067"),
    ("\u2068", "\\u2068"),
    ("\u2069", "\\u2069"),
    ("\ufeff", "\\ufeff"),
    ("\ud800", "\\ud800"),
    ("\udfff", "\\udfff"),
    ("\U000e0041", "\\U000e0041"),  # a tag character
    ("a\u202eb\x1bc", "a\\u202eb\\x1bc"),
]

KEPT = [
    "",
    "plain text",
    "blue 'pair' \"x\" \\ /",
    "µmol m⁻² s⁻¹ 0–10 V × ÷",
    "水槽 ランプ",
    "e\u0301 a\u0308",  # combining marks
    "\U0001f420",  # a fish
    "\U0001f469\u200d\U0001f52c",  # joined emoji
    "\u2764\ufe0f",  # variation selector
    "Ω ש ع",  # letters from right to left have no control character
    "\u00a0\u3000",  # blanks that are not ASCII
]


@pytest.mark.parametrize(("text", "shown"), ESCAPED)
def test_escapes(text, shown):
    assert safe(text) == shown


@pytest.mark.parametrize("text", KEPT)
def test_what_can_be_shown_is_kept(text):
    assert safe(text) == text


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.text(alphabet=st.characters()))
def test_nothing_that_controls_is_left(text):
    shown = safe(text)
    assert len(shown.splitlines()) <= 1
    for character in shown:
        assert unicodedata.category(character) not in ("Cc", "Cs", "Zl", "Zp")
        assert unicodedata.category(character) != "Cf" or character == "\u200d"
    shown.encode("utf-8")
    assert safe(shown) == shown


@settings(derandomize=True, deadline=None)
@given(st.text(alphabet=st.characters(max_codepoint=0x24F, exclude_categories=["C", "Z"])))
def test_latin_text_is_kept(text):
    assert safe(text) == text


# Unicode Standard Annex 11 (East Asian Width): W and F take two columns, combining marks none.
@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("", 0),
        ("abc", 3),
        ("a b", 3),
        ("é", 1),
        ("e\u0301", 1),
        ("o\u0308\u0304", 1),
        ("水槽", 4),
        ("ｶ", 1),  # halfwidth katakana
        ("Ａ", 2),  # fullwidth letter
        ("한", 2),
        ("\U0001f420", 2),
        ("\u3000", 2),
        ("\u200d", 0),
        ("\ufe0f", 0),
        ("±", 1),  # ambiguous
        ("✓", 1),
        ("…", 1),
        ("~", 1),
    ],
)
def test_width(text, columns):
    assert width(text) == columns


@settings(derandomize=True, deadline=None)
@given(st.text(), st.text())
def test_width_adds_up(one, two):
    assert width(one + two) == width(one) + width(two) >= 0
