from __future__ import annotations

import pytest

from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import FileFindings, Findings, attempt

TOP = Cursor({"tubes": {"blue-a": {}, "blue-b": 5}}, (), frozenset({("tubes", "blue-b")}))


def test_findings_stand_in_the_order_in_which_they_were_added() -> None:
    findings = Findings()
    findings.add("PHO324", ("a",), "a default")
    assert not findings.has_errors, "a note stands in nobody's way"
    findings.add("PHO303", ("b",), "out of order", on_key=True)
    assert findings.has_errors
    assert [(f.code, f.path, f.on_key) for f in findings] == [
        ("PHO324", ("a",), False),
        ("PHO303", ("b",), True),
    ]


@pytest.mark.parametrize("is_faulty", [True, False])
def test_errors_of_an_earlier_stage_count(is_faulty: bool) -> None:
    assert FileFindings(TOP, is_faulty=is_faulty).has_errors is is_faulty


def test_a_known_id_is_no_finding_even_if_its_entry_is_faulty() -> None:
    findings = FileFindings(TOP, is_faulty=False)
    assert findings.knows("blue-a", "tubes", ("x",))
    assert findings.knows("blue-b", "tubes", ("x",))
    assert findings == []


def test_an_unknown_id_is_reported_with_a_guess() -> None:
    findings = FileFindings(TOP, is_faulty=False)
    assert not findings.knows("blue-aa", "tubes", ("channels", "blue", "tubes", 0))
    (found,) = findings
    assert (found.code, found.path) == ("PHO301", ("channels", "blue", "tubes", 0))
    assert found.message == "there is no tube 'blue-aa'" and "'blue-a'" in found.help


def test_an_unknown_id_like_a_faulty_one_has_been_reported() -> None:
    findings = FileFindings(TOP, is_faulty=False)
    assert not findings.knows("blue-bb", "tubes", ("x",))
    assert findings == []


def test_nothing_is_known_of_a_faulty_section() -> None:
    top = Cursor({"zones": 5}, (), frozenset({("zones",)}))
    findings = FileFindings(top, is_faulty=False)
    assert not findings.knows("crest", "zones", ("x",))
    assert findings == []


def test_an_attempt_fails_at_faulty_values_only() -> None:
    def fail(error: Exception) -> None:
        raise error

    assert attempt(lambda: 5) == 5
    assert attempt(lambda: fail(AlreadyReported())) is None
    with pytest.raises(KeyError):
        attempt(lambda: fail(KeyError()))
