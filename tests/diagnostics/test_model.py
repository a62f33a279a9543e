"""Diagnostics as values, and the report that collects them."""

from __future__ import annotations

import pytest

from photoperiod.diagnostics.codes import Severity
from photoperiod.diagnostics.model import Diagnostic, Report, SourceRange


def at(line: int, column: int = 1) -> SourceRange:
    return SourceRange(line, column, line, column + 1)


def test_a_diagnostic_takes_name_and_severity_from_its_code() -> None:
    repeated = Diagnostic(code="PHO102", message="twice")
    assert repeated.name == "repeated-key"
    assert repeated.severity is Severity.ERROR
    assert repeated.severity == "error"  # the text of files and outputs
    with pytest.raises(AttributeError):
        repeated.message = "once"  # type: ignore[misc]


def test_an_accepted_finding_is_the_same_finding() -> None:
    finding = Diagnostic(code="PHO102", message="twice", path=("a",), help="remove one")
    accepted = finding.accept("it is meant")
    assert accepted.severity is Severity.ACCEPTED
    assert accepted.accepted == "it is meant"
    assert (accepted.code, accepted.path, accepted.help) == ("PHO102", ("a",), "remove one")
    assert finding.severity is Severity.ERROR


class Places:
    """Puts everything at one line."""

    def place(self, diagnostic: Diagnostic) -> Diagnostic:
        return Diagnostic(
            code=diagnostic.code, message=diagnostic.message, source_range=at(len(diagnostic.path))
        )


def test_a_report_fills_in_places_and_keeps_one_of_equal_findings() -> None:
    report = Report("test.yaml")
    a, b = (Diagnostic(code="PHO102", message="twice", path=(key,)) for key in "ab")
    report.add([a, b], Places())  # two aliases of one value: the same place
    report.add([a], Places())
    assert [d.source_range for d in report] == [at(1)]
    report.add([a, b])  # without a place nobody knows whether they are the same
    assert len(report.diagnostics) == 3


def test_a_report_is_in_the_order_of_the_file_the_most_severe_first() -> None:
    report = Report("test.yaml")
    report.add(
        [
            Diagnostic(code="PHO324", message="a note", source_range=at(2)),
            Diagnostic(code="PHO102", message="b", source_range=at(2)),
            Diagnostic(code="PHO101", message="c", source_range=at(2)),
            Diagnostic(code="PHO102", message="a", source_range=at(2)),
            Diagnostic(code="PHO102", message="first", source_range=at(1, 7)),
            Diagnostic(code="PHO102", message="nowhere"),
        ]
    )
    assert [d.message for d in report] == ["nowhere", "first", "c", "a", "b", "a note"]


def test_a_report_counts() -> None:
    report = Report("test.yaml")
    assert not report.has_errors
    error = Diagnostic(code="PHO102", message="twice", source_range=at(1))
    report.add([error.accept("meant")])
    assert not report.has_errors
    copy = report.copy()
    copy.add([Diagnostic(code="PHO101", message="x", source_range=at(3))])
    copy.add([error])  # the same code, place and message
    assert copy.has_errors and not report.has_errors
    assert {severity: copy.count(severity) for severity in Severity} == {
        Severity.ERROR: 1,
        Severity.WARNING: 0,
        Severity.ACCEPTED: 1,
        Severity.NOTE: 0,
    }


def test_a_report_without_a_code_leaves_the_first_as_it_is() -> None:
    report = Report("tank.yaml")
    report.add([Diagnostic(code="PHO102", message="twice"), Diagnostic(code="PHO432", message="3")])
    assert [each.code for each in report.without("PHO432")] == ["PHO102"]
    assert len(list(report)) == 2
