"""Volts that stand behind an open relay."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.compare.logs import Compare, codes, log


def test_volts_behind_an_open_relay_are_noted(table: Path, compare: Compare) -> None:
    """From 2 to 4 o'clock the relay is open, in table and log: two hours of 10 V are no light."""
    night = log(table, lambda n, v, r: (10.0, r) if 7_200 <= n < 14_400 else (v, r))
    code, out, _ = compare(night)
    assert (code, codes(out)) == (0, ["PHO620"])
    found = re.search(
        r"blue: up to ([0-9.]+) V behind an open relay, for (2 h 0[0-2] min) in all", out
    )
    assert found is not None and found[1] == "10.0"
    assert "first at 2027-03-02T02:00:00-01:00" in out


@pytest.mark.parametrize(
    "most",
    [
        0.29,  # a meter, or a converter that was not measured
        1.0,
    ],
)
def test_few_volts_are_the_meters(table: Path, compare: Compare, most: float) -> None:
    night = log(table, lambda n, v, r: (most, r) if 7_200 <= n < 14_400 else (v, r))
    assert codes(compare(night)[1]) == (["PHO620"] if most > 0.3 else [])


def test_a_slip_of_a_minute_is_none(table: Path, compare: Compare) -> None:
    night = log(table, lambda n, v, r: (10.0, r) if n == 7_200 else (v, r))
    assert codes(compare(night)[1]) == []


def test_volts_behind_a_relay_that_is_closed_are_light(table: Path, compare: Compare) -> None:
    night = log(table, lambda n, v, r: (10.0, True) if 7_200 <= n < 14_400 else (v, r))
    found = codes(compare(night)[1])
    assert "PHO615" in found and "PHO620" not in found
