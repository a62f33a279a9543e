"""Text for people: no text of a file can steer a terminal; numbers, times and places as written."""

from __future__ import annotations

import json
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.text import (
    and_list,
    clock_text,
    close_match,
    columns,
    counted,
    extra_text,
    hours_text,
    json_text,
    number_text,
    path_text,
    plain_number,
    range_text,
    safe,
    safe_lines,
    safe_message,
    short,
    suggestion,
    utc_text,
    width,
    wrapped,
)
from tests.conftest import drawn

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


@settings(max_examples=drawn(300))
@given(st.text(alphabet=st.characters()))
def test_nothing_that_controls_is_left(text):
    shown = safe(text)
    assert len(shown.splitlines()) <= 1
    for character in shown:
        assert unicodedata.category(character) not in ("Cc", "Cs", "Zl", "Zp")
        assert unicodedata.category(character) != "Cf" or character == "\u200d"
    shown.encode("utf-8")
    assert safe(shown) == shown


@given(st.text(alphabet=st.characters(max_codepoint=0x24F, exclude_categories=["C", "Z"])))
def test_latin_text_is_kept(text):
    assert safe(text) == text


# Unicode Standard Annex 11 (East Asian Width): W and F take two columns, combining marks none.
# Technical Standard 51 (Emoji): a sequence with joiners, or with selector U+FE0F, is one picture.
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
        ("\U0001f469\u200d\U0001f52c", 2),
        ("\U0001f469\u200d\U0001f469\u200d\U0001f467", 2),
        ("\u2764", 1),
        ("\u2764\ufe0f", 2),
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


@given(st.text(), st.text(alphabet=st.characters(categories=["L", "N", "P", "S"])))
def test_width_of_words_adds_up(one, two):
    one = safe(one)
    assert width(f"{one} {two}") == width(one) + 1 + width(two) >= 1


def test_the_width_does_not_hang_on_the_environment(monkeypatch):
    monkeypatch.setenv("UNICODE_VERSION", "4.1.0")  # before emoji
    assert width("\U0001f9ff") == 2


# What numbers, times and places look like


@pytest.mark.parametrize(
    ("second", "short", "long"),
    [
        (0, "00:00", "00:00:00"),
        (32_400, "09:00", "09:00:00"),
        (32_401, "09:00:01", "09:00:01"),
        (86_399, "23:59:59", "23:59:59"),
        (86_400, "24:00", "24:00:00"),
    ],
)
def test_times_of_day(second, short, long):
    assert clock_text(second) == short
    assert clock_text(second, with_seconds=True) == long


@pytest.mark.parametrize(
    ("unix_s", "text"),
    [
        (0, "1970-01-01T00:00:00Z"),
        (1_767_225_600.9, "2026-01-01T00:00:00Z"),
        (1e18, "1000000000000000000 s"),  # the year 31 billion
    ],
)
def test_instants(unix_s, text):
    assert utc_text(unix_s) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 h 00 min"),
        (1, "1 s"),
        (59, "59 s"),
        (60, "0 h 01 min"),
        (43_140, "11 h 59 min"),
        (90_000, "25 h 00 min"),
    ],
)
def test_durations(seconds, text):
    assert hours_text(seconds) == text


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (1.0, 2, "1"),
        (1.50, 2, "1.5"),
        (100.0, 0, "100"),
        (-0.001, 2, "0"),
        (0.126, 2, "0.13"),
    ],
)
def test_numbers(value, decimals, text):
    assert number_text(value, decimals) == text


def test_numbers_with_all_their_digits():
    assert plain_number(10.0) == "10"
    assert plain_number(0.1 + 0.2) == "0.3"
    assert plain_number(9.99755859375) == "9.99755859375"


@pytest.mark.parametrize(
    ("number", "decimals", "text"),
    [(0, 0, "0 rows"), (1, 0, "1 row"), (2, 0, "2 rows"), (1.04, 1, "1 row"), (1.5, 1, "1.5 rows")],
)
def test_counted(number, decimals, text):
    assert counted(number, "row", decimals) == text


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ((), "(top)"),
        (("channels",), "channels"),
        (("channels", "blue", "day", "peaks", 0), "channels.blue.day.peaks[0]"),
        ((0, "x"), "[0].x"),
    ],
)
def test_paths(path, text):
    assert path_text(path) == text


@pytest.mark.parametrize(
    ("word", "allowed", "text"),
    [
        ("linaer", ("linear", "sine"), "did you mean 'linear'?"),
        ("xyz", ("linear", "sine"), "allowed here: linear, sine"),
        ("xyz", (), "there is no tube to name here"),
        ("xyz", map(str, range(13)), "allowed here: 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, …"),
    ],
)
def test_suggestions(word, allowed, text):
    assert suggestion(word, allowed, "tube") == text


def test_a_suggestion_for_nothing_says_nothing():
    assert suggestion("xyz", ()) == ""


def test_long_words_are_cut_to_sixty_characters():
    assert short("x" * 60) == "x" * 60
    assert short("x" * 61) == "x" * 57 + "…"


def test_close_matches():
    assert close_match("linaer", ["linear", "sine"]) == "linear"
    assert close_match("linaer", ["linear", "sine"], cutoff=0.99) is None


def test_json_holds_no_character_that_steers_a_terminal():
    data = {"a": "\x1b[2J \x7f \u202e \x9b 水 µ", "b": 1.5}
    text = json_text(data)
    assert "水 µ" in text
    assert text.endswith("}\n")
    assert all(c == "\n" or unicodedata.category(c)[0] != "C" for c in text)
    assert json.loads(text) == data


@pytest.mark.parametrize(("text", "shown"), ESCAPED)
def test_safe_lines_keep_line_ends_and_tabs_and_nothing_else(text: str, shown: str) -> None:
    kept = shown if text not in ("\n", "\t") else text
    assert safe_lines(text) == kept


def test_a_message_goes_on_in_indented_lines_only() -> None:
    assert safe_message("a\n  b\n\tc\nd\x1b") == "a\n  b\n\tc\\x0ad\\x1b"


@given(st.text())
def test_nothing_that_is_shown_steers_a_terminal(text: str) -> None:
    for shown, but in ((safe(text), ""), (safe_lines(text), "\n\t"), (safe_message(text), "\n\t")):
        for character in set(shown) - set(but) - {"\u200d"}:
            assert unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Zl", "Zp")


@pytest.mark.parametrize(
    ("names", "text"),
    [
        ([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c"),
        (["a", "b", "c", "d"], "a, b, c and d"),
    ],
)  # fmt: skip
def test_a_list_in_a_sentence(names, text):
    assert and_list(names) == text


@pytest.mark.parametrize(
    ("least", "most", "decimals", "text"),
    [(1, 2, 2, "1.00 to 2.00"), (1.001, 1.004, 2, "1.00"), (1.004, 1.006, 2, "1.00 to 1.01"),
     (9.4, 9.6, 0, "9 to 10")],
)  # fmt: skip
def test_a_range_of_numbers(least, most, decimals, text):
    assert range_text(least, most, decimals) == text


WIDE = [("水槽", "1"), ("x", "\U0001f469\u200d\U0001f52c")]


def test_columns_are_as_wide_as_their_widest_cell():
    assert columns(("a", "head"), WIDE) == [
        "a     head",
        "水槽  1",
        "x     \U0001f469\u200d\U0001f52c",
    ]


def test_columns_without_room_become_lines():
    rows = [("blue", "1", "2"), ("white", "3", "4")]
    # channel, two blanks, one, two blanks, three: 19 columns
    assert len(columns(("channel", "one", "three"), rows, 19)) == 3
    assert columns(("channel", "one", "three"), rows, 18) == [
        "blue", "  one: 1", "  three: 2", "white", "  one: 3", "  three: 4",
    ]  # fmt: skip


def test_a_line_is_cut_between_words():
    assert wrapped("  one two three", None) == "  one two three"
    assert wrapped("  one two three", 15) == "  one two three"
    assert wrapped("  one two three", 14, "    ") == "  one two\n    three"
    assert wrapped("one extraordinary two", 8) == "one\nextraordinary\ntwo"
    assert wrapped("place  label: one", 14) == "place  label:\none"


@given(st.text("ab é水 ", max_size=80), st.integers(1, 40), st.sampled_from(["", "    "]))
def test_no_word_is_lost_where_a_line_is_cut(text, room, indent):
    shown = wrapped(text, room, indent)
    assert shown.split() == text.split()
    longest = max(map(width, [*text.split(), ""]))
    lead = len(text) - len(text.lstrip())
    assert all(
        width(line) <= max(room, longest + max(len(indent), lead)) for line in shown.split("\n")
    )


def test_an_extra_is_installed_from_the_checkout_or_by_name() -> None:
    told = extra_text("solve")
    assert told.startswith("pip install '.[solve]' in the checkout")
    assert "'photoperiod[solve]'" in told
