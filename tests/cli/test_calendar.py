from __future__ import annotations

from pathlib import Path

import pytest
import vobject

from tests.conftest import ROOT, Run

TANK = ROOT / "examples" / "new-tubes.yaml"
DATES = ("--from", "2027-03-01", "--to", "2027-03-31")


def test_text_goes_to_standard_output(run: Run) -> None:
    code, out, _ = run("calendar", TANK, *DATES)
    assert code == 0
    assert "Fit blue-a and blue-b on 2027-03-02 before 08:00" in out


def test_a_calendar_goes_to_a_file(run: Run, tmp_path: Path) -> None:
    target = tmp_path / "tank.ics"
    code, out, err = run("calendar", TANK, *DATES, "--format", "ics", "-o", target)
    assert (code, out) == (0, "")
    assert f"to {target}" in err
    assert vobject.readOne(target.read_text(encoding="utf-8")).name == "VCALENDAR"


def test_it_needs_dates(run: Run) -> None:
    code, _, err = run("calendar", TANK)
    assert code == 2
    assert "give --date, or --from and --to" in err


def test_nothing_is_told_of_a_schedule_that_is_refused(run: Run, tmp_path: Path) -> None:
    text = TANK.read_text(encoding="utf-8").replace("ppfd_max: 260", "ppfd_max: 60")
    (tmp_path / "tank.yaml").write_text(text, encoding="utf-8")
    code, out, err = run("calendar", tmp_path / "tank.yaml", *DATES)
    assert (code, out) == (1, "")
    assert "PHO402" in err


@pytest.mark.usefixtures("nothing_is_compiled")
def test_a_place_that_takes_no_file_is_refused_before_the_work(run: Run, tmp_path: Path) -> None:
    code, _, err = run("calendar", TANK, *DATES, "-o", tmp_path)
    assert (code, "PHO502" in err, "is a folder" in err) == (4, True, True)
    code, _, err = run("calendar", TANK, *DATES, "-o", tmp_path / "none" / "page")
    assert (code, "PHO502" in err, "there is no folder" in err) == (4, True, True)
