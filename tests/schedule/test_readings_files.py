"""Files of readings that a schedule names."""

from __future__ import annotations

import pytest

from photoperiod.readings.faults import Faults
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.readings_files import ReadingsFiles, check_digest, files_named


@pytest.mark.parametrize(
    "data", [None, [], {}, {"channels": 3}, {"channels": {"a": 3}},
             {"channels": {"a": {"full_ppfd": []}}}, {"channels": {"a": {"full_ppfd": {"readings": 3}}}}]
)  # fmt: skip
def test_files_are_looked_for_in_any_data(data: object) -> None:
    assert files_named(data) == {}


def test_files_have_their_first_place() -> None:
    data = {"channels": {i: {"full_ppfd": {"readings": "m.csv"}} for i in ("a", "b")}}
    assert files_named(data) == {"m.csv": ("channels", "a", "full_ppfd", "readings")}


def test_sweeps_of_ballasts_are_files_too() -> None:
    data = {
        "ballasts": {i: {"response": {"readings": "s.csv"}} for i in ("p", "q")},
        "channels": {"a": {"full_ppfd": {"readings": "m.csv"}}},
    }
    assert files_named(data) == {
        "s.csv": ("ballasts", "p", "response", "readings"),
        "m.csv": ("channels", "a", "full_ppfd", "readings"),
    }


def test_bytes_or_why_not() -> None:
    findings = Findings()
    files = ReadingsFiles({"a.csv": b"x", "b.csv": "is a folder"}, findings)
    assert files.bytes_of("a.csv", ("x",)) == b"x"
    for name, why in (("b.csv", "is a folder"), ("c.csv", "it was not given")):
        with pytest.raises(AlreadyReported):
            files.bytes_of(name, ("x",))
        assert (findings[-1].code, findings[-1].path) == ("PHO901", ("x",))
        assert why in findings[-1].message


def test_findings_on_a_file_are_told_where_it_is_named() -> None:
    findings, faults = Findings(), Faults()
    faults.add("PHO909", None, "corrected", "look")
    ReadingsFiles({}, findings).tell("a.csv", faults, ("here",))
    (each,) = findings
    assert (each.code, each.path, each.message, each.help) == (
        "PHO909", ("here",), "a.csv:1:1: corrected", "look",
    )  # fmt: skip


@pytest.mark.parametrize(("written", "count"), [({}, 0), ({"readings_sha256": "ab"}, 0),
                                                ({"readings_sha256": "cd"}, 1)])  # fmt: skip
def test_a_digest_is_held_against_the_file(written: dict[str, str], count: int) -> None:
    findings = Findings()
    check_digest(Cursor(written, (), frozenset()), "a.csv", "ab", findings)
    assert [each.code for each in findings] == ["PHO910"] * count
