"""``photoperiod export --board``."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from photoperiod.cli.sketch import BOARDS, CLOCKS, LEVELS
from photoperiod.formats.wiring import Board, LevelOutput, TimeSource, Wiring
from tests.conftest import ROOT, SCHEDULE, Run, changed

PAGE = (ROOT / "docs" / "sketch.md").read_text(encoding="utf-8")

C = ("--board", "atmega328p", "--clock", "ds3231", "--levels", "mcp4728")
PYTHON = ("--board", "rp2040", "--clock", "pcf8523", "--levels", "pwm")


def test_the_words_of_the_options_are_those_of_the_sketches() -> None:
    assert {board for boards in BOARDS.values() for board in boards} == set(Board)
    assert set(CLOCKS) == set(TimeSource) and set(LEVELS) == set(LevelOutput)
    for kind, boards in BOARDS.items():
        for board in boards:
            to = Wiring(Board(board), TimeSource.DS3231, LevelOutput.PWM)
            assert to.is_c == (kind == "c")


@pytest.mark.parametrize(
    "kind, options, files",
    [
        ("c", C, ("photoperiod.h", "main.c", "pins.h")),
        ("micropython", PYTHON, ("photoperiod_table.py", "main.py", "pins.py")),
    ],
)
def test_a_folder_with_a_program(
    run: Run, write: Callable[..., Path], tmp_path: Path,
    kind: str, options: tuple[str, ...], files: tuple[str, ...],
) -> None:  # fmt: skip
    schedule, target = write(SCHEDULE), tmp_path / "out" / "tank"
    code, out, err = run("export", kind, schedule, *options, "-o", target)
    assert (code, out) == (0, "")
    assert f"wrote {', '.join(files)} to {target}" in err
    assert f"next: write your pins into {files[2]}" in err and "Before you load it: Mains" in err
    assert {path.name for path in target.iterdir()} == set(files)
    # The table is that of the plain export.
    assert run("export", kind, schedule, "-o", tmp_path / "plain")[0] == 0
    assert (target / files[0]).read_bytes() == (tmp_path / "plain").read_bytes()
    (target / files[2]).write_text("mine\n")
    code, _, err = run("export", kind, schedule, *options, "-o", target)
    assert code == 0 and f"left {files[2]} as it is: it is yours" in err and "next:" not in err
    assert (target / files[2]).read_text() == "mine\n"
    (target / files[1]).write_text("mine too\n")
    code, _, err = run("export", kind, schedule, *options, "-o", target)
    assert code == 0 and f"left {files[1]} as it is: it was changed by hand" in err
    assert (target / files[1]).read_text() == "mine too\n"


def test_the_page_says_what_the_command_prints(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    example = (ROOT / "examples" / "smallest.yaml").read_text(encoding="utf-8")
    Path("tank.yaml").write_text(example, encoding="utf-8")
    (block,) = re.findall(r"```console\n(.+?)```", PAGE, re.DOTALL)
    command, _, printed = block.partition("\n")
    code, _, err = run(*shlex.split(command.removeprefix("$ photoperiod ")))
    assert code == 0 and printed.removesuffix("…\n") in err
    loading = re.findall(r"^   (av.+)$", PAGE, re.MULTILINE)
    top = Path("tank/main.c").read_text(encoding="utf-8")
    assert len(loading) == 3 and all(f" *     {line}\n" in top for line in loading)
    for words in (*BOARDS.values(), CLOCKS, LEVELS):
        assert all(f"`{word}`" in PAGE for word in words)


def test_options_that_do_not_go_together(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    schedule, target = write(SCHEDULE), tmp_path / "tank"
    for kind, options, said in (
        ("c", C[2:], "add --board"),
        ("c", C[:4], "--board needs --levels too: pwm, mcp4725, mcp4728"),
        ("c", C[:2] + C[4:], "--board needs --clock too: ds3231, pcf8523\n"),
        ("micropython", PYTHON[:2] + PYTHON[4:], "--clock too: ds3231, pcf8523, network\n"),
        ("micropython", C, "export c --board atmega328p"),
        ("c", PYTHON, "export micropython --board rp2040"),
        ("binary", C, "export c --board atmega328p"),
        (
            "c",
            ("--board", "atmega328p", "--clock", "network", "--levels", "pwm"),
            "no network: take a clock chip, --clock ds3231 or pcf8523",
        ),
    ):
        code, _, err = run("export", kind, schedule, *options, "-o", target)
        assert code == 2 and said in err, options
    code, _, err = run("export", "c", schedule, *C, "-o", "-")
    assert code == 2 and "-o names its folder" in err
    code, _, err = run("export", "c", schedule, schedule, *C, "-o", target)
    assert code == 2 and "for one FILE" in err
    assert not target.exists()


def test_a_table_that_does_not_fit_writes_nothing(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    target = tmp_path / "tank"
    ten = changed(("bits: 12", "bits: 10"))
    code, _, err = run("export", "c", write(ten), *C, "-o", target)
    assert code == 1 and "can't write this table for atmega328p: its codes have 10 bits" in err
    assert "nothing was written" in err and not target.exists()
    hot = changed(("ppfd_max: 200", "ppfd_max: 90"))
    code, _, err = run("export", "c", write(hot), *C, "-o", target)
    assert code == 1 and "PHO402" in err and not target.exists()
    target.write_text("a file")
    code, _, err = run("export", "c", write(SCHEDULE), *C, "-o", target)
    assert code == 4 and "can't make the folder" in err
