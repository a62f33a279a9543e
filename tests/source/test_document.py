"""Reading: what stands where, and no text that raises."""

from __future__ import annotations

import hashlib
import json

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from photoperiod.diagnostics.model import Diagnostic, Related, SourceRange
from photoperiod.source.document import MAX_BYTES
from tests.conftest import drawn
from tests.source.reading import cut, found, place, read

# Where values and keys stand

PLACES = """\
# a comment
title: Two words
wet: 'quoted # text'
zones:
  crest: {dli: [9, 14], "a b": x}   # flow
  sand:
    dli:
      - 3
      - 6.5
list:
- - inner
- k: v
  w: ''
"""

VALUES = {
    ("title",): (2, 8, 2, 17),
    ("wet",): (3, 6, 3, 21),
    ("zones", "crest"): (5, 10, 5, 34),
    ("zones", "crest", "dli"): (5, 16, 5, 23),
    ("zones", "crest", "dli", 0): (5, 17, 5, 18),
    ("zones", "crest", "dli", 1): (5, 20, 5, 22),
    ("zones", "crest", "a b"): (5, 32, 5, 33),
    ("zones", "sand", "dli", 0): (8, 9, 8, 10),
    ("zones", "sand", "dli", 1): (9, 9, 9, 12),
    ("list", 0, 0): (11, 5, 11, 10),
    ("list", 1, "k"): (12, 6, 12, 7),
    ("list", 1, "w"): (13, 6, 13, 8),
}

KEYS = {
    ("title",): (2, 1, 2, 6),
    ("zones",): (4, 1, 4, 6),
    ("zones", "crest"): (5, 3, 5, 8),
    ("zones", "crest", "dli"): (5, 11, 5, 14),
    ("zones", "crest", "a b"): (5, 25, 5, 30),
    ("zones", "sand", "dli"): (7, 5, 7, 8),
    ("list", 1, "k"): (12, 3, 12, 4),
    ("list", 1, "w"): (13, 3, 13, 4),
}


@pytest.mark.parametrize(("path", "expected"), VALUES.items())
def test_place_of_a_value(path, expected):
    source = read(PLACES)
    assert place(source.values[path]) == expected
    assert place(source.locate(path)) == expected


@pytest.mark.parametrize(("path", "expected"), KEYS.items())
def test_place_of_a_key(path, expected):
    source = read(PLACES)
    assert place(source.keys[path]) == expected
    assert place(source.locate(path, on_key=True)) == expected


def test_data_of_the_places():
    source = read(PLACES)
    assert source.diagnostics == []
    assert source.bad == set()
    assert source.data == {
        "title": "Two words",
        "wet": "quoted # text",
        "zones": {"crest": {"dli": [9, 14], "a b": "x"}, "sand": {"dli": [3, 6.5]}},
        "list": [["inner"], {"k": "v", "w": ""}],
    }


def test_every_value_and_key_of_the_data_has_a_place():
    source = read(PLACES)
    values, keys = set(), set()

    def collect(value, path):
        values.add(path)
        inside = list(enumerate(value)) if isinstance(value, list) else []
        if isinstance(value, dict):
            inside = list(value.items())
            keys.update((*path, key) for key in value)
        for step, child in inside:
            collect(child, (*path, step))

    collect(source.data, ())
    assert set(source.values) == values
    assert set(source.keys) == keys


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ((), (2, 1)),
        (("zones",), (5, 3)),
        (("zones", "sand"), (7, 5)),
        (("zones", "sand", "dli"), (8, 7)),
        (("list",), (11, 1)),
        (("list", 0), (11, 3)),
        (("list", 1), (12, 3)),
    ],
)
def test_a_block_is_marked_at_its_first_character(path, expected):
    line, column = expected
    assert place(read(PLACES).values[path]) == (line, column, line, column + 1)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: |\n  one\n  two\nb: 1\n", (1, 4)),
        ("a: >-\n  one\n  two\nb: 1\n", (1, 4)),
        ('a: "one\n  two"\nb: 1\n', (1, 4)),
        ("a: 'one\n  two'\nb: 1\n", (1, 4)),
        ("a: one\n  two\nb: 1\n", (1, 4)),
        ("a: [one,\n  two]\nb: 1\n", (1, 4)),
        ("a:\n  [one,\n  two]\nb: 1\n", (2, 3)),
        ("a: {one: 1,\n  two: 2}\nb: 1\n", (1, 4)),
    ],
)
def test_a_value_of_several_lines_begins_on_its_first(text, expected):
    source_range = read(text).values[("a",)]
    assert (source_range.line, source_range.column) == expected
    assert (source_range.end_line, source_range.end_column) > (
        source_range.line,
        source_range.column,
    )


def test_a_flow_list_ends_behind_its_bracket_on_a_later_line():
    assert place(read("a: [\n  1,\n  2\n  ]\n").values[("a",)]) == (1, 4, 4, 4)


def test_quoted_text_of_two_lines_ends_behind_its_quote():
    assert place(read('a: "one\n  two"\n').values[("a",)]) == (1, 4, 2, 7)


@pytest.mark.parametrize(
    ("text", "path", "expected"),
    [
        ("a:\nb: 1\n", ("a",), (1, 3, 1, 4)),
        ("b: {a: }\n", ("b", "a"), (1, 7, 1, 8)),
        ("b:\n  -\n  - 1\n", ("b", 0), (2, 4, 2, 5)),
    ],
)
def test_a_value_that_is_not_written_is_one_mark_wide(text, path, expected):
    source = read(text)
    assert source.diagnostics == []
    assert place(source.values[path]) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: !!str 5\n", "!!str 5"),
        ("a: &x 5\n", "&x 5"),
        ("a: &x !!int 5\n", "&x !!int 5"),
        ("a: &x [1, 2]\n", "&x [1, 2]"),
    ],
)
def test_tag_and_anchor_belong_to_the_value(text, expected):
    source = read(text)
    assert source.diagnostics == []
    assert cut(source, source.values[("a",)]) == expected


def test_an_alias_stands_where_its_value_was_written():
    source = read("a: &x {k: [1]}\nb: *x\nc: [*x]\n")
    assert source.data == {"a": {"k": [1]}, "b": {"k": [1]}, "c": [{"k": [1]}]}
    for path in (("a",), ("b",), ("c", 0)):
        assert place(source.values[path]) == (1, 4, 1, 15)
        assert place(source.values[(*path, "k", 0)]) == (1, 12, 1, 13)
        assert place(source.keys[(*path, "k")]) == (1, 8, 1, 9)
    assert place(source.keys[("b",)]) == (2, 1, 2, 2)


def test_the_anchor_written_last_counts():
    assert read("a: &x 1\nb: &x 2\nc: *x\n").data == {"a": 1, "b": 2, "c": 2}


def test_an_anchor_written_anew_inside_itself_names_the_inner_value():
    source = read("a: &x [&x 1, *x]\n")
    assert source.diagnostics == []
    assert source.data == {"a": [1, 1]}


def test_a_key_can_have_an_anchor():
    source = read("&k blue: 1\nname: *k\n")
    assert source.diagnostics == []
    assert source.data == {"blue": 1, "name": "blue"}


def test_keys_are_the_words_that_are_written():
    source = read("1: a\ntrue: b\n~: c\n0x10: d\n7:30: e\n'q': f\n2027-01-01: g\n")
    assert source.diagnostics == []
    assert list(source.data) == ["1", "true", "~", "0x10", "7:30", "q", "2027-01-01"]


@pytest.mark.parametrize(
    ("path", "on_key", "expected"),
    [
        (("zones", "crest", "ppfd_max"), False, (5, 3)),  # the key of the mapping that lacks it
        (("zones", "crest", "ppfd_max"), True, (5, 3)),
        (("zones", "reef", "dli", 1), False, (4, 1)),
        (("zones", "sand", "dli", 7), False, (7, 5)),
        (("list", 0, 9), False, (11, 3)),  # a list item has no key: its value
        (("nowhere",), False, (2, 1)),
        (("nowhere", "at", "all"), True, (2, 1)),
        (("zones", "crest", "dli", 0), True, (5, 17)),
        ((), True, (2, 1)),
    ],
)
def test_what_is_missing_is_looked_for_around_it(path, on_key, expected):
    source_range = read(PLACES).locate(path, on_key=on_key)
    assert (source_range.line, source_range.column) == expected


def test_nothing_can_be_located_in_what_could_not_be_read():
    assert read("a: [").locate(("a",)) is None


def test_place_fills_in_what_has_no_span():
    source = read(PLACES)
    known = SourceRange(1, 1, 1, 2)
    diagnostic = source.place(
        Diagnostic(
            code="PHO203",
            message="",
            path=("title",),
            related=(Related(message="", path=("wet",)), Related(message="", source_range=known)),
        )
    )
    assert place(diagnostic.source_range) == VALUES[("title",)]
    assert place(diagnostic.related[0].source_range) == (3, 1, 3, 4)
    assert diagnostic.related[1].source_range is known
    on_key = source.place(Diagnostic(code="PHO203", message="", path=("title",), on_key=True))
    assert place(on_key.source_range) == KEYS[("title",)]
    assert (
        source.place(Diagnostic(code="PHO203", message="", source_range=known)).source_range
        is known
    )


# Bytes and lines


def test_the_digest_is_that_of_the_bytes():
    raw = b"\xef\xbb\xbfa: 1\r\n"
    assert read(raw).digest == hashlib.sha256(raw).hexdigest()
    assert read(b"\xff").digest == hashlib.sha256(b"\xff").hexdigest()


def test_a_byte_order_mark_moves_nothing():
    source = read(b"\xef\xbb\xbfa: x\nb: y\n")
    assert source.diagnostics == []
    assert source.text == "a: x\nb: y\n"
    assert place(source.keys[("a",)]) == (1, 1, 1, 2)
    assert place(source.values[("a",)]) == (1, 4, 1, 5)


def test_a_byte_order_mark_moves_no_fault_of_encoding():
    source = read(b"\xef\xbb\xbfa: \xe9\n")
    assert found(source) == [("PHO109", 1, 4)]
    assert source.lines[0] == "a: \ufffd"


def test_a_byte_order_mark_inside_the_text_counts_as_a_character():
    source = read('{a: "\ufeff", b: x}\n')
    assert source.diagnostics == []
    assert cut(source, source.values[("b",)]) == "x"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\x85", "\u2028", "\u2029"])
def test_every_line_end_of_the_parser_counts_as_one(end):
    source = read(f"a: 1{end}# é{end}b: [x, x]{end}c: 3, c{end}c: 4{end}")
    assert source.data == {"a": 1, "b": ["x", "x"], "c": "3, c"}
    assert found(source) == [("PHO102", 5, 1)]
    assert place(source.values[("b", 1)]) == (3, 8, 3, 9)
    assert source.lines == ["a: 1", "# é", "b: [x, x]", "c: 3, c", "c: 4", ""]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_counted_alike_before_a_forbidden_character(end):
    assert found(read(f"a: 1{end}b: 2{end}c: é\x07{end}")) == [("PHO106", 3, 5)]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_counted_alike_before_a_byte_that_is_not_utf_8(end):
    assert found(read(f"a: 1{end}b: 2{end}c: é".encode() + b"\xff")) == [("PHO109", 3, 5)]


def test_carriage_returns_are_no_part_of_values():
    assert read("a: x\r\nb: |\r\n  one\r\n  two\r\n").data == {"a": "x", "b": "one\ntwo\n"}


@pytest.mark.parametrize(
    ("text", "path", "expected"),
    [
        ("é: {b: 1}\n", ("é", "b"), (1, 8, 1, 9)),
        ("水槽: {b: 1}\n", ("水槽", "b"), (1, 9, 1, 10)),
        ("\U0001f41f: {b: 1}\n", ("\U0001f41f", "b"), (1, 8, 1, 9)),
        ("e\u0301: {b: 1}\n", ("e\u0301", "b"), (1, 9, 1, 10)),
        (
            "\U0001f469\u200d\U0001f52c: {b: 1}\n",
            ("\U0001f469\u200d\U0001f52c", "b"),
            (1, 10, 1, 11),
        ),
    ],
)
def test_columns_count_code_points(text, path, expected):
    source = read(text)
    assert source.diagnostics == []
    assert place(source.values[path]) == expected


# Limits


def test_a_file_that_is_too_large_is_not_even_decoded():
    source = read(b"\xff" * (MAX_BYTES + 1))
    assert found(source) == [("PHO104", 1, 1)]
    assert source.text == ""


def test_data_is_none_where_reading_stopped():
    for text in ("a: [", "a: 1\n---\nb: 2\n", "&a [*a]", "[" * 100, b"\xff", "a: \x00"):
        assert read(text).data is None


# Whatever comes, nothing is raised

CHARACTERS = "\t\n\r -?:,[]{}#&*!|>'\"%@`~<=.0123456789aAeExXoOtrufnl_\\/+é"
ODD_CHARACTERS = "\x00\x1b\x85\u2028\ufeff\U0001f41f\ud7ff\ufffe"
# fmt: off
PIECES = (
    "- ", ": ", "? ", "--- ", "\n---\n", "\n...\n", "&a ", "*a ", "!!int ", "!foo ", "<<: ", "%TAG ",
    ".inf", ".nan", "0x", "0o", "1e999", "7:30", '"\\ud800"', '"\\x"', "|+2\n", ">-\n",
)
# fmt: on
HOSTILE = st.sampled_from([*CHARACTERS, *ODD_CHARACTERS, *PIECES])


def check_source(source):
    if source.data is None:
        assert any(d.severity == "error" for d in source.diagnostics)
    count = len(source.lines)
    for diagnostic in source.diagnostics:
        assert diagnostic.code[3] == "1"
        assert diagnostic.message
        spans = [diagnostic.source_range, *(item.source_range for item in diagnostic.related)]
        for source_range in spans:
            assert 1 <= source_range.line <= count
            assert 1 <= source_range.column <= len(source.lines[source_range.line - 1]) + 1
            assert (source_range.end_line, source_range.end_column) >= (
                source_range.line,
                source_range.column,
            )
    for source_range in (*source.values.values(), *source.keys.values()):
        assert 1 <= source_range.line <= count
        assert 1 <= source_range.column <= len(source.lines[source_range.line - 1]) + 1


@settings(max_examples=drawn(500))
@given(st.one_of(st.text(), st.lists(HOSTILE, max_size=40).map("".join)))
@example('a: "\ufeff" \ufeff b')
@example("\ufeff\ufeffa: b: c")
@example("a: 1\n\ufeff  b: 2")
def test_any_text_is_read_without_raising(text):
    check_source(read(text.encode("utf-8", errors="surrogatepass")))


@settings(max_examples=drawn(300))
@given(st.one_of(st.binary(), st.binary(max_size=12).map(lambda raw: b"a: {b: [" + raw)))
def test_any_bytes_are_read_without_raising(raw):
    check_source(read(raw))


@settings(max_examples=drawn(200))
@given(
    st.recursive(
        st.one_of(
            st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False), st.text(max_size=8)
        ).filter(lambda v: not isinstance(v, float) or abs(v) < 1e300),
        lambda inner: st.one_of(
            st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=6), inner, max_size=4)
        ),
        max_leaves=12,
    ).filter(lambda value: value is not None)
)
def test_json_is_read_as_what_it_is(value):
    # YAML 1.2 has JSON as a part of it (YAML 1.2.2 specification, chapter 1.2).
    source = read(json.dumps(value))
    if not source.diagnostics:  # numbers of more than forty digits and NUL keys aside
        assert source.data == value
