"""A ballast whose response stands in a file of readings."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from photoperiod.api import ScheduleError, load
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.ballast import ResponseKind
from tests.conftest import changed
from tests.readings.bench import csv

#: Square law, 1 % up to 1 V, full from 10 V.
ROWS = tuple(f"{v / 2},{200 * max(v / 20, 0.1) ** 2:.4f}" for v in range(1, 21))
HEAD = "volts,ppfd_umol_m2_s"
SWEPT = ("{kind: square-law}", "{kind: swept, readings: sweep.csv}")


def given(tmp_path: Path, *changes: tuple[str, str], rows: tuple[str, ...] = ROWS) -> Path:
    (tmp_path / "sweep.csv").write_bytes(csv(*rows, head=HEAD))
    path = tmp_path / "tank.yaml"
    path.write_text(changed(*changes), encoding="utf-8")
    return path


def faults_of(path: Path) -> tuple[Diagnostic, ...]:
    with pytest.raises(ScheduleError) as raised:
        load(path)
    return raised.value.findings


def test_the_curve_is_that_of_the_file(tmp_path: Path) -> None:
    schedule = load(given(tmp_path, SWEPT)).schedule
    curve = schedule.ballasts["pair"].curve
    assert curve.kind is ResponseKind.MEASURED
    assert (curve.volts[0], curve.light[0]) == (1.0, 0.01)
    assert (curve.volts[-1], curve.light[-1]) == (10.0, 1.0)
    # by hand: 5 V is a quarter of the light
    assert curve.light[curve.volts.index(5.0)] == pytest.approx(0.25)
    raw = (tmp_path / "sweep.csv").read_bytes()
    assert schedule.readings_digests == {"sweep.csv": hashlib.sha256(raw).hexdigest()}


def test_a_sweep_with_another_floor_says_what_to_write(tmp_path: Path) -> None:
    path = given(tmp_path, SWEPT, ("floor: {volts: 1.0,", "floor: {volts: 1.2,"))
    (fault,) = faults_of(path)
    assert (fault.code, fault.path[-1]) == ("PHO313", "readings")
    assert fault.help == "write `floor: {volts: 1, light_percent: 1}` and `full_volts: 10`"


@pytest.mark.parametrize(
    ("rows", "code", "words"),
    [
        ((*ROWS[:5], "x,1", *ROWS[5:]), "PHO904", "sweep.csv:7:1: 'x' is not a number"),
        ((*ROWS, *(f"{v / 2},{30 + 8 * v}" for v in range(1, 21))), "PHO912", "differ by"),
        (ROWS[:3], "PHO908", "a curve needs 4"),
    ],
)
def test_a_file_that_tells_no_curve_is_told_at_its_name(
    tmp_path: Path, rows: tuple[str, ...], code: str, words: str
) -> None:
    found = faults_of(given(tmp_path, SWEPT, rows=rows))
    assert {each.code for each in found} == {code}
    assert words in found[0].message
    assert found[0].path == ("ballasts", "pair", "response", "readings")


def test_a_sweep_that_is_not_there_or_was_changed(tmp_path: Path) -> None:
    path = given(tmp_path, (SWEPT[0], "{kind: swept, readings: gone.csv}"))
    assert [each.code for each in faults_of(path)] == ["PHO901"]
    digest = "0" * 64
    path = given(
        tmp_path, (SWEPT[0], f"{{kind: swept, readings: sweep.csv, readings_sha256: '{digest}'}}")
    )
    assert [each.code for each in faults_of(path)] == ["PHO910"]
