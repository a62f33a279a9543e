from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.conftest import Run
from tests.upkeep.bench import SQUARE, USUAL


def file(tmp_path: Path, **changes: object) -> Path:
    path = tmp_path / "tank.yaml"
    keys = {"a": ", fitted: 2027-01-01, replace_after_months: 9"}
    path.write_text(SQUARE.format(**(USUAL | keys | changes)), encoding="utf-8")
    return path


def test_five_years_in_one_command(run: Run, tmp_path: Path) -> None:
    code, out, _ = run("tubes", file(tmp_path), "--from", "2027-01-01")
    assert code == 0
    assert "2027-01-01 to 2031-12-31 (1,826 dates)" in out
    assert "2027-10-01 by months" in out
    assert "all at once" in out


def test_json_and_years(run: Run, tmp_path: Path) -> None:
    code, out, _ = run(
        "tubes", file(tmp_path), "--from", "2028-02-29", "--years", "1", "--format", "json",
        "--no-policies",
    )  # fmt: skip
    assert code == 0
    data = json.loads(out)
    assert (data["from_date"], data["to_date"]) == ("2028-02-29", "2029-02-28")
    assert data["policies"] == []


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ((), "--from"), (("--from", "soon"), "is not a date"),
        (("--from", "2027-01-01", "--years", "0"), "--years"),
        (("--from", "2027-01-01", "--years", "2.5"), "is not a whole number"),
        (("--from", "2027-01-01", "--ledger", "-"), "--ledger names a file"),
    ],
)  # fmt: skip
def test_wrong_use(run: Run, tmp_path: Path, args: tuple[str, ...], words: str) -> None:
    code, _, err = run("tubes", file(tmp_path), *args)
    assert code == 2
    assert words in err


def test_a_ledger_of_another_tank_is_refused(run: Run, tmp_path: Path) -> None:
    tank, book = file(tmp_path), tmp_path / "book.json"
    code, _, _ = run("compile", tank, "--from", "2027-01-01", "--to", "2027-01-31", "-o", tmp_path / "out",
                     "--ledger", book)  # fmt: skip
    assert code == 0
    tank.write_text(
        tank.read_text(encoding="utf-8").replace("tank: bench", "tank: other"), encoding="utf-8"
    )
    code, _, err = run("tubes", tank, "--from", "2027-02-01", "--years", "1", "--ledger", book)
    assert code == 4
    assert "it belongs to the tank 'bench', not to 'other'" in err


def test_faults_of_the_schedule_are_told(run: Run, tmp_path: Path) -> None:
    code, _, err = run("tubes", file(tmp_path, light=101), "--from", "2027-01-01")
    assert code == 1
    assert "PHO205" in err
