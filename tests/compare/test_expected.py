"""The replay of a table at instants."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.expected import Expected, band, date_of_day
from photoperiod.formats.table import read_table
from tests.compare.logs import (
    START,
)


@pytest.fixture(scope="module")
def expected(table: Path) -> Expected:
    held = read_table("table.json", table.read_bytes())
    return Expected(held, held.clock(None))


def unix_s(*hours: float) -> np.ndarray:
    """Instants on the controller's clock, an hour behind UTC, on the first date of the table."""
    return START.timestamp() + 3600 * np.array(hours)


def test_light_relay_and_ppfd_by_hand(expected: Expected) -> None:
    # 80 % light is 8.944 V; the grid has 89 %, which is code 3645 of 4096 and 8.8989 V.
    light = (3645 / 4096) ** 2
    assert expected.light("blue", unix_s(3, 12)).tolist() == [0, pytest.approx(light, abs=1e-7)]
    assert expected.relay_on("blue", unix_s(3, 12)).tolist() == [0, 1]
    assert expected.ppfd("crest", unix_s(3, 12)) == pytest.approx([0, 130 * light], abs=1e-5)


def test_instants_are_shown_on_the_clock_of_the_controller(expected: Expected) -> None:
    days, seconds = expected.local(unix_s(0, 23.5, 24))
    assert [date_of_day(int(day)).isoformat() for day in days] == [
        "2027-03-02",
        "2027-03-02",
        "2027-03-03",
    ]
    assert seconds.tolist() == [0, 84_600, 0]
    assert expected.time_text(START.timestamp()) == "2027-03-02T00:00:00-01:00"


def test_outside_its_dates_the_first_or_last_table_goes_on(expected: Expected) -> None:
    noon = expected.light("blue", unix_s(12))
    assert expected.light("blue", unix_s(12 - 240, 12 + 240)).tolist() == [*noon, *noon]


def test_a_band_reaches_to_both_sides() -> None:
    low, high = band(lambda at: at**2, np.array([0.0, 100.0]), 60.0)
    assert low.tolist() == [0, 1600] and high.tolist() == [3600, 25_600]
    low, high = band(lambda at: at, np.array([5.0]), 0.0)
    assert (low.tolist(), high.tolist()) == ([5.0], [5.0])
