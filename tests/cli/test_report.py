from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import html5lib
import pytest

from tests.conftest import SCHEDULE, Run, changed

Write = Callable[..., Path]
DATES = ("--from", "2027-03-02", "--to", "2027-03-15")


def test_a_page_is_written_and_replaced(run: Run, write: Write, tmp_path: Path) -> None:
    page = tmp_path / "tank.html"
    code, out, _ = run("report", write(SCHEDULE), *DATES, "-o", page)
    assert code == 0
    assert f"wrote {page}" in out
    first = page.read_bytes()
    html5lib.HTMLParser(strict=True).parse(first)
    assert run("report", write(SCHEDULE), *DATES, "-o", page)[0] == 0
    assert page.read_bytes() == first


def test_a_page_goes_to_standard_output(run: Run) -> None:
    code, out, _ = run("report", "-", "-o", "-", stdin=SCHEDULE.encode())
    assert code == 0
    assert out.startswith("<!DOCTYPE html>")
    assert out.endswith("</html>\n")


@pytest.mark.parametrize(
    "text",
    [changed(("square-law", "sqare-law")), changed(("ppfd_max: 200", "ppfd_max: 90"))],
    ids=["an error", "a broken limit"],
)
def test_a_schedule_with_errors_writes_nothing(
    run: Run, write: Write, tmp_path: Path, text: str
) -> None:
    page = tmp_path / "tank.html"
    code, _, err = run("report", write(text), "-o", page)
    assert code == 1
    assert "error PHO" in err
    assert "nothing was written" in err
    assert not page.exists()


def test_a_missing_library_is_told_before_anything_is_compiled(
    run: Run, write: Write, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is compiled may take minutes; of this schedule, whose limit is broken, nothing is said."""
    monkeypatch.setitem(sys.modules, "jinja2", None)
    page = tmp_path / "tank.html"
    code, _, err = run("report", write(changed(("ppfd_max: 200", "ppfd_max: 90"))), "-o", page)
    assert (code, "PHO515" in err, "PHO402" in err) == (4, True, False)
    assert not page.exists()


def test_warnings_forbid_it_only_under_strict(run: Run, write: Write, tmp_path: Path) -> None:
    path, page = write(changed(("dli: [3, 5]", "dli: [5, 9]"))), tmp_path / "tank.html"
    assert run("report", path, "-o", page, "--strict")[0] == 1
    assert not page.exists()
    assert run("report", path, "-o", page)[0] == 0


def test_wrong_use_has_a_way_out(run: Run, write: Write, tmp_path: Path) -> None:
    path = write(SCHEDULE)
    code, _, err = run("report", path, "-o", tmp_path)
    assert (code, "PHO502" in err, "is a folder" in err) == (4, True, True)
    code, _, err = run("report", path, "-o", "")
    assert (code, "names a file" in err) == (2, True)
    code, _, err = run("report", tmp_path / "none.yaml", "-o", tmp_path / "x.html")
    assert (code, "PHO501" in err) == (4, True)
    code, _, err = run("report", path, "-o", tmp_path / "no" / "x.html")
    assert (code, "PHO502" in err) == (4, True)
    sun = changed(("clock: standard", "clock: utc"))
    place = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n"
    code, _, err = run("report", write(place + sun), "-o", tmp_path / "x.html")
    assert (code, "give --date" in err) == (2, True)


def test_what_is_accepted_is_written_and_told(run: Run, write: Write, tmp_path: Path) -> None:
    text = changed(("ppfd_max: 200", "ppfd_max: 90")) + (
        "accept:\n  - {finding: ppfd-above-most, because: the corals are used to it}\n"
    )
    page = tmp_path / "tank.html"
    code, _, err = run("report", write(text), "-o", page)
    assert code == 0, err
    assert "the corals are used to it" in page.read_text(encoding="utf-8")


@pytest.mark.usefixtures("nothing_is_compiled")
def test_a_place_that_takes_no_file_is_refused_before_the_work(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    code, _, err = run("report", write(SCHEDULE), "-o", tmp_path)
    assert (code, "PHO502" in err, "is a folder" in err) == (4, True, True)
    code, _, err = run("report", write(SCHEDULE), "-o", tmp_path / "none" / "page")
    assert (code, "PHO502" in err, "there is no folder" in err) == (4, True, True)
