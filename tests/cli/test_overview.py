"""``photoperiod overview``."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import SCHEDULE, Run, changed

DATES = ("--from", "2027-03-01", "--to", "2027-03-05")


def test_each_file_has_a_line_in_the_order_given_with_any_number_of_processes(
    run: Run, write: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "400")
    files = [
        write(changed(("tank: bench", "tank: zulu")), "one.yaml"),
        write(changed(("kind: ramps", "kind: rams")), "bad.yaml"),
        write(changed(("tank: bench", "tank: alpha")), "two.yaml"),
    ]
    before = sorted(tmp_path.iterdir())
    code, out, err = run("overview", *files, *DATES)
    assert (code, err) == (1, "")
    lines = out.splitlines()
    assert [line.split("  ")[0] for line in lines[1:4]] == ["zulu", str(files[1]), "alpha"]
    assert "NOT COMPILED: line" in lines[2] and "'rams' is not allowed here" in lines[2]
    assert lines[-1] == "3 tanks, 1 with errors: no table is written for these"
    assert run("overview", *files, *DATES, "--jobs", "1") == (code, out, err)
    assert sorted(tmp_path.iterdir()) == before  # nothing is written
    missing = tmp_path / "missing.yaml"
    code, out, _ = run("overview", missing, files[0], *DATES, "--jobs", "1")
    assert code == 4
    assert "PHO501" in out.splitlines()[1] and out.splitlines()[2].startswith("zulu")


def test_programs_get_json_in_the_order_of_files(run: Run, write: Callable[..., Path]) -> None:
    files = [
        write(changed(("tank: bench", f"tank: {name}")), f"{name}.yaml") for name in ("z", "a")
    ]
    code, out, err = run("overview", *files, *DATES, "--format", "json")
    assert (code, err) == (0, "")
    assert [tank["tank"] for tank in json.loads(out)["tanks"]] == ["z", "a"]
    assert run("overview", *files, *DATES, "--format", "json", "--jobs", "1") == (code, out, err)


def test_files_whose_tanks_have_one_id_are_named(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    one, two = write(SCHEDULE, "one.yaml"), write(changed(("Test bench", "Other")), "two.yaml")
    other = write(changed(("tank: bench", "tank: other")), "other.yaml")
    warning = (
        f"warning: {one}, {two} have one tank id, 'bench': tube hours are kept by it, so give each"
    )
    for command in (("overview",), ("compile", "-o", tmp_path / "out")):
        code, _, err = run(*command, one, other, two, *DATES)
        assert code == 0 and f"{warning} tank its own\n" in err, command
        code, _, err = run(*command, one, other, *DATES)
        assert code == 0 and "one tank id" not in err, command
    code, _, err = run("overview", one, one, tmp_path, tmp_path / "missing.yaml", *DATES)
    assert code == 4 and err == "", "one file, and others that say themselves what they lack"


def test_wrong_use(run: Run, write: Callable[..., Path]) -> None:
    path = write(SCHEDULE)
    for arguments, words in (
        ((path,), "an overview is one of dates"),
        ((path, "-", *DATES), "none of them is '-'"),
        ((), "Missing argument"),
        ((path, *DATES, "--jobs", "0"), "--jobs"),
    ):
        code, out, err = run("overview", *arguments)
        assert (code, out) == (2, "")
        assert words in err


def test_standard_input_alone_is_told(run: Run) -> None:
    code, out, _ = run("overview", "-", *DATES, stdin=SCHEDULE.encode())
    assert code == 0
    assert "bench" in out


def test_files_without_a_schedule_have_lines_that_say_why(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "400")
    monkeypatch.chdir(tmp_path)
    for name, content in (("empty", b""), ("comment", b"# only a comment\n"), ("bytes", b"\xff")):
        Path(name).write_bytes(content)
    Path("folder").mkdir()
    code, out, err = run("overview", "empty", "comment", "bytes", "folder", *DATES, "--jobs", "1")
    assert (code, err) == (4, "")
    empty, comment, other, folder = out.splitlines()[1:5]
    assert "the file holds no schedule" in empty and "PHO100" in empty
    assert "the file holds no schedule" in comment and "PHO100" in comment
    assert "byte 0xff is not UTF-8" in other and "PHO109" in other
    assert "PHO501: can't read 'folder': is a folder" in folder


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_a_terminal_shows_how_many_files_are_done(
    jobs: str, run: Run, write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    files = [
        write(changed(("tank: bench", "tank: zulu")), "one.yaml"),
        write(changed(("kind: ramps", "kind: rams")), "bad.yaml"),
    ]
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    _, out, err = run("overview", *files, *DATES, "--jobs", jobs)
    assert err == "".join(f"\rfiles compiled: {done} of 2" for done in range(3)) + "\n"
    assert out.startswith("tank")
