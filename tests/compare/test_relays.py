"""Relays that are not as the table has them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.clock_drift import RIGHT, ClockShift
from photoperiod.compare.expected import Expected
from photoperiod.compare.log_reader import Log, Quantity, Series
from photoperiod.compare.model import Finding, Limits
from photoperiod.compare.relays import relay_findings
from photoperiod.formats.table import read_table
from tests.compare.logs import (
    START,
    rows,
)

#: The table closes the relay at 09:00 and opens it at 21:00; a record may be 60 s early or late.
OPENS_S = 21 * 3600


@pytest.fixture(scope="module")
def expected(table: Path) -> Expected:
    held = read_table("table.json", table.read_bytes())
    closed = [row[0] for row in rows(table) if row[2]]
    assert 9 * 3600 - 120 <= min(closed) <= 9 * 3600 + 120
    return Expected(held, held.clock(None))


def findings(
    expected: Expected, values: list[int], first_s: int, shift: ClockShift = RIGHT, step_s: int = 60
) -> list[Finding]:
    unix_s = START.timestamp() + first_s + step_s * np.arange(len(values), dtype=float)
    series = Series("blue", Quantity.RELAY, unix_s, np.array(values, dtype=float))
    return list(
        relay_findings(expected, Log(series={("blue", Quantity.RELAY): series}), Limits(), shift)
    )


def test_a_relay_that_stays_closed_in_the_night(expected: Expected) -> None:
    (found,) = findings(expected, [1] * 16, 2 * 3600)
    assert (found.code, found.subject) == ("PHO607", "blue")
    assert found.message == (
        "relay closed where the table has it open, first at 2027-03-02T02:00:00-01:00; otherwise than"
        " the table for 0 h 15 min in all"
    )
    (found,) = findings(expected, [0] * 16, 12 * 3600)
    assert found.message.startswith("relay open where the table has it closed")


@pytest.mark.parametrize(("records", "is_wrong"), [(10, False), (11, True)])
def test_ten_minutes_are_needed(expected: Expected, records: int, is_wrong: bool) -> None:
    """Ten records are nine minutes: the last record has no length."""
    assert bool(findings(expected, [1] * records, 2 * 3600)) is is_wrong


def test_the_clock_is_allowed_for(expected: Expected) -> None:
    """A log whose clock is an hour behind shows the relay closed until 20:00, by its own time."""
    values = [1] * 60 + [0] * 60
    first_s = OPENS_S - 2 * 3600
    assert findings(expected, values, first_s)
    assert findings(expected, values, first_s, ClockShift(np.zeros(1), np.array([3600.0]))) == []
    assert findings(expected, values, first_s, ClockShift(np.zeros(1), np.array([-3600.0])))


def test_a_gap_does_not_count(expected: Expected) -> None:
    assert findings(expected, [1, 1, 1], 2 * 3600, step_s=601) == []
    assert findings(expected, [1, 1, 1], 2 * 3600, step_s=600) != []
