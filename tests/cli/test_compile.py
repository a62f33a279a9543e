"""``photoperiod compile``."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from photoperiod.report.day_picture import LEGEND
from photoperiod.source.json_schema import load_schema
from tests.conftest import EXAMPLES, SCHEDULE, Run, changed


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_examples_compile(run: Run, tmp_path: Path, example: Path) -> None:
    target = tmp_path / "out"
    # those that follow the sky take longer: over a change of clocks is enough
    is_long = "{kind: sun" in example.read_text() or "sunrise" in example.read_text()
    dates = ("--from", "2027-03-26" if is_long else "2027-03-01", "--to", "2027-03-31")
    code, out, _ = run("compile", example, *dates, "-o", target)
    assert code == 0
    names = {"table.csv", "table.json", "summary.json", "manifest.json"}
    held = {path.name for path in target.iterdir()}
    loads = json.loads((target / "summary.json").read_text(encoding="utf-8"))["loads"]
    sheets = [f"typing-sheet-{load['load_before']}.txt" for load in loads]
    assert held == names | set(sheets if len(loads) > 1 else ["typing-sheet.txt"])
    for name in ("table", "summary", "manifest"):
        data = json.loads((target / f"{name}.json").read_text(encoding="utf-8"))
        # the schemas themselves are checked in test_schemas.py
        jsonschema.Draft202012Validator(load_schema(name)).validate(data)
    assert "\x1b" not in out
    first = {path.name: path.read_bytes() for path in target.iterdir()}
    assert run("compile", example, *dates, "-o", target)[0] == 0
    assert {path.name: path.read_bytes() for path in target.iterdir()} == first


def test_table_csv_has_the_columns_promised(run: Run, write: Callable[..., Path]) -> None:
    path = write(SCHEDULE)
    assert run("compile", path, "--date", "2027-03-02", "-o", path.parent / "out")[0] == 0
    raw = (path.parent / "out" / "table.csv").read_bytes()
    assert raw.count(b"\r\n") == raw.count(b"\n")  # RFC 4180: lines end with CRLF
    rows = list(csv.DictReader(io.StringIO(raw.decode(), newline="")))
    assert list(rows[0]) == [
        "channel", "from_date", "time", "level_percent", "volts", "converter_code", "relay",
    ]  # fmt: skip
    assert rows[0]["channel"] == "blue"
    assert rows[0]["from_date"] == "2027-03-02"
    before, begins = rows[
        :2
    ]  # the lamp lights at 09:00; until then level 0, in case the relay is welded
    assert (before["time"], before["level_percent"], before["relay"]) == ("08:59", "0", "off")
    assert (begins["time"], begins["relay"]) == ("09:00", "on")
    peak = max(rows, key=lambda row: float(row["volts"]))
    # by hand: 89 % of 10 V is code 3645.44, and 3645 · 10/4096 V = 8.8989 V
    assert (peak["level_percent"], peak["converter_code"], peak["volts"]) == (
        "89",
        "3645",
        "8.8989",
    )
    assert rows[-1]["time"] == "21:00"
    assert rows[-1]["relay"] == "off"
    assert rows[-1]["level_percent"] == "0"


def test_compile_prints_the_doses_and_keeps_warnings_apart(
    run: Run, write: Callable[..., Path]
) -> None:
    path = write(changed(("dli: [3, 5]", "dli: [9, 14]")))
    code, out, err = run("compile", path, "-o", path.parent / "out")
    assert code == 0
    assert "4.08        below 9 to 14" in out
    assert "4.08 (4.12)" in run("compile", path, "--detail", "-o", path.parent / "out")[1]
    assert "PHO405" not in out
    assert "warning PHO405" in err


@pytest.mark.parametrize(
    "changes",
    [
        [("kind: square-law", "kind: cube-law")],
        [("ppfd_max: 200", "ppfd_max: 50")],
        [("    dark: {kind: relay}\n", "    dark: {kind: never}\n")],
        [("setpoints_per_channel: 16", "setpoints_per_channel: 1")],
    ],
)
def test_nothing_is_written_for_a_schedule_that_is_refused(
    run: Run, write: Callable[..., Path], changes: list[tuple[str, str]]
) -> None:
    target = write(SCHEDULE).parent / "out"
    path = write(changed(*changes))
    code, out, err = run("compile", path, "-o", target)
    assert code == 1
    assert out == ""
    assert err.endswith("nothing was written\n")
    assert not target.exists()
    assert {p.name for p in path.parent.iterdir()} == {path.name}


def test_targets_that_cannot_be_written_are_exit_code_4(
    run: Run, write: Callable[..., Path]
) -> None:
    path = write(SCHEDULE)
    code, out, err = run("compile", path, "-o", path / "out")
    assert (code, out) == (4, "")
    assert (
        f"error PHO502: can't write '{path / 'out'}': something on the way to it is a file" in err
    )
    foreign = path.parent / "photos"
    foreign.mkdir()
    (foreign / "reef.jpg").write_bytes(b"mine")
    code, out, err = run("compile", path, "-o", foreign)
    assert (code, out) == (4, "")
    assert "error PHO503: " in err
    assert [file.name for file in foreign.iterdir()] == ["reef.jpg"]


def test_the_picture_is_the_last_thing_on_a_terminal_with_room(
    run: Run, write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(SCHEDULE)
    target = path.parent / "out"
    assert "THE DAY" not in run("compile", path, "-o", target)[1]  # no terminal: no width
    for columns, is_drawn in (
        ("80", True),
        ("60", False),
        ("200", True),
        ("0", False),
        ("x", False),
    ):
        monkeypatch.setenv("COLUMNS", columns)
        code, out, err = run("compile", path, "-o", target)
        assert code == 0
        assert ("THE DAY, on the controller's clock (standard)\n" in out) == is_drawn
        assert out.endswith(f"{LEGEND[-1]}\n" if is_drawn else "slowly.\n")
        assert "THE DAY" not in err


def test_several_files_are_told_without_a_terminal(
    run: Run, write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = [write(SCHEDULE, name) for name in ("one.yaml", "two.yaml")]
    code, out, _ = run("compile", *paths, "--detail", "-o", paths[0].parent / "out")
    assert code == 0
    assert out.count("no table of 16 rows") == 2
    assert "THE DAY" not in out


@pytest.mark.usefixtures("nothing_is_compiled")
def test_a_folder_that_may_not_be_replaced_is_refused_before_the_work(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    path = write(SCHEDULE)
    code, _, err = run("compile", path, "-o", path)
    assert (code, "PHO502" in err, "is not a folder" in err) == (4, True, True)
    code, _, err = run("compile", path, "-o", tmp_path)
    assert (code, "PHO503" in err, path.name in err) == (4, True, True)
