"""Spectra of channels and action spectra, from the file to the summary."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.api import ScheduleError, compile, load
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats import summary_json
from photoperiod.report.summary import render_summary
from photoperiod.source.json_schema import validate
from tests.conftest import changed

FULL = "full_ppfd: {zones: {crest: 130}}"
LED = "{kind: led, centre_nm: 450, width_nm: 5}"
ACTION = 'action_spectrum: {weights: w.csv, source: "Nobody, 1999, no table"}\nzones:'


def given(tmp_path: Path, spectrum: str, top: str = "zones:", **files: str) -> Path:
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    path = tmp_path / "tank.yaml"
    path.write_text(
        changed(
            (FULL, f"{FULL}\n    spectrum: {spectrum}"), ("zones:\n  crest", f"{top}\n  crest")
        ),
        encoding="utf-8",
    )
    return path


def faults_of(path: Path) -> tuple[Diagnostic, ...]:
    with pytest.raises(ScheduleError) as raised:
        load(path)
    return raised.value.findings


def test_an_led(tmp_path: Path) -> None:
    shares = load(given(tmp_path, LED)).schedule.channels["blue"].photon_shares
    assert shares is not None and shares.thirds == pytest.approx((1, 0, 0), abs=1e-9)


def test_an_illuminant(tmp_path: Path) -> None:
    pytest.importorskip("colour")
    path = given(tmp_path, "{kind: illuminant, name: D65}")
    shares = load(path).schedule.channels["blue"].photon_shares
    # daylight is nearly even in photons; light.md has no thirds, so this is a sum alone
    assert shares is not None and sum(shares.thirds) == pytest.approx(1)
    (fault,) = faults_of(given(tmp_path, "{kind: illuminant, name: D-65}"))
    assert (fault.code, fault.path) == ("PHO916", ("channels", "blue", "spectrum", "name"))
    assert "did you mean 'D65'?" in fault.message + fault.help


def test_a_measured_spectrum_and_weights_reach_the_summary(tmp_path: Path) -> None:
    # by hand: even power from 400 to 700 nm has 450, 550 and 650 of 1650 photons; weights of 1/2 make half
    path = given(tmp_path, MEASURED, ACTION, s=SPECTRUM, w=WEIGHTS.replace(",1", ",0.5"))
    compiled = compile(load(path))
    text = render_summary(compiled.program, [])
    assert (
        "crest: 27.3 % of its photons at 400-500 nm, 33.3 % at 500-600, 39.4 % at 600-700; 50 % usable\n"
        "Usable: by the action spectrum of Nobody, 1999, no table\n"
    ) in text
    data = summary_json.summary_data(compiled.program, [])
    assert validate(data, "summary")[0] == []
    assert data["tables"][0]["zones"]["crest"]["photons"] == {
        "without_spectrum": [], "400_500_nm_percent": 27.273, "500_600_nm_percent": 33.333,
        "600_700_nm_percent": 39.394, "usable_percent": 50.0, "usable_by": "Nobody, 1999, no table",
    }  # fmt: skip
    assert set(data["schedule"]["readings"]) == {"s.csv", "w.csv"}


def test_without_spectra_nothing_is_told(tmp_path: Path) -> None:
    (tmp_path / "tank.yaml").write_text(changed(), encoding="utf-8")
    compiled = compile(load(tmp_path / "tank.yaml"))
    assert "photons" not in render_summary(compiled.program, [])
    data = summary_json.summary_data(compiled.program, [])
    assert "photons" not in data["tables"][0]["zones"]["crest"]


SPECTRUM, WEIGHTS = "wavelength_nm,power\n300,2\n800,2\n", "wavelength_nm,weight\n400,1\n700,1\n"
MEASURED = "{kind: measured, readings: s.csv}"


@pytest.mark.parametrize(
    ("spectrum", "top", "s", "w", "code", "path", "words"),
    [
        (MEASURED, "zones:", "wavelength_nm,power\n420,1\n700,1\n", "", "PHO916",
         ("channels", "blue", "spectrum", "readings"), "s.csv:2:1: the spectrum reaches from 420 to 700"),
        (MEASURED, "zones:", SPECTRUM.replace("2\n8", "x\n8"), "", "PHO904",
         ("channels", "blue", "spectrum", "readings"), "s.csv:2:5: 'x' is not a number"),
        ("{kind: measured, readings: gone.csv}", "zones:", "", "", "PHO901",
         ("channels", "blue", "spectrum", "readings"), "can't read 'gone.csv'"),
        (MEASURED[:-1] + ", readings_sha256: " + "a" * 64 + "}", "zones:", SPECTRUM, "", "PHO910",
         ("channels", "blue", "spectrum", "readings_sha256"), "has changed since"),
        ("{kind: led, centre_nm: 800, width_nm: 10}", "zones:", "", "", "PHO916",
         ("channels", "blue", "spectrum"), "hardly any light from 400 to 700 nm"),
        (LED, ACTION, "", WEIGHTS.replace("400,1", "400,1.5"), "PHO916",
         ("action_spectrum", "weights"), "w.csv:1:1: the largest weight is 1.5"),
        (LED, ACTION, "", SPECTRUM, "PHO916", ("action_spectrum", "weights"),
         "w.csv:1:1: the columns are wavelength_nm, power"),
        (LED, ACTION.replace(", 1999", ""), "", WEIGHTS, "PHO206", ("action_spectrum", "source"),
         "does not have the right form"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_once_where_the_schedule_names_it(
    tmp_path: Path,
    spectrum: str,
    top: str,
    s: str,
    w: str,
    code: str,
    path: tuple[str, ...],
    words: str,
) -> None:
    files = {name: text for name, text in (("s", s), ("w", w)) if text}
    (fault,) = faults_of(given(tmp_path, spectrum, top, **files))
    assert (fault.code, fault.path) == (code, path)
    assert words in fault.message


def test_an_action_spectrum_without_spectra_is_told(tmp_path: Path) -> None:
    (tmp_path / "w.csv").write_text(WEIGHTS, encoding="utf-8")
    path = tmp_path / "tank.yaml"
    path.write_text(changed(("zones:\n  crest", f"{ACTION}\n  crest")), encoding="utf-8")
    (note,) = (each for each in load(path).findings if each.code == "PHO318")
    assert note.path == ("action_spectrum",)
