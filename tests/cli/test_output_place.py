from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import SCHEDULE, Run

Write = Callable[..., Path]

SPAN = ("--from", "2027-03-02", "--to", "2027-03-04")
ROOT = Path(__file__).resolve().parents[2]
COMMANDS = [("report",), ("calendar", "--format", "ics"), ("export", "json")]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda words: words[0])
def test_the_schedule_is_never_written_over(
    command: tuple[str, ...], run: Run, write: Write
) -> None:
    path = write(SCHEDULE)
    link, other_name = path.with_name("link.yaml"), path.with_name("other.yaml")
    link.symlink_to(path)
    other_name.hardlink_to(path)
    for output in (path, link, other_name, path.parent / "." / path.name):
        code, _, err = run(*command, path, *SPAN, "-o", output)
        assert code == 2 and "-o names the schedule itself" in err
        assert path.read_text(encoding="utf-8") == SCHEDULE


@pytest.mark.parametrize("command", COMMANDS, ids=lambda words: words[0])
def test_nor_is_the_ledger(
    command: tuple[str, ...], run: Run, write: Write, tmp_path: Path
) -> None:
    path, ledger = write(SCHEDULE), tmp_path / "ledger.json"
    assert run("compile", path, *SPAN, "--ledger", ledger, "-o", tmp_path / "out")[0] == 0
    before = ledger.read_bytes()
    later = ("--from", "2027-03-05", "--to", "2027-03-06")
    code, _, err = run(*command, path, *later, "--ledger", ledger, "-o", ledger)
    assert code == 2 and "-o names the ledger" in err
    assert ledger.read_bytes() == before


def test_nor_are_parts(run: Run, tmp_path: Path) -> None:
    examples, parts = ROOT / "examples", tmp_path / "parts" / "hall.yaml"
    parts.parent.mkdir()
    parts.write_bytes((examples / "parts" / "hall.yaml").read_bytes())
    schedule, link = tmp_path / "hall-right.yaml", tmp_path / "link"
    schedule.write_bytes((examples / "hall-right.yaml").read_bytes())
    link.symlink_to(parts)
    before = parts.read_bytes()
    for command in (("calendar",), ("export", "json")):
        for output in (parts, link):
            code, _, err = run(*command, schedule, "--date", "2027-03-02", "-o", output)
            assert code == 2 and "-o names a file of parts" in err
    assert parts.read_bytes() == before


def test_nor_are_readings(run: Run, tmp_path: Path) -> None:
    examples = ROOT / "examples"
    (tmp_path / "readings").mkdir()
    for name in (examples / "readings").iterdir():
        (tmp_path / "readings" / name.name).write_bytes(name.read_bytes())
    schedule = tmp_path / "tank.yaml"
    schedule.write_bytes((examples / "measured-reef.yaml").read_bytes())
    readings = tmp_path / "readings" / "map.csv"
    before = readings.read_bytes()
    code, _, err = run("calendar", schedule, "--date", "2027-03-02", "-o", readings)
    assert code == 2 and "-o names a file of readings" in err
    assert readings.read_bytes() == before


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("teaching-reef.yaml", "a schedule"),
        ("parts/hall.yaml", "a file of parts"),
        ("board/board.yaml", "a board file"),
    ],
)
def test_nor_is_what_a_person_wrote_for_another_tank(
    name: str, what: str, run: Run, write: Write, tmp_path: Path
) -> None:
    path, other = write(SCHEDULE), tmp_path / "other"
    other.write_bytes((ROOT / "examples" / name).read_bytes())
    before = other.read_bytes()
    code, _, err = run("calendar", path, *SPAN, "-o", other)
    assert code == 2 and f"-o names {what}, '{other}': name another file, or move it away" in err
    assert other.read_bytes() == before


def test_nor_is_another_ledger(run: Run, write: Write, tmp_path: Path) -> None:
    path, ledger = write(SCHEDULE), tmp_path / "ledger.json"
    assert run("compile", path, *SPAN, "--ledger", ledger, "-o", tmp_path / "out")[0] == 0
    before = ledger.read_bytes()
    code, _, err = run("report", path, *SPAN, "-o", ledger)
    assert code == 2 and "-o names a ledger" in err
    assert ledger.read_bytes() == before
    page = tmp_path / "page.html"
    for _ in range(2):  # what a command makes can be made again
        assert run("report", path, *SPAN, "-o", page)[0] == 0
