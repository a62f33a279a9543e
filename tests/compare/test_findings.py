"""A whole log compared with a table: each fault is named once."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.compare.findings import _merged
from photoperiod.compare.model import Finding
from tests.compare.logs import (
    Compare,
    Fault,
    codes,
    log,
)


def test_a_day_as_planned_has_nothing_to_say(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table))
    assert code == 0 and codes(out) == []
    # the worked path of the plan: 80 % from 10:00 to 20:00 and ramps of an hour: 8.8 hours, DLI 4.118
    assert "blue: 8.7" in out and "crest: 4.0" in out and "(+0.0 %)" in out


@pytest.mark.parametrize(
    ("fault", "expected", "words"),
    [
        # 7 % less volts on a square law: 1 − 0.93² = 13.5 % less light
        (lambda n, v, r: (v * 0.93, r), ["PHO601", "PHO602", "PHO602"], "13.5 % less"),
        # off from 12:00 to 14:47 of the plan: 167 minutes
        (lambda n, v, r: None if 43_200 < n < 53_200 else (v, r), ["PHO603"],
         "nothing logged for 2 h 47 min in 1 gap"),
        (lambda n, v, r: (3.0, r) if n < 38_000 else (v, r), ["PHO602", "PHO602", "PHO606"],
         "stuck at 9.0 % light"),
        (lambda n, v, r: (v, True), ["PHO607"], "relay closed where the table has it open"),
        (lambda n, v, r: (v, r and not 43_200 <= n < 46_800), ["PHO601", "PHO602", "PHO602", "PHO607"],
         "relay open where the table has it closed, first at 2027-03-02T12:00:00-01:00;"
         " otherwise than the table for 1 h 00 min"),
    ],
)  # fmt: skip
def test_each_fault_is_named(
    table: Path, compare: Compare, fault: Fault, expected: list[str], words: str
) -> None:
    code, out, _ = compare(log(table, fault))
    assert code == 1
    assert codes(out) == expected
    assert words in out


def test_findings_with_one_text_become_one_and_notes_come_last() -> None:
    found = _merged(
        [
            Finding("PHO609", "", "start", is_warning=False),
            Finding("PHO603", "blue", "nothing logged"),
            Finding("PHO601", "white", "off"),
            Finding("PHO603", "white", "nothing logged"),
        ]
    )
    assert found == (
        Finding("PHO601", "white", "off"),
        Finding("PHO603", "blue, white", "nothing logged"),
        Finding("PHO609", "", "start", is_warning=False),
    )
