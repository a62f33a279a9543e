"""Doses of channels and zones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare.clock_drift import RIGHT
from photoperiod.compare.doses import dose_findings, result_of, zone_results
from photoperiod.compare.expected import Expected, LoggedLight
from photoperiod.compare.model import Limits, Result
from photoperiod.formats.table import read_table
from tests.compare.logs import (
    SPAN,
    START,
    Compare,
    log,
)


def test_the_ppfd_of_a_zone_is_judged_by_its_dose(table: Path, compare: Compare) -> None:
    # 130 µmol m⁻² s⁻¹ at full, square law from 1 % at 1 V: light = (volts / 10)²
    def meter(fade: float) -> str:
        lines = log(table, lambda n, v, r: ((v / 10) ** 2 * 130 * fade if r else 0.0, r))
        return lines.replace("blue_volts,blue_relay", "crest_ppfd,lamp")

    assert compare(meter(1.0))[0] == 0
    code, out, _ = compare(meter(0.9))
    assert code == 1 and "PHO602" in out and "10.0 % less" in out


def light(
    minutes: list[float], values: list[float], *, holds: bool, is_zone: bool = False
) -> LoggedLight:
    """A light from midnight on, where 0.5 is expected at all times."""
    return LoggedLight(
        subject="blue",
        is_zone=is_zone,
        scale=1.0,
        holds=holds,
        unix_s=START.timestamp() + 60 * np.array(minutes),
        values=np.array(values),
        expected=lambda unix_s: np.full(unix_s.shape, 0.5),
    )


@pytest.fixture(scope="module")
def result(table: Path) -> Callable[[LoggedLight], Result]:
    held = read_table("table.json", table.read_bytes())
    expected = Expected(held, held.clock(None))

    def result_of_light(one: LoggedLight) -> Result:
        return result_of(expected, one, Limits(), RIGHT, np.abs(one.values - 0.5))

    return result_of_light


def test_a_dose_by_hand(result: Callable[[LoggedLight], Result]) -> None:
    # Levels that are held: 6 min at 0.4 and 6 min at 0.8. The last record has no length.
    held = result(light([0, 6, 12], [0.4, 0.8, 0.1], holds=True))
    assert held.given == pytest.approx(0.1 * 0.4 + 0.1 * 0.8)
    assert held.planned == pytest.approx(0.2 * 0.5)
    assert (held.covered_s, held.worst, held.unit) == (720, pytest.approx(0.4), "full-light hours")
    assert held.worst_unix_s == START.timestamp() + 720
    # A meter: the middle of two readings, 0.6 and 0.45.
    read = result(light([0, 6, 12], [0.4, 0.8, 0.1], holds=False))
    assert read.given == pytest.approx(0.1 * 0.6 + 0.1 * 0.45)
    # A record that is held, then a reading: 0.4, and the middle of 0.8 and 0.1.
    mixed = replace(light([0, 6, 12], [0.4, 0.8, 0.1], holds=True),
                    holds=np.array([True, False, True]))  # fmt: skip
    assert result(mixed).given == pytest.approx(0.1 * 0.4 + 0.1 * 0.45)


def test_a_gap_counts_for_neither_dose(result: Callable[[LoggedLight], Result]) -> None:
    # 10 min is the longest that counts; 10 min 1 s is a gap.
    one = result(light([0, 10, 20 + 1 / 60, 21], [0.5, 0.9, 0.5, 0.5], holds=True))
    assert one.covered_s == pytest.approx(600 + 59)
    assert one.given == pytest.approx(0.5 * 659 / 3600) and one.planned == pytest.approx(one.given)


def test_a_dose_belongs_to_the_date_of_its_record(result: Callable[[LoggedLight], Result]) -> None:
    one = result(light([1430, 1440, 1450], [0.6, 0.3, 0.3], holds=True))
    dates = {date.isoformat(): values for date, values in one.by_date.items()}
    assert dates == {
        "2027-03-02": pytest.approx((0.1, 0.5 / 6, 600)),
        "2027-03-03": pytest.approx((0.05, 0.5 / 6, 600)),
    }


def channel(given: float, planned: float, subject: str = "blue") -> Result:
    return Result(subject=subject, is_zone=False, unit="full-light hours", covered_s=3600.0, given=given,
                  planned=planned, worst=0.0, worst_unix_s=0.0,
                  by_date={SPAN.first: (given, planned, 3600.0)})  # fmt: skip


def test_the_dose_of_a_zone_follows_from_its_channels(table: Path) -> None:
    held = read_table("table.json", table.read_bytes())
    (zone,) = zone_results(held, [channel(8.0, 8.8)])
    # 130 µmol m⁻² s⁻¹ × 3600 s ÷ 10⁶ = 0.468 mol m⁻² in an hour at full
    assert (zone.subject, zone.unit) == ("crest", "mol m⁻²")
    assert zone.given == pytest.approx(8.0 * 0.468) and zone.planned == pytest.approx(8.8 * 0.468)
    assert zone.by_date == {SPAN.first: pytest.approx((8.0 * 0.468, 8.8 * 0.468, 3600.0))}
    assert list(zone_results(held, [channel(8.0, 8.8, "white")])) == []


@pytest.mark.parametrize(
    ("given", "words"),
    [(7.52, "6.0 % less"), (7.68, ""), (8.32, ""), (8.48, "6.0 % more")],
)
def test_a_dose_beyond_the_limit_of_5_percent(given: float, words: str) -> None:
    found = list(dose_findings([channel(given, 8.0)], Limits()))
    assert [(one.code, one.subject) for one in found] == ([("PHO602", "blue")] if words else [])
    assert all(words in one.message for one in found)
