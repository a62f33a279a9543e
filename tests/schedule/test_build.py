"""The whole stage: one mistake gives one message, and other faults are still found."""

from __future__ import annotations

import subprocess
import sys

import pytest

from photoperiod.diagnostics.model import Path
from photoperiod.schedule.build import build_schedule
from photoperiod.source.document import read_text
from tests.conftest import SCHEDULE, changed


def build(
    text: str, *bad: Path, is_faulty: bool = False
) -> tuple[bool, list[tuple[str, Path]], str]:
    """Return whether there is a schedule, the findings on it, and its digest."""
    document = read_text("test.yaml", text.encode())
    schedule, findings = build_schedule(document, set(bad), is_faulty=is_faulty)
    told = [(each.code, each.path) for each in findings]
    return schedule is not None, told, "" if schedule is None else schedule.digest


def test_a_file_without_a_fault() -> None:
    import hashlib

    assert build(SCHEDULE) == (True, [], hashlib.sha256(SCHEDULE.encode()).hexdigest())


def test_no_schedule_comes_of_a_file_with_a_fault_elsewhere() -> None:
    assert build(SCHEDULE, is_faulty=True) == (False, [], "")
    assert build(SCHEDULE, ("title",)) == (False, [], "")
    assert build(SCHEDULE, ()) == (False, [], "")
    assert build("[1, 2]") == (False, [], "")


@pytest.mark.parametrize(
    "bad",
    [
        ("ballasts", "pair"),
        ("ballasts", "pair", "floor"),
        ("tubes", "blue-a", "watts"),
        ("zones", "crest", "dli"),
        ("channels", "blue", "day", "dawn", "start"),
        ("controller", "relay"),
    ],
)
def test_a_fault_that_was_reported_gives_no_second_message(bad: Path) -> None:
    assert build(SCHEDULE, bad)[1] == []


def test_every_fault_is_found_at_once() -> None:
    text = changed(
        ("floor: {volts: 1.0", "floor: {volts: 10.0"),
        ("dli: [3, 5]", "dli: [5, 3]"),
        ("end: 21:00, minutes: 60", "end: 09:00, minutes: 60"),
        ("tubes: [blue-a]", "tubes: [blue-c]"),
    )
    _, found, _ = build(text)
    assert {code for code, _ in found} == {"PHO308", "PHO319", "PHO305", "PHO301"}


def test_a_file_with_a_fault_of_shape_is_answered_without_numpy() -> None:
    code = (
        "import sys; from photoperiod.api import ScheduleError, load_text\n"
        "try:\n    load_text('x', sys.stdin.buffer.read())\n"
        "except ScheduleError as fault:\n"
        "    print(len(fault.report.diagnostics), 'numpy' in sys.modules)"
    )
    text = changed(("between: line", "between: lines"))
    done = subprocess.run(
        [sys.executable, "-c", code], input=text.encode(), capture_output=True, check=True
    )
    assert done.stdout.split() == [b"1", b"False"]
