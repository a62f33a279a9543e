"""Every way in which text can fail to be YAML 1.2, each at its place and reported once."""

from __future__ import annotations

import json
import random

import pytest

from photoperiod.diagnostics.codes import CODES
from photoperiod.source.document import MAX_BYTES, MAX_DEPTH, MAX_NODES, Document, read_text
from photoperiod.source.yaml_events import Builder, _is_surprising, line_and_column, split_lines
from tests.conftest import ROOT, naming
from tests.source.reading import found, only, place, read

# Every fault of reading, at its place

DEEP = MAX_DEPTH + 1

FAULTS = [
    # PHO100
    ("", "PHO100", 1, 1),
    ("\n\n", "PHO100", 1, 1),
    ("# only a comment\n", "PHO100", 1, 1),
    (b"\xef\xbb\xbf", "PHO100", 1, 1),
    ("---\n", "PHO100", 1, 1),
    ("---\n...\n", "PHO100", 1, 1),
    ("~\n", "PHO100", 1, 1),
    # PHO101
    ("a: b: c\n", "PHO101", 1, 5),
    ("a: 1\n b: 2\n", "PHO101", 2, 2),
    ("a:1\nb: 2\n", "PHO101", 2, 2),
    ("a:\n  b: 1\n c: 2\n", "PHO101", 3, 2),
    ("a: 1\n- b\n", "PHO101", 2, 1),
    ("- a\nb: 1\n", "PHO101", 2, 1),
    ("a: [1, 2\nb: 3\n", "PHO101", 2, 2),
    ("a: [1, 2}\n", "PHO101", 1, 9),
    ("a: {b: 1\n", "PHO101", 2, 1),
    ("a: ]\n", "PHO101", 1, 4),
    ("!foo a: 1\n", "PHO107", 1, 1),
    ("@a: 1\n", "PHO101", 1, 1),
    ("a: `b`\n", "PHO101", 1, 4),
    ('a: 1\nb: "x\nc: 2\n', "PHO101", 2, 4),
    ("a: 1\nb: 'x\nc: 2\n", "PHO101", 2, 4),
    ("a: 1\nlost\nb: 2\n", "PHO101", 2, 1),
    ("a: 1\nlost:1\nb: 2\n", "PHO101", 2, 1),
    ('a: "b\\q"\n', "PHO101", 1, 7),
    ('a: "\\x4g"\n', "PHO101", 1, 7),
    # PHO102
    ("a: 1\nb: 2\na: 3\n", "PHO102", 3, 1),
    ("{a: 1, a: 2}", "PHO102", 1, 8),
    ("- {a: 1,\n   'a': 2}", "PHO102", 2, 4),
    ('a: 1\n"a": 2\n', "PHO102", 2, 1),
    # PHO103
    ("[a, b]: 1\n", "PHO103", 1, 1),
    ("{a: 1}: 1\n", "PHO103", 1, 1),
    ("? {a: 1}\n: 2\n", "PHO103", 1, 3),
    ("? - a\n: 2\n", "PHO103", 1, 3),
    ("? [[a, {b: [c]}]]\n: {d: e}\n", "PHO103", 1, 3),
    ("a: &x 1\n*x : 2\n", "PHO103", 2, 1),
    ("a: 1\n*x : 2\n", "PHO103", 2, 1),
    # PHO104
    (b" " * (MAX_BYTES + 1), "PHO104", 1, 1),
    ("[" + "1, " * MAX_NODES + "]", "PHO104", 1, 2 + 3 * (MAX_NODES - 1)),
    # PHO105
    ("a: !!int x\n", "PHO105", 1, 4),
    ("a: !!int 1.0\n", "PHO105", 1, 4),
    ("a: !!int ''\n", "PHO105", 1, 4),
    ("a: !!float true\n", "PHO105", 1, 4),
    ("a: !!bool yes\n", "PHO105", 1, 4),
    ("a: !!null x\n", "PHO105", 1, 4),
    ("- !!int 7:30\n", "PHO105", 1, 3),
    # PHO106
    ("a: \x07\n", "PHO106", 1, 4),
    ("a: 1\nb: x\x00\n", "PHO106", 2, 5),
    ("a: 1\n# \x1b[31m\n", "PHO106", 2, 3),
    ("a: \x9b\n", "PHO106", 1, 4),
    ("a: \ufffe\n", "PHO106", 1, 4),
    ('a: "\\ud800"\n', "PHO106", 1, 4),
    ('"\\udfff": 1\n', "PHO106", 1, 1),
    # PHO107
    ("a: !foo 1\n", "PHO107", 1, 4),
    ("a: !!python/object:os.system x\n", "PHO107", 1, 4),
    ("a: !!python/name:os.system\n", "PHO107", 1, 4),
    ("a: !include other.yaml\n", "PHO107", 1, 4),
    ("a: !!timestamp 2027-01-01\n", "PHO107", 1, 4),
    ("a: !!binary aGk=\n", "PHO107", 1, 4),
    ("a: !!set {b, c}\n", "PHO107", 1, 4),
    ("a: !<tag:example.org,2027:x> 1\n", "PHO107", 1, 4),
    # PHO108
    ("<<: {b: 1}\n", "PHO108", 1, 1),
    ("a: &x {b: 1}\nc:\n  <<: *x\n", "PHO108", 3, 3),
    # PHO109
    (b"a: \xe9\n", "PHO109", 1, 4),
    ("a: ü\n".encode("latin-1"), "PHO109", 1, 4),
    ("a: 1\nb: ° C\n".encode("latin-1"), "PHO109", 2, 4),
    ("a: 1\n".encode("utf-16"), "PHO109", 1, 1),
    (b"a: \xed\xa0\x80\n", "PHO109", 1, 4),
    (b"a: \xc0\xaf\n", "PHO109", 1, 4),
    (b"a: \xf5\x80\x80\x80\n", "PHO109", 1, 4),
    ("é: ".encode() + b"\x80", "PHO109", 1, 4),
    # PHO110
    ("[" * DEEP + "]" * DEEP, "PHO110", 1, DEEP),
    ("[" * 5000, "PHO110", 1, DEEP),
    ("- " * 5000, "PHO110", 1, 2 * DEEP - 1),
    ("{a: " * DEEP + "}" * DEEP, "PHO110", 1, 4 * (DEEP - 1) + 1),
    # PHO111
    ("a: 1\n---\nb: 2\n", "PHO111", 2, 1),
    ("a: 1\n---\n", "PHO111", 2, 1),
    ("--- a\n--- b\n--- c\n", "PHO111", 2, 1),
    ("a: 1\n...\n---\nb: 2\n", "PHO111", 3, 1),
    # PHO112
    ("a: .inf\n", "PHO112", 1, 4),
    ("a: [1, -.INF]\n", "PHO112", 1, 8),
    ("a: .nan\n", "PHO112", 1, 4),
    ("a: 1e999\n", "PHO112", 1, 4),
    ("a: " + "9" * 5000 + "\n", "PHO112", 1, 4),
    ("a: !!float .inf\n", "PHO112", 1, 4),
    ("a: !!int " + "9" * 5000 + "\n", "PHO112", 1, 4),
    # PHO113
    ("&a [*a]\n", "PHO113", 1, 5),
    ("a: &a {b: *a}\n", "PHO113", 1, 11),
    ("a: &a\n  b:\n    - *a\n", "PHO113", 3, 7),
    # PHO114
    ("a:\n\tb: 1\n", "PHO114", 2, 1),
    ("\ta: 1\n", "PHO114", 1, 1),
    ("a:\n  b: 1\n\tc: 2\n", "PHO114", 3, 1),
    ("a:\n  \tb: 1\n", "PHO114", 2, 3),
    ("a: 1\n  \tb: 2\n", "PHO114", 2, 3),
    ("- a\n-\tb\n", "PHO114", 2, 2),
    # PHO115
    ("a: *x\n", "PHO115", 1, 4),
    ("a: [1, *x]\n", "PHO115", 1, 8),
    ("a: *x\nb: &x 1\n", "PHO115", 1, 4),
    ("*x\n", "PHO115", 1, 1),
]


@pytest.mark.parametrize("code", sorted({code for _, code, _, _ in FAULTS}))
def test_faults_of_reading(code):
    for text, of, line, column in FAULTS:
        if of == code:
            with naming(text[:80]):
                assert found(read(text)) == [(code, line, column)]


def test_the_faults_cover_every_code_of_reading():
    assert {code for _, code, _, _ in FAULTS} == {code for code in CODES if code[3] == "1"}


@pytest.mark.parametrize(
    "text",
    [
        "a: 1\n...\n",
        "---\na: 1\n",
        "%YAML 1.2\n---\na: 1\n...\n# the end\n",
        "a: 'tab\tin quotes'\n",
        "a: 1 # tab\tin a comment\n",
        'a: "\\t\\u00e9\\U0001f41f\\x41"\n',
        "a: {}\nb: []\nc: ''\n",
        "a: !!str 1\nb: !!int 1\nc: !!float 1\nd: !!bool true\ne: !!null ''\n",
        "a: !!map {}\nb: !!seq []\nc: ! 1\n",
        "a: !<tag:yaml.org,2002:str> 1\n",
        "'<<': 1\na: <<\n",
        "[" * MAX_DEPTH + "1" + "]" * MAX_DEPTH,
        "[" + "1, " * (MAX_NODES - 1) + "]",
        b"#" * (MAX_BYTES - 5) + b"\na: 1",
        "a: &x [1]\nb: [*x, *x]\n",
        "a: \U0001f41f \u200f\u202e \ufeff\n",
    ],
    ids=range(16),
)
def test_no_fault_of_reading(text):
    source = read(text)
    assert source.diagnostics == []
    assert source.data is not None


# Messages, ways out and second places


def test_a_repeated_key_names_its_first_place_and_keeps_its_first_value():
    source = read("a: {x: 1}\nb: 2\na: {y: 3}\n")
    assert source.data == {"a": {"x": 1}, "b": 2}
    (diagnostic,) = source.diagnostics
    assert diagnostic.message == "the key 'a' stands twice here"
    assert place(diagnostic.source_range) == (3, 1, 3, 2)
    assert [(item.message, place(item.source_range)) for item in diagnostic.related] == [
        ("first written here", (1, 1, 1, 2))
    ]
    assert ("a", "y") not in source.values
    assert place(source.values[("a", "x")]) == (1, 8, 1, 9)


def test_a_key_written_three_times_is_told_of_twice():
    source = read("a: 1\na: 2\na: 3\n")
    assert source.data == {"a": 1}
    assert found(source) == [("PHO102", 2, 1), ("PHO102", 3, 1)]
    assert [d.related[0].source_range.line for d in source.diagnostics] == [1, 1]


def test_equal_keys_of_different_mappings_are_no_repetition():
    assert read("a: {k: 1}\nb: {k: 1}\nc: [{k: 1}, {k: 2}]\n").diagnostics == []


def test_messages_name_what_they_are_about():
    assert only("a: !foo 1\n").message == "unknown tag '!foo'"
    assert only("a: !!python/name:os.system\n").message == "unknown tag '!!python/name:os.system'"
    assert only("a: !!bool yes\n").message == "'yes' is no !!bool"
    assert only("a: *nowhere\n").message == "the alias '*nowhere' names nothing above it"
    assert "&nowhere" in only("a: *nowhere\n").help
    assert only("&a [*a]\n").message == "the alias '*a' stands inside what it names"
    assert "U+0007" in only("a: \x07\n").message
    assert "0xe9" in only(b"a: \xe9\n").message
    assert only("a: .inf\n").message == "'.inf' is not a finite number"
    assert "60 levels" in only("[" * 5000).message
    assert "1,048,576" in only(b" " * (MAX_BYTES + 1)).message


@pytest.mark.parametrize(
    "text",
    [
        "{}: 1\na: 2\na: 3\n".format("k" * 5000),
        "a: !{} 1\n".format("t" * 5000),
        "a: !{}!x 1\n".format("t" * 5000),
        "a: *{}\n".format("n" * 5000),
        "&{0} [*{0}]\n".format("n" * 5000),
        "a: !!int {}\n".format("x" * 5000),
        "? {0}\n: 1\n? {0}\n: 2\n".format("k" * 5000),
    ],
    ids=range(7),
)
def test_long_words_of_the_file_are_cut_in_messages(text):
    for diagnostic in read(text).diagnostics:
        assert len(diagnostic.message) < 200
        assert len(diagnostic.help) < 200


# One fault, one message


def test_a_bad_value_is_marked_so_that_nobody_complains_again():
    source = read("a: .nan\nb: [!foo 1, *x]\nc: !!int z\nd: 1\n")
    assert source.bad == {("a",), ("b", 0), ("b", 1), ("c",)}
    assert [d.code for d in source.diagnostics] == ["PHO112", "PHO107", "PHO115", "PHO105"]


def test_a_bad_value_is_bad_wherever_an_alias_repeats_it():
    source = read("a: &x .nan\nb: *x\nc: {d: *x}\n")
    assert source.bad == {("a",), ("b",), ("c", "d")}
    assert [d.code for d in source.diagnostics] == ["PHO112"]


def test_reading_goes_on_after_a_fault_that_stops_nothing():
    source = read("a: 1\na: 2\n[x]: 3\nb: .inf\n<<: 4\nc: !foo 5\nd: *x\ne: !!int f\n")
    assert [d.code for d in source.diagnostics] == [
        "PHO102",
        "PHO103",
        "PHO112",
        "PHO108",
        "PHO107",
        "PHO115",
        "PHO105",
    ]
    assert set(source.data) == {"a", "b", "c", "d", "e"}


def test_what_a_bad_key_held_is_left_out():
    source = read("? [a, {b: c}]\n: {d: e}\nf: g\n")
    assert source.data == {"f": "g"}
    assert set(source.values) == {(), ("f",)}


def test_an_anchor_inside_a_bad_key_is_known():
    assert found(read("? &x [a]\n: 1\nb: *x\n")) == [("PHO103", 1, 3)]


# Limits


def test_an_alias_bomb_is_counted_not_built():
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 12)]
    source = read("\n".join(lines))
    assert [d.code for d in source.diagnostics] == ["PHO104"]
    assert "aliases counted where they are used" in source.diagnostics[0].message
    assert source.data is None
    assert len(source.values) <= MAX_NODES


def test_depth_counts_through_aliases():
    lines = ["a0: &a0 [x]"] + [f"a{n}: &a{n} [*a{n - 1}]" for n in range(1, 70)]
    source = read("\n".join(lines))
    assert [d.code for d in source.diagnostics] == ["PHO110"]
    assert source.data is None


@pytest.mark.parametrize("piece", ["{", "[{", "? "])
def test_depth_counts_inside_a_key_too(piece):
    assert "PHO110" in [d.code for d in read(piece * 300).diagnostics]


# The nodes themselves


def test_the_builder_keeps_what_is_written_with_its_place():
    root = Builder("a: [1, x]\n").build()
    key_range, items = root.value["a"]
    assert place(key_range) == (1, 1, 1, 2)
    assert place(items.source_range) == (1, 4, 1, 10)
    assert [(node.value, place(node.source_range)) for node in items.value] == [
        (1, (1, 5, 1, 6)),
        ("x", (1, 8, 1, 9)),
    ]


def test_the_builder_finds_nothing_in_an_empty_text():
    assert Builder("# nothing\n").build() is None


@pytest.mark.parametrize(
    ("text", "index", "line_column"),
    [("", 0, (1, 1)), ("ab", 2, (1, 3)), ("a\nb", 2, (2, 1)), ("a\r\nb\u2028c", 5, (3, 1))],
)
def test_line_and_column(text, index, line_column):
    assert line_and_column(text, index) == line_column


def test_split_lines():
    assert split_lines("a\nb\r\n\rc\x85d\u2029") == ["a", "b", "", "c", "d", ""]
    assert split_lines("a\x0bb\x0cc\x1cd") == ["a\x0bb\x0cc\x1cd"]  # no line ends for YAML


#: First and last of what both parsers read alike; YAML 1.2, section 5.1, admits more (x85 and the line ends
#: U+2028 and U+2029 among it).
COMMON = ((0x09, 0x0A), (0x20, 0x7E), (0xA0, 0x2027), (0x202A, 0xD7FF), (0xE000, 0xFEFE))


def test_rare_characters_are_for_the_parser_in_python_alone() -> None:
    risky = {ord(each) for each in "\t?!|>%"}
    for first, last in COMMON:
        for code in {first, last, (first + last) // 2} - risky:
            assert not _is_surprising(f"a: x{chr(code)}"), hex(code)
        for code in (first - 1, last + 1):
            assert _is_surprising(f"a: x{chr(code)}"), hex(code)
    assert not _is_surprising("a: 1\r\n") and _is_surprising("a: 1\rb: 2\n")
    assert _is_surprising("\U0010ffff")


#: Pieces of YAML; what is joined of them at random is mostly faulty, and often odd.
PIECES = (
    *(
        "a",
        ": ",
        ":",
        "\n",
        "\n  ",
        "\n    ",
        "\n- ",
        "- ",
        "{",
        "}",
        "[",
        "]",
        ", ",
        ",",
        '"x"',
        "'y'",
    ),
    *(
        '"',
        "'",
        "&a ",
        "*a ",
        "*a",
        "#",
        " #c",
        "1.5",
        "~",
        "null",
        "é",
        "🐠",
        "a b",
        "-",
        "--",
        "---",
    ),
    *("\n---\n", "\n...\n", "`", "@", "%", '"\\u0041"', '"a\\\n b"', "'a\n  b'", "\r\n", "x:y"),
    *("::", "- - ", "1:30", " ", "  ", '"a": ', "? ", "!!int ", "|\n", "\t", "\ufeff", "\x85"),
)


def with_each_parser(raw: bytes, monkeypatch: pytest.MonkeyPatch) -> tuple[Document, Document]:
    documents = []
    for has_libyaml in (True, False):
        monkeypatch.setattr("yaml.__with_libyaml__", has_libyaml)
        documents.append(read_text("a.yaml", raw))
    return documents[0], documents[1]


def test_libyaml_changes_nothing_but_the_time(monkeypatch: pytest.MonkeyPatch) -> None:
    chance = random.Random(20_270_302)
    texts = [path.read_bytes() for path in sorted((ROOT / "examples").glob("*.yaml"))]
    texts += [json.dumps(read_text("a", raw).data, indent=1).encode() for raw in texts[:3]]
    texts += [
        "".join(chance.choices(PIECES, k=chance.choice((3, 5, 8, 12)))).encode() for _ in range(800)
    ]
    clean = 0
    for raw in texts:
        one, other = with_each_parser(raw, monkeypatch)
        assert one == other, raw
        clean += not one.diagnostics
    assert clean >= 100  # or nothing is said by this


def test_a_file_without_surprises_is_parsed_by_libyaml(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("the parser in Python was asked")

    monkeypatch.setattr("yaml.SafeLoader.__init__", refuse)
    for path in (ROOT / "examples").glob("*.yaml"):
        assert read_text("a", path.read_bytes()).diagnostics == []
    for raw in (b"a: what?", b"a:\tb", b"a: |\n b", b"%YAML 1.2\n---\na: b", b"a: !b", b"a:\n"):
        with pytest.raises(AssertionError, match="in Python was asked"):
            read_text("a", raw)
    assert read_text("a", b"# what?! 5 %\na: b\n").data == {"a": "b"}
