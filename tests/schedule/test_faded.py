"""A tube whose loss of light stands in a file of readings."""

from __future__ import annotations

import hashlib
import math
from pathlib import Path

import pytest

from photoperiod.api import ScheduleError, load
from photoperiod.schedule.model import Schedule
from tests.conftest import changed
from tests.readings.bench import csv

HEAD = "lit_hours,ppfd_umol_m2_s"
#: e^(−αt) with α = 1.317e-5 h⁻¹: 0.90 of the light is left after 8,000 h.
ALPHA_PER_H = 1.317e-5
ROWS = tuple(f"{h},{120 * math.exp(-ALPHA_PER_H * h):.6f}" for h in range(100, 4100, 400))
SERIES = ("{watts: 54}", "{watts: 54, depreciation: {kind: series, readings: series.csv}}")


def given(tmp_path: Path, *changes: tuple[str, str], rows: tuple[str, ...] = ROWS) -> Path:
    (tmp_path / "series.csv").write_bytes(csv(*rows, head=HEAD))
    path = tmp_path / "tank.yaml"
    path.write_text(changed(*changes), encoding="utf-8")
    return path


def loaded(path: Path) -> Schedule:
    return load(path).schedule


def test_the_loss_is_that_of_the_readings(tmp_path: Path) -> None:
    schedule = loaded(given(tmp_path, SERIES))
    fade = schedule.tubes["blue-a"].depreciation
    assert fade is not None
    assert fade.loss_per_1000_h == pytest.approx(1 - math.exp(-1000 * ALPHA_PER_H), rel=1e-4)
    # IES TM-21: forecasts reach six times as far as the readings: 100 h + 6 × 3,600 h
    assert fade.measured_to_h == 100 + 6 * 3600
    raw = (tmp_path / "series.csv").read_bytes()
    assert schedule.readings_digests == {"series.csv": hashlib.sha256(raw).hexdigest()}


def test_readings_that_show_no_loss_tell_nothing(tmp_path: Path) -> None:
    rows = ("100,120", "500,121", "900,119", "1300,120.5", "1700,120")
    fade = loaded(given(tmp_path, SERIES, rows=rows)).tubes["blue-a"].depreciation
    assert fade is not None and fade.measured_to_h == 0
    assert fade.hours_at(0.9) is None


@pytest.mark.parametrize(
    ("rows", "change", "code"),
    [
        (("100,120",), SERIES, "PHO908"),
        (ROWS, ("{watts: 54}", "{watts: 54, depreciation: {kind: series, readings: none.csv}}"), "PHO901"),
        (ROWS, ("{watts: 54}", "{watts: 54, depreciation: {kind: series, readings: series.csv,"
                f" readings_sha256: {'a' * 64}}}}}"), "PHO910"),
    ],
)  # fmt: skip
def test_a_file_that_does_not_do_is_told(
    tmp_path: Path, rows: tuple[str, ...], change: tuple[str, str], code: str
) -> None:
    with pytest.raises(ScheduleError) as raised:
        load(given(tmp_path, change, rows=rows))
    assert code in {d.code for d in raised.value.findings}
