"""What the parser complains of comes in words that say what to do."""

from __future__ import annotations

import pytest

from tests.source.reading import only, place


def test_a_forgotten_space_is_guessed():
    diagnostic = only("schedule:1\ntitle: x\n")
    assert diagnostic.source_range.line == 2
    assert "is a space missing after ':' on line 1?" in diagnostic.help


def test_a_line_without_a_colon():
    diagnostic = only("a: 1\nlost words\nb: 2\n")
    assert "without ':" in diagnostic.message
    assert "`key: value`" in diagnostic.help


def test_an_open_bracket_names_where_it_was_opened():
    diagnostic = only("a: 1\nb: [1, 2\nc: 3\n")
    assert "',' or ']'" in diagnostic.message
    assert place(diagnostic.related[0].source_range)[:2] == (2, 4)
    assert "bracket" in diagnostic.help


def test_an_open_quote_is_told_of_where_it_was_opened():
    assert only('a: "x\nb: 1\n').message == "this quoted text never ends"


def test_an_unknown_escape_is_not_taken_for_an_open_quote():
    diagnostic = only('title: "C:\\schedules"\nb: 1\n')
    assert place(diagnostic.source_range)[:2] == (1, 12)
    assert "never ends" not in diagnostic.message
    assert "escape" in diagnostic.message


@pytest.mark.parametrize(
    ("text", "message", "help", "at"),
    [
        ("a: 1\n b: 2\n", "indented by 1 space, the line above it by 0", "alike", (2, 2, 2, 3)),
        ("a:\n  b: 1\n c: 2\n", "by 1 space, the lines above it by 0 or 2", "alike", (3, 2, 3, 3)),
        ("a:\u00a01\nb: 2\n", "a hard space (U+00A0)", "type a space", (1, 3, 1, 4)),
        ("a:\n\u00a0 b: 1\n  c: 2\n", "a hard space (U+00A0)", "type a space", (2, 1, 2, 2)),
        ("a: b: c\n", "a second ':' in one line", "into quotes", (1, 5, 1, 6)),
        ("a:1\nb: 2\n", "a second ':'", "missing after ':' on line 1?", (2, 2, 2, 3)),
        ("a 1\nb: 2\n", "a line without ': '", "a space after the colon", (1, 1, 1, 4)),
        ("a: 1\nlost\nb: 2\n", "a line without ': '", "a space after", (2, 1, 2, 2)),
        ("a: `b`\n", "cannot start any token", "put the text into quotes", (1, 4, 1, 5)),
        ("a: 'b'c\n", "text goes on after its closing quote", "double a quote", (1, 7, 1, 8)),
        ('a: "\\q"\n', "unknown escape", "for a backslash", (1, 6, 1, 7)),
        ("a: [1, 2}\n", "expected ',' or ']', but got '}'", "bracket not closed", (1, 9, 1, 10)),
        ("a: {b: 1 # c}\nd: 2\n", "hides the bracket", "after the bracket", (1, 10, 1, 14)),
        ("a: [1, # 2]\n  {b: 'c #' #]}\nd: 2\n", "hides the bracket", "after", (2, 13, 2, 16)),
        ("a: {b: 'c #}', d: 1 # e}\nf: 2\n", "hides the bracket", "after", (1, 21, 1, 25)),
        ("a: {b: 1 # c\n  d: 2}\n", "',' or '}', but got text", "a comma missing", (2, 3, 2, 4)),
        ("a: {b: '1' # [c]\n  d: 2}\n", "',' or '}', but got text", "a comma", (2, 3, 2, 4)),
        ("a: {b: '1'\n  c: 2}\n", "',' or '}', but got text", "a comma missing", (2, 3, 2, 4)),
        ("a: {b: '1'c}\n", "text goes on after its closing quote", "double", (1, 11, 1, 12)),
        ("a: 'b\n", "this quoted text never ends", "the same quote", (1, 4, 1, 5)),
        ("a: 'b\n---\nc'\n", "this quoted text never ends", "the same quote", (1, 4, 1, 5)),
        ("a:\n\tb: 1\n", "a tab stands where YAML wants spaces", "spaces only", (2, 1, 2, 2)),
    ],
)
def test_message_help_and_place(text, message, help, at):
    diagnostic = only(text)
    assert message in diagnostic.message
    assert help in diagnostic.help
    assert place(diagnostic.source_range) == at
