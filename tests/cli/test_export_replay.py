"""`export` and `replay` as a user meets them."""

from __future__ import annotations

import csv
import io
import json
import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from photoperiod.source.json_schema import validate
from tests.conftest import ROOT, SCHEDULE, Run, changed

PLACE = (
    "controller:\n",
    "place: {latitude: 38.5, longitude: -28.6, time_zone: Atlantic/Azores}\ncontroller:\n",
)
SUN = (
    "      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
    "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
    "      kind: sun\n      peak_light_percent: 80\n",
)
DATES = ("--from", "2027-03-01", "--to", "2027-04-15")


@pytest.fixture
def exported(run: Run, write: Callable[..., Path], tmp_path: Path) -> Callable[..., Path]:
    def export(kind: str, *changes: tuple[str, str], dates: tuple[str, ...] = ()) -> Path:
        target = tmp_path / f"table.{kind}"
        code, _, err = run("export", kind, write(changed(*changes)), *dates, "-o", target)
        assert code == 0, err
        return target

    return export


def test_an_export_says_what_it_takes_and_warns_before_it_is_loaded(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    target = tmp_path / "t.bin"
    code, out, err = run("export", "binary", write(SCHEDULE), "-o", target)
    assert (code, out) == (0, "")
    assert f"wrote {target.stat().st_size:,} bytes to {target}: 1 table, " in err
    assert "Before you load it: Mains voltage" in err


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


def test_many_schedules_come_into_a_folder_each_as_if_alone(
    run: Run, write: Callable[..., Path], tmp_path: Path, exported: Callable[..., Path]
) -> None:
    alone = exported("json").read_bytes()
    files = [write(SCHEDULE, "one.yaml"), write(changed(("kind: ramps", "kind: rams")), "two.yaml"),
             write(SCHEDULE, "three.yaml")]  # fmt: skip
    code, _, err = run("export", "json", *files, "-o", tmp_path / "out")
    assert code == 1  # one of them has a fault, the others are written
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["one.json", "three.json"]
    assert (tmp_path / "out" / "three.json").read_bytes() == alone
    assert err.index("one.json") < err.index("'rams' is not allowed here") < err.index("three.json")
    code, _, err = run("export", "json", files[0], files[0], "-o", tmp_path / "out")
    assert code == 2 and "under one name" in err
    code, _, err = run("export", "json", files[0], "-", "-o", tmp_path / "out")
    assert code == 2 and "none of them is '-'" in err


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
    arguments = ("export", "binary", write(SCHEDULE), "-o", tmp_path / "t.bin", "--flash-bytes", 64)
    code, _, err = run(*arguments)
    assert code == 1 and "64 bytes are too few" in err and "fewer rows" in err


@pytest.mark.parametrize("kind", ["json", "csv", "binary"])
def test_a_moment_is_the_worked_path(run: Run, exported: Callable[..., Path], kind: str) -> None:
    """DESIGN, a worked path by hand: 89 % → code 3645 → 8.8989 V → 79.19 % light."""
    code, out, _ = run("replay", exported(kind), "--at", "13:00")
    assert code == 0
    (line,) = [line for line in out.splitlines() if line.startswith("  blue")]
    assert line.split() == ["blue", "79.19", "89", "8.899", "3645", "on"]
    assert "crest: 102.9" in out  # 0.7919 · 130 = 102.95


def test_a_day_has_its_dose(run: Run, exported: Callable[..., Path]) -> None:
    code, out, _ = run("replay", exported("binary"), "--format", "json", "--every", "60")
    data = json.loads(out)
    assert code == 0 and len(data["moments"]) == 24
    assert validate(data, "replay")[0] == []
    moment = json.loads(run("replay", exported("binary"), "--format", "json", "--at", "13:00")[1])
    assert validate(moment, "replay")[0] == []
    assert validate({**moment, "extra": 1}, "replay")[0] != []
    # by hand: plateau of ten hours and a bit at 79.19 %, two ramps of an hour about half of it
    assert data["channels"]["blue"]["full_light_hours"] == pytest.approx(8.72, abs=0.1)
    assert data["channels"]["blue"]["lit_hours"] == pytest.approx(12, abs=0.1)
    dli = data["channels"]["blue"]["full_light_hours"] * 130 * 0.0036
    assert data["dli_mol_m2_d"]["crest"] == pytest.approx(dli, abs=1e-3)


def test_a_day_as_csv_has_a_record_each_time_and_channel(
    run: Run, exported: Callable[..., Path]
) -> None:
    code, out, _ = run("replay", exported("csv"), "--format", "csv", "--every", "0.5")
    records = list(csv.DictReader(io.StringIO(out, newline="")))
    assert code == 0 and len(records) == 2 * 1440
    assert {record["channel"] for record in records} == {"blue"}


def test_moments_in_utc_are_turned_to_the_controllers_clock(
    run: Run, exported: Callable[..., Path]
) -> None:
    table = exported("binary", PLACE, dates=("--date", "2027-03-02"))
    _, local, _ = run("replay", table, "--at", "2027-03-02T09:30", "--format", "json")
    _, utc, _ = run("replay", table, "--at", "2027-03-02T10:30Z", "--format", "json")
    assert json.loads(local) == json.loads(utc)
    code, _, err = run("replay", exported("binary"), "--at", "2027-03-02T10:30Z")
    assert code == 2 and "--time-zone" in err


def test_beyond_its_dates_a_table_goes_on_and_says_so(
    run: Run, exported: Callable[..., Path]
) -> None:
    table = exported("binary", PLACE, SUN, dates=DATES)
    code, out, _ = run("replay", table, "--at", "2027-04-16T12:00")
    assert code == 0 and "after the last date of the tables: the last one goes on" in out
    code, out, _ = run("replay", table, "--date", "2027-02-28", "--every", "720")
    assert code == 0 and "before the first date" in out
    code, _, err = run("replay", table)
    assert code == 2 and "say which --date" in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--at", "25:00"), "is no moment"),
        (("--at", "2027-03-02"), "is no moment"),
        (("--at", "13:00", "--every", "5"), "--every divides a day"),
        (("--at", "2027-03-02T13:00", "--date", "2027-03-02"), "names a date already"),
        (("--at", "13:00", "--format", "csv"), "CSV is for a whole day"),
        (("--every", "0"), "not in the range"),
        (("--date", "2027-02-30"), "is not a date"),
    ],
)
def test_wrong_use_is_told(
    run: Run, exported: Callable[..., Path], arguments: tuple[str, ...], words: str
) -> None:
    code, _, err = run("replay", exported("json"), *arguments)
    assert code == 2 and words in err


def test_a_table_may_come_on_standard_input(run: Run, exported: Callable[..., Path]) -> None:
    raw = exported("binary").read_bytes()
    code, out, _ = run("replay", "-", "--at", "13:00", stdin=raw)
    assert code == 0 and "79.19" in out


def test_many_schedules_are_compiled_each_into_a_folder(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    files = [write(SCHEDULE, "one.yaml"), write(changed(("Test bench", "Other")), "two.yaml")]
    code, out, err = run("compile", *files, "-o", tmp_path / "out")
    assert code == 0, err
    assert run("compile", files[1], "-o", tmp_path / "alone")[0] == 0
    for path in (tmp_path / "alone").iterdir():
        assert (tmp_path / "out" / "two" / path.name).read_bytes() == path.read_bytes()
    assert out.index("Test bench") < out.index("Other")
    code, _, err = run(
        "compile", *files, "-o", tmp_path / "out", "--date", "2027-03-02", "--ledger", "l"
    )
    assert code == 2 and "one FILE at a time" in err


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


def test_moments_beyond_all_clocks_are_wrong_use(run: Run, exported: Callable[..., Path]) -> None:
    table = exported("binary", PLACE, dates=("--date", "2027-03-02"))
    for moment in ("9999-12-31T23:59:59Z", "0001-01-01T00:00Z"):
        code, _, err = run("replay", table, "--at", moment)
        assert code == 2 and "is not from 1901 to 2178" in err
    assert run("replay", table, "--every", "nan")[0] == 2
