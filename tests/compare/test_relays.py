"""Relays that are not as the table has them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.clock_drift import RIGHT, ClockShift
from photoperiod.compare.expected import Expected
from photoperiod.compare.log_model import Log, Quantity, Series
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
        " the table for 0 h 16 min in all"
    )
    (found,) = findings(expected, [0] * 16, 12 * 3600)
    assert found.message.startswith("relay open where the table has it closed")


def test_each_record_counts(expected: Expected) -> None:
    """Nine minutes in the night, three minutes of an hour, a single record: a relay has no noise."""
    nights = [0] * 30
    for length in (1, 3, 9):
        nights[5 : 5 + length] = [1] * length
        (found,) = findings(expected, nights, 2 * 3600)
        assert "first at 2027-03-02T02:05:00-01:00" in found.message
        seconds = f"0 h {length:02d} min"
        assert f"otherwise than the table for {seconds} in all" in found.message


def test_a_record_at_a_step_may_be_late(expected: Expected) -> None:
    assert findings(expected, [1, 1, 0, 0], OPENS_S - 60) == []  # closed until 21:00, a minute late
    assert findings(expected, [1, 1, 1, 1], OPENS_S) != []


def test_the_clock_is_allowed_for(expected: Expected) -> None:
    """A log whose clock is an hour behind shows the relay closed until 20:00, by its own time."""
    values = [1] * 60 + [0] * 60
    first_s = OPENS_S - 2 * 3600
    assert findings(expected, values, first_s)
    assert findings(expected, values, first_s, ClockShift(np.zeros(1), np.array([3600.0]))) == []
    assert findings(expected, values, first_s, ClockShift(np.zeros(1), np.array([-3600.0])))


def test_of_a_gap_no_more_counts_than_is_known(expected: Expected) -> None:
    (found,) = findings(expected, [1, 1, 1], 2 * 3600, step_s=3600)
    assert "for 0 h 30 min in all" in found.message  # ten minutes each, --gap-minutes
