"""Every code of reading, shape and meaning: its line, its column, the words it marks, its message.

The cases stand in `tests/codes/`, a file for each hundred. A case damages a schedule without fault in one
way and expects exactly one diagnostic, so that a fault never drags others behind it.
"""

from __future__ import annotations

import re

import pytest

from photoperiod.api import ScheduleError, load_with
from photoperiod.diagnostics.codes import CODES
from photoperiod.report.text import render_text
from tests.codes.damage import BASE
from tests.codes.meaning_cases import MEANING_CASES
from tests.codes.parts_cases import PARTS_CASES
from tests.codes.reading_cases import READING_CASES
from tests.codes.shape_cases import SHAPE_CASES
from tests.conftest import Outcome, load, naming

#: Checks of compiled days, the outside world and readings have their own tests.
ELSEWHERE = ("4", "5", "6", "7", "8", "9")

#: All cases, in the order of their hundreds.
CASES = [*READING_CASES, *SHAPE_CASES, *MEANING_CASES, *PARTS_CASES]


def as_shown(text):
    """Return a stretch of the source as an excerpt shows it."""
    text = text.replace("\t", " ")
    return re.sub("[\x00-\x1f]", lambda found: f"\\x{ord(found[0]):02x}", text)


@pytest.mark.parametrize("code", sorted({case.code for case in CASES}))
def test_every_case_of(code):
    for case in CASES:
        if case.code == code:
            with naming(case):
                check_case(case)


def check_case(case):
    outcome = loaded_case(case)
    found = [(d.code, d.source_range.line, d.source_range.column) for d in outcome.report]
    assert found == [(case.code, case.line, case.column)]
    (diagnostic,) = outcome.report
    assert outcome.report.shown(diagnostic.file) == case.file
    span = diagnostic.source_range
    lines = case.parts.split("\n") if case.file == "p.yaml" else outcome.document.lines
    line = lines[span.line - 1]
    end = span.end_column - 1 if span.end_line == span.line else len(line)
    assert line[span.column - 1 : end] == case.marked
    assert case.message in diagnostic.message
    assert case.help in diagnostic.help
    assert diagnostic.message[0].islower() or not diagnostic.message[0].isalpha()
    assert not diagnostic.message.endswith(".")
    assert (outcome.schedule is None) == outcome.report.has_errors
    check_text(case, diagnostic, outcome, lines)


def loaded_case(case):
    """Load a case, with its parts beside it if it has any."""
    if not case.parts:
        return load("test.yaml", case.raw)
    beside = {"p.yaml": case.parts.encode()}
    try:
        loaded = load_with("test.yaml", case.raw, lambda name, most: beside[name], str)
    except ScheduleError as fault:
        return Outcome(fault.document, fault.report)
    return Outcome(loaded.document, loaded.report, loaded)


def check_text(case, diagnostic, outcome, lines):
    """Assert that the report shows the place, the message, the line, and marks right under it."""
    outcome.report.not_guarded = ()  # what no limit stands for has tests of its own
    text = render_text(outcome.report, outcome.document.lines)
    heading = f"{case.file}:{case.line}:{case.column}  {diagnostic.severity} {case.code}"
    assert text.startswith(f"{heading} {CODES[case.code].name}")
    if diagnostic.severity == "note":
        assert text == f"{heading} {CODES[case.code].name}: {diagnostic.message}\n"
        return
    shown = text.splitlines()
    assert shown[1] == f"  {as_shown(diagnostic.message)}"
    if diagnostic.help:
        assert f"  try: {as_shown(diagnostic.help)}" in shown
    line = lines[case.line - 1]
    prefix = f"  {' ' * len(str(case.line))} | "
    marks = re.fullmatch(re.escape(prefix) + "( *)(~+)", shown[3])
    assert marks is not None
    under = shown[2].ljust(marks.end())[marks.start(2) : marks.end()]
    if len(line) <= 100:
        assert shown[2] == f"  {case.line} | {as_shown(line)}".rstrip()
        assert len(marks[1]) == len(as_shown(line[: case.column - 1]))
        assert under == as_shown(case.marked or line[case.column - 1 : case.column] or " ")
    else:  # cut around the marks
        assert under == as_shown(case.marked)[: len(under)]


def test_the_table_covers_every_code():
    wanted = {code for code in CODES if code[3] not in ELSEWHERE}
    assert {code[3] for code in wanted} == set("123")
    assert {case.code for case in CASES} == wanted


def test_the_base_has_no_fault():
    outcome = load("test.yaml", BASE.encode())
    assert list(outcome.report) == []
    assert outcome.schedule is not None
    assert list(outcome.schedule.channels) == ["blue", "white"]
