"""Plain words by the core schema of YAML 1.2.

Source of the tables: YAML Ain't Markup Language, version 1.2.2 (2021), chapter 10.3 "Core Schema":
the table of tag resolution in 10.3.2 and the example "Core Tag Resolution" below it.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.source.document import read_text
from photoperiod.source.yaml_scalars import MAX_NUMBER_LENGTH, core_value
from tests.conftest import drawn, naming

KINDS = ("null", "bool", "int", "float", "str")

# The example "Core Tag Resolution" of chapter 10.3.2, word by word; infinity and not-a-number are
# in REFUSED, because no light, volts or time is ever infinite.
EXAMPLE_OF_THE_SPECIFICATION = [
    ("null", None, "null"),
    ("", None, "null"),
    ("true", True, "bool"),
    ("True", True, "bool"),
    ("false", False, "bool"),
    ("FALSE", False, "bool"),
    ("0", 0, "int"),
    ("0o7", 7, "int"),
    ("0x3A", 58, "int"),
    ("-19", -19, "int"),
    ("0.", 0.0, "float"),
    ("-0.0", -0.0, "float"),
    (".5", 0.5, "float"),
    ("+12e03", 12000.0, "float"),
    ("-2E+05", -200000.0, "float"),
]

# The other rows of the table of tag resolution, each with its neighbours on both sides.
RESOLVED = [
    ("~", None, "null"),
    ("Null", None, "null"),
    ("NULL", None, "null"),
    ("nULL", "nULL", "str"),
    ("nil", "nil", "str"),
    ("None", "None", "str"),
    ("~~", "~~", "str"),
    ("TRUE", True, "bool"),
    ("False", False, "bool"),
    ("tRUE", "tRUE", "str"),
    ("t", "t", "str"),
    ("+12", 12, "int"),
    ("010", 10, "int"),
    ("-010", -10, "int"),
    ("08", 8, "int"),
    ("0o17", 15, "int"),
    ("0o18", "0o18", "str"),
    ("0O17", "0O17", "str"),
    ("-0o17", "-0o17", "str"),
    ("0x1F", 31, "int"),
    ("0x1f", 31, "int"),
    ("0X1F", "0X1F", "str"),
    ("+0x1F", "+0x1F", "str"),
    ("0x1G", "0x1G", "str"),
    ("0b101", "0b101", "str"),
    ("1e3", 1000.0, "float"),
    ("6e-1", 0.6, "float"),
    ("1E3", 1000.0, "float"),
    ("3.", 3.0, "float"),
    ("+.5", 0.5, "float"),
    ("1.5e-3", 0.0015, "float"),
    ("1e-999", 0.0, "float"),
    (".", ".", "str"),
    ("-", "-", "str"),
    ("+", "+", "str"),
    ("1e", "1e", "str"),
    ("e3", "e3", "str"),
    (".e3", ".e3", "str"),
    ("1.2.3", "1.2.3", "str"),
    ("--1", "--1", "str"),
    ("1 000", "1 000", "str"),
    (" 1", " 1", "str"),
    ("1 ", "1 ", "str"),
    ("1\n", "1\n", "str"),
    ("true\n", "true\n", "str"),
    ("10 V", "10 V", "str"),
    ("80%", "80%", "str"),
    ("8,5", "8,5", "str"),
    ("inf", "inf", "str"),
    ("infinity", "infinity", "str"),
    ("nan", "nan", "str"),
    ("+.nan", "+.nan", "str"),
    (".iNF", ".iNF", "str"),
    ("\u0663", "\u0663", "str"),  # a digit, but not of ASCII
    ("\u2212\u0661", "\u2212\u0661", "str"),
]

# What YAML 1.1 took for something else: numbers to base 60, switches, dates, grouped digits.
TEXT_THAT_YAML_1_1_CHANGED = [
    "7:30",
    "07:30",
    "22:00:00",
    "1:30.5",
    "24:00",
    "-7:30",
    "190:20:30",
    "on",
    "off",
    "On",
    "OFF",
    "yes",
    "no",
    "Yes",
    "NO",
    "y",
    "n",
    "1_000",
    "0x1_F",
    "1_0.5",
    "2027-03-20",
    "2027-03-20T10:00",
    "2027-03-20 10:00:00",
    "2027-03-20T10:00:00Z",
    "<<",
    "=",
]

REFUSED = [
    (".inf", "is not a finite number"),
    ("-.Inf", "is not a finite number"),
    ("+.INF", "is not a finite number"),
    (".nan", "is not a finite number"),
    (".NaN", "is not a finite number"),
    (".NAN", "is not a finite number"),
    ("1e999", "is too large for a number"),
    ("-1e999", "is too large for a number"),
    ("9" * 41, "a number of 41 characters; at most 40 make sense"),
    ("9" * 5000, "a number of 5,000 characters; at most 40 make sense"),
    ("-" + "9" * 5000, "a number of 5,001 characters; at most 40 make sense"),
    ("0x" + "F" * 5000, "a number of 5,002 characters; at most 40 make sense"),
    ("0o" + "7" * 5000, "a number of 5,002 characters; at most 40 make sense"),
    ("0." + "3" * 5000, "a number of 5,002 characters; at most 40 make sense"),
    ("1e" + "9" * 5000, "a number of 5,002 characters; at most 40 make sense"),
]


def same(value, expected):
    """True for equal values of one type; -0.0 is not 0.0."""
    if type(value) is not type(expected):
        return False
    if isinstance(value, float):
        return value == expected and math.copysign(1, value) == math.copysign(1, expected)
    return value == expected


@pytest.mark.parametrize(
    "table", [EXAMPLE_OF_THE_SPECIFICATION, RESOLVED], ids=["the example", "the other rows"]
)
def test_tag_resolution_of_the_specification(table):
    for text, value, kind in table:
        with naming(text):
            found, found_kind = core_value(text)
            assert same(found, value)
            assert found_kind == kind


def test_what_version_1_1_changed_stays_text():
    for text in TEXT_THAT_YAML_1_1_CHANGED:
        assert core_value(text) == (text, "str")


def test_numbers_that_make_no_sense_are_refused():
    for text, why in REFUSED:
        with naming(text):
            value, kind = core_value(text)
            assert same(value, 0)
            assert kind not in KINDS
            assert why in kind
            assert len(kind) < 100


@pytest.mark.parametrize("sign", ["", "-"])
def test_the_longest_number_is_forty_characters(sign):
    text = sign + "9" * (MAX_NUMBER_LENGTH - len(sign))
    assert len(text) == 40
    assert core_value(text) == (int(text), "int")
    assert core_value(text + "9")[0] == 0


def test_long_text_is_no_long_number():
    text = "9" * 5000 + "x"
    assert core_value(text) == (text, "str")


#: Words that can stand plain after a colon: no blanks at their ends, and a lone hyphen is a list.
PLAIN = [
    case
    for case in [*EXAMPLE_OF_THE_SPECIFICATION, *RESOLVED]
    if case[0] == case[0].strip() and case[0] != "-"
]


def test_the_reader_resolves_plain_words_alike():
    for text, value, _ in PLAIN:
        with naming(text):
            source = read_text("f", f"a: {text}\n".encode())
            assert source.diagnostics == []
            assert same(source.data["a"], value)


@pytest.mark.parametrize("form", ["a: {}\n", "a: [{}]\n", "a: '{}'\n", 'a: "{}"\n', "{}: {}\n"])
def test_the_reader_keeps_such_text_in_every_place(form):
    for text in ("7:30", "22:00:00", "on", "no", "2027-03-20", "1_000"):
        with naming(text):
            source = read_text("f", form.format(*[text] * form.count("{}")).encode())
            assert source.diagnostics == []
            value = next(iter(source.data.values()))
            assert (value[0] if isinstance(value, list) else value) == text


@pytest.mark.parametrize("form", ["a: '{}'\n", 'a: "{}"\n', "a: ! {}\n", "a: !!str {}\n"])
def test_quoted_words_are_text(form):
    for text in ("null", "~", "true", "12", "0x1F", "1e3", ".inf", "9" * 5000):
        with naming(text):
            source = read_text("f", form.format(text).encode())
            assert source.diagnostics == []
            assert source.data == {"a": text}


@given(st.integers(min_value=-(10**38), max_value=10**39))
def test_whole_numbers_come_back(number):
    assert core_value(str(number)) == (number, "int")
    if number >= 0:
        assert core_value(hex(number)) == (number, "int")


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_floats_come_back(number):
    value, kind = core_value(repr(number))
    assert same(value, number)
    assert kind == "float"


@given(st.integers(0, 23), st.integers(0, 59), st.sampled_from(["{}:{:02d}", "{:02d}:{:02d}"]))
def test_every_time_of_day_is_text(hour, minute, form):
    text = form.format(hour, minute)
    assert core_value(text) == (text, "str")


@settings(max_examples=drawn(300))
@given(st.one_of(st.text(), st.text(alphabet="0123456789+-.eExXoOinfINFaAtruefls~_: \n")))
def test_any_text_has_a_kind(text):
    value, kind = core_value(text)
    if kind == "str":
        assert value == text
    elif kind not in KINDS:
        assert same(value, 0)
        assert len(kind) < 100
    if isinstance(value, float):
        assert math.isfinite(value)
