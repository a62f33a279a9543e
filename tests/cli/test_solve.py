"""``photoperiod solve``."""

from __future__ import annotations

import json
from pathlib import Path

import yaml

from photoperiod.source.json_schema import validate
from tests.conftest import ROOT, SCHEDULE, Run
from tests.solve.schedules import COARSE, asked

#: A seed whose table hangs on the third decimal of a percent.
FINE = 12

EXAMPLE = ROOT / "examples" / "asked-dose.yaml"


def test_it_prints_lines_to_paste_and_changes_nothing(run: Run) -> None:
    before = EXAMPLE.read_bytes()
    code, out, err = run("solve", EXAMPLE)
    assert code == 0
    assert out.startswith("# zone shelf asks for 7.5 ± ")
    above, _, _ = out.partition("\nchannels:\n")
    assert "in place of that of the same channel" in above.splitlines()[-1]
    assert set(yaml.safe_load(out)["channels"]) == {"blue", "white"}
    assert EXAMPLE.read_bytes() == before
    assert "error" not in err


def test_light_that_must_be_typed_with_all_decimals_is_said_to(run: Run, tmp_path: Path) -> None:
    said = "type all decimals of `light_percent`"
    assert said not in run("solve", EXAMPLE)[1]
    file = tmp_path / "asked.yaml"
    file.write_text(asked(FINE).text, encoding="utf-8")
    assert said in run("solve", file)[1]


def test_compile_finds_the_same_and_all_outputs_say_so(run: Run, tmp_path: Path) -> None:
    printed = [line for line in run("solve", EXAMPLE)[1].splitlines() if not line.startswith("#")]
    code, out, _ = run("compile", EXAMPLE, "-o", tmp_path / "out")
    assert code == 0
    assert "FOUND\n  zone shelf asks for 7.5" in out
    summary = json.loads((tmp_path / "out" / "summary.json").read_bytes())
    assert validate(summary, "summary")[0] == []
    assert summary["found"]["lines_to_paste"] == printed
    (dose,) = summary["found"]["doses"]
    got = summary["tables"][0]["zones"]["shelf"]["dli_mol_m2_d"]["replay"]
    assert abs(dose["dli_mol_m2_d"] - got) < 1e-4
    table = json.loads((tmp_path / "out" / "table.json").read_bytes())
    assert validate(table, "table")[0] == []
    assert table["found"][0].startswith("zone shelf asks for 7.5")
    sheet = (tmp_path / "out" / "typing-sheet.txt").read_text(encoding="utf-8")
    assert "Zone shelf asks for 7.5" in sheet
    code, out, _ = run("replay", tmp_path / "out" / "table.json", "--at", "13:00")
    assert code == 0


def test_programs_get_json_by_its_schema(run: Run) -> None:
    code, out, _ = run("solve", EXAMPLE, "--format", "json")
    assert code == 0
    data = json.loads(out)
    assert validate(data, "solve")[0] == []
    printed = [line for line in run("solve", EXAMPLE)[1].splitlines() if not line.startswith("#")]
    assert data["lines_to_paste"] == printed
    (dose,) = data["doses"]
    assert abs(dose["dli_mol_m2_d"] - 7.5) <= dose["within_mol_m2_d"]
    del data["doses"]
    assert validate(data, "solve")[0] != []


def test_what_can_not_be_is_refused_and_nothing_is_written(run: Run, tmp_path: Path) -> None:
    text = asked(COARSE).text
    file = tmp_path / "asked.yaml"
    file.write_text(text, encoding="utf-8")
    code, out, err = run("solve", file)
    assert (code, out) == (1, "")
    assert "PHO803 dose-not-found" in err and f"{file}:22:" in err
    code, _, err = run("compile", file, "-o", tmp_path / "out")
    assert code == 1 and "nothing was written" in err
    assert not (tmp_path / "out").exists()


def test_a_file_that_asks_for_nothing_is_wrong_use(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "plain.yaml"
    file.write_text(SCHEDULE, encoding="utf-8")
    code, out, err = run("solve", file)
    assert (code, out) == (2, "")
    assert "wanted_dli" in err


def test_doses_with_and_without_changes_are_told_apart(run: Run, tmp_path: Path) -> None:
    # Four weeks from 60 % of 7.5: the first week's dose is 4.5
    change = (
        "{kind: acclimation, zones: [shelf], from_date: 2027-04-01, over_days: 28,"
        " from_dose_percent: 60}"
    )
    tank = tmp_path / "tank.yaml"
    tank.write_text(
        f"{EXAMPLE.read_text(encoding='utf-8')}changes:\n  - {change}\n", encoding="utf-8"
    )
    out = run("solve", tank, "--date", "2027-04-01")[1]
    assert "on dates on which no change acts" in out.splitlines()[0]
    told = "The doses told for dates are those with the changes; what a zone asks for was found without"
    code, out, _ = run("compile", tank, "--date", "2027-04-01", "-o", tmp_path / "out")
    assert (code, told in out, "on dates on which no change acts" in out) == (0, True, True)
    assert run("report", tank, "--date", "2027-04-01", "-o", tmp_path / "tank.html")[0] == 0
    page = (tmp_path / "tank.html").read_text(encoding="utf-8")
    assert told in page and "on dates on which no change acts" in page
    # Where no change acts, nothing is said of the summary's doses
    assert told not in run("compile", tank, "--date", "2027-03-01", "-o", tmp_path / "out")[1]
