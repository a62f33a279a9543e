"""``photoperiod export``."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import DATES, PLACE, SUN
from tests.conftest import ROOT, SCHEDULE, Run, changed


def test_an_export_says_what_it_takes_and_warns_before_it_is_loaded(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    target = tmp_path / "t.bin"
    code, out, err = run("export", "binary", write(SCHEDULE), "-o", target)
    assert (code, out) == (0, "")
    assert f"wrote {target.stat().st_size:,} bytes to {target}: 1 table, " in err
    assert "Before you load it: Mains voltage" in err


@pytest.mark.parametrize(
    ("kind", "warns"), [("c", False), ("micropython", False), ("csv", True), ("binary", True)]
)
def test_nobody_types_the_tables_of_our_players(
    run: Run, write: Callable[..., Path], tmp_path: Path, kind: str, warns: bool
) -> None:
    # a tube that burns in: three tables, and the controller holds one
    owes = (
        "  blue-a: {watts: 54}",
        "  blue-a: {watts: 54, fitted: 2027-03-02, burn_in_full_hours: 12}",
    )
    dates = ("--from", "2027-03-01", "--to", "2027-03-05")
    _, _, err = run("export", kind, write(changed(owes)), *dates, "-o", tmp_path / "t")
    assert ("PHO432" in err) is warns


def test_standard_output_holds_the_bytes_alone(
    exported: Callable[..., Path], write: Callable[..., Path]
) -> None:
    import subprocess
    import sys

    command = [
        sys.executable,
        "-m",
        "photoperiod",
        "export",
        "binary",
        str(write(SCHEDULE)),
        "-o",
        "-",
    ]
    done = subprocess.run(command, capture_output=True, check=True, cwd=ROOT)
    assert done.stdout == exported("binary").read_bytes()


def test_a_hard_finding_writes_nothing(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    text = changed(("ppfd_max: 200", "ppfd_max: 90"))
    code, _, err = run("export", "binary", write(text), "-o", tmp_path / "t.bin")
    assert code == 1 and "PHO402" in err and "nothing was written" in err
    assert not (tmp_path / "t.bin").exists()


def test_dates_are_asked_for_where_days_differ(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    code, _, err = run("export", "binary", write(changed(PLACE, SUN)), "-o", tmp_path / "t.bin")
    assert code == 2 and "--from and --to" in err


def test_the_most_tables_that_fit_are_taken(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    schedule, target = write(changed(PLACE, SUN)), tmp_path / "t.bin"

    def size(*more: object) -> tuple[int, int, str]:
        code, _, err = run("export", "binary", schedule, *DATES, "-o", target, *more)
        told = [line for line in err.splitlines() if line.startswith("wrote")]
        tables = int(told[0].split(": ")[1].split()[0]) if told else 0
        return code, tables, err

    _, all_tables, _ = size()
    whole = target.stat().st_size
    assert all_tables >= 3
    code, fewer, _ = size("--flash-bytes", whole - 1)
    assert code == 0 and 1 <= fewer < all_tables and target.stat().st_size < whole
    _, again, _ = size("--flash-bytes", target.stat().st_size)
    assert again == fewer
    before = target.read_bytes()
    code, _, err = size("--flash-bytes", 100)
    assert code == 1 and "100 bytes are too few: the smallest tables found" in err
    assert target.read_bytes() == before


def test_flash_that_dates_can_not_save_is_told(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    arguments = ("export", "binary", write(SCHEDULE), "-o", tmp_path / "t.bin", "--flash-bytes")
    code, _, err = run(*arguments, 64)
    assert code == 1 and "64 bytes are too few" in err and "fewer rows" in err
    assert "error: 1 byte is too few: " in run(*arguments, 1)[2]


def test_help_says_that_a_file_that_is_there_is_replaced(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    words = " ".join(run("export", "--help")[1].split())
    assert "one that is there is replaced, unless it is a ledger or such a file as people" in words
    target = tmp_path / "t.bin"
    target.write_bytes(b"a file of another program")
    assert run("export", "binary", write(SCHEDULE), "-o", target)[0] == 0
    assert target.read_bytes()[:4] == b"PHTP"


def test_an_export_reads_the_ledger_and_leaves_it_alone(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    new = ("{watts: 54}", "{watts: 54, fitted: 2027-03-01T08:00, burn_in_full_hours: 12}")
    schedule, ledger = write(changed(new)), tmp_path / "hours.json"
    target = tmp_path / "t.json"

    def exported(*more: object) -> tuple[bytes, str]:
        code, _, err = run("export", "json", schedule, "--date", "2027-03-04", "-o", target, *more)
        assert code == 0, err
        return target.read_bytes(), err

    code, _, err = run(
        "compile", schedule, "--date", "2027-03-01", "-o", tmp_path / "out", "--ledger", ledger
    )
    assert code == 0, err
    code, _, err = run("compile", schedule, "--from", "2027-03-02", "--to", "2027-03-03",
                       "-o", tmp_path / "out", "--ledger", ledger)  # fmt: skip
    assert code == 0, err
    before = ledger.read_bytes()
    exported("--ledger", ledger)
    assert ledger.read_bytes() == before
    code, _, err = run(
        "export", "json", schedule, "--date", "2027-03-09", "-o", target, "--ledger", ledger
    )
    assert code == 4 and "PHO504" in err  # it leads up to 2027-03-03 only
    code, _, err = run(
        "export", "json", schedule, "-o", target, "--ledger", ledger, "--flash-bytes", 9
    )
    assert code == 2 and "without --flash-bytes" in err


def test_only_files_are_replaced(run: Run, write: Callable[..., Path], tmp_path: Path) -> None:
    schedule = write(SCHEDULE)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for target, what in ((pipe, "a device or a pipe"), (tmp_path, "a folder")):
        code, _, err = run("export", "binary", schedule, "-o", target)
        assert code == 4 and f"is {what}, not a file" in err and "nothing was written" in err
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    code, _, err = run("export", "json", schedule, "-o", schedule)
    assert code == 2 and "the schedule itself" in err
    assert schedule.read_text(encoding="utf-8") == SCHEDULE


@pytest.mark.parametrize("kind", ["json", "csv", "binary", "c", "micropython"])
def test_what_no_player_holds_is_not_written(
    run: Run, write: Callable[..., Path], tmp_path: Path, kind: str
) -> None:
    target = tmp_path / "t"
    code, _, err = run("export", kind, write(SCHEDULE), "--date", "1999-12-31", "-o", target)
    assert code == 1 and "are not from 2000-01-01 to 2179-06-06" in err
    fine = changed(("emits: {unit: percent, step: 1,", "emits: {unit: percent, step: 0.001,"))
    code, _, err = run("export", kind, write(fine), "-o", target)
    assert code == 1 and "levels are more than the 65,535" in err
    assert not target.exists()


@pytest.mark.usefixtures("nothing_is_compiled")
def test_a_place_that_takes_no_file_is_refused_before_the_work(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    code, _, err = run("export", "json", write(SCHEDULE), "-o", tmp_path)
    assert (code, "PHO502" in err, "is a folder" in err) == (4, True, True)
    code, _, err = run("export", "json", write(SCHEDULE), "-o", tmp_path / "none" / "page")
    assert (code, "PHO502" in err, "there is no folder" in err) == (4, True, True)
