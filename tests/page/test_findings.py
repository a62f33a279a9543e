from __future__ import annotations

from photoperiod.diagnostics.model import Diagnostic, SourceRange
from photoperiod.page.findings import AROUND, SourceLine, marked_line, shown_findings

LINES = ["schedule: 1", "tank:\tbe\u202ench"]


def test_a_place_is_marked_in_its_line() -> None:
    assert marked_line(LINES, SourceRange(1, 11, 1, 12)) == SourceLine(1, "schedule: ", "1", "")


def test_lines_are_safe_to_show() -> None:
    assert marked_line(LINES, SourceRange(2, 7, 2, 12)) == SourceLine(
        2, "tank: ", "be\\u202enc", "h"
    )


def test_a_place_outside_the_text_has_no_line() -> None:
    assert marked_line(LINES, SourceRange(3, 1, 3, 2)) is None
    assert marked_line([], SourceRange(1, 1, 1, 2)) is None


def test_a_long_line_is_cut_around_the_place() -> None:
    line = marked_line(["a" * 500 + "HERE" + "b" * 500], SourceRange(1, 501, 1, 505))
    assert line == SourceLine(1, "…" + "a" * AROUND, "HERE", "b" * AROUND + "…")


def test_a_place_of_several_lines_is_marked_to_the_end_of_its_first() -> None:
    assert marked_line(LINES, SourceRange(1, 1, 2, 3)) == SourceLine(1, "", "schedule: 1", "")


def test_the_gravest_come_first() -> None:
    note = Diagnostic(code="PHO324", message="m", source_range=SourceRange(1, 1, 1, 2))
    error = Diagnostic(code="PHO301", message="n", path=("zones", "x"), help="h")
    found = shown_findings([note, error], LINES)
    assert [(each.severity, each.where) for each in found] == [
        ("error", "zones.x"),
        ("note", "line 1"),
    ]
    assert found[0].help == "h"
    assert found[1].lines == (SourceLine(1, "", "s", "chedule: 1"),)
