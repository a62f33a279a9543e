"""docs/board.md and the example service keep to what the player does."""

from __future__ import annotations

import configparser
import re
import shlex
from pathlib import Path

import pytest

from photoperiod.board.board_file import read_board
from photoperiod.board.config import OutputKind, RelayKind, TrustPolicy
from photoperiod.board.player import MAX_PAUSE_S
from photoperiod.board.system import END_S
from photoperiod.formats.table import read_table
from photoperiod.source.json_schema import load_schema
from tests.conftest import EXAMPLES, ROOT, Run

PAGE = (ROOT / "docs" / "board.md").read_text(encoding="utf-8")


def test_the_board_of_the_page_is_one() -> None:
    (text,) = re.findall(r"```yaml\n(.+?)```", PAGE, re.DOTALL)
    assert list(read_board("page", text.encode()).report) == []


#: Examples whose dates take long; the others are played each time.
LONG = ("borrowed-sun.yaml", "natural-year.yaml", "polar-night.yaml", "southern-summer.yaml")


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(path.name, marks=pytest.mark.slow if path.name in LONG else ())
        for path in EXAMPLES
    ],
)
def test_the_board_of_the_page_takes_the_table_of_every_example(
    name: str, run: Run, tmp_path: Path
) -> None:
    target = tmp_path / "table.bin"
    code, _, err = run(
        "export", "binary", ROOT / "examples" / name, "--date", "2027-03-02", "-o", target
    )
    assert code == 0, err
    (text,) = re.findall(r"```yaml\n(.+?)```", PAGE, re.DOTALL)
    board = read_board("try.yaml", text.encode())
    board.check_table(read_table("table.bin", target.read_bytes()))
    assert list(board.report) == [] and board.config is not None


def test_the_board_of_the_page_takes_what_a_first_schedule_gives(run: Run, tmp_path: Path) -> None:
    walk = (ROOT / "docs" / "walk.md").read_text(encoding="utf-8")
    (command,) = re.findall(r"^\$ photoperiod (new bench.yaml(?:.*\\\n)*.*)$", walk, re.MULTILINE)
    first, target = tmp_path / "bench.yaml", tmp_path / "table.bin"
    words = shlex.split(command.replace("\\\n", " "))
    assert run(*[first if word == "bench.yaml" else word for word in words])[0] == 0
    assert run("export", "binary", first, "-o", target)[0] == 0
    (text,) = re.findall(r"```yaml\n(.+?)```", PAGE, re.DOTALL)
    board = read_board("try.yaml", text.encode())
    board.check_table(read_table("table.bin", target.read_bytes()))
    assert list(board.report) == [] and board.config is not None


def test_every_kind_and_policy_has_its_row() -> None:
    definitions = load_schema("board")["$defs"]
    words = []
    for definition, key, kinds in (
        ("output", "kind", OutputKind),
        ("relay", "kind", RelayKind),
        ("clock", "trust", TrustPolicy),
    ):
        words += definitions[definition]["properties"][key]["enum"]
        assert set(definitions[definition]["properties"][key]["enum"]) == set(kinds)
    assert len(words) == 11
    for word in words:
        assert f"\n| `{word}` |" in PAGE, word


def test_the_service_restarts_and_never_sets_anything_dark_by_a_crash() -> None:
    service = configparser.ConfigParser(strict=False, interpolation=None)
    service.optionxform = str  # type: ignore[assignment,method-assign]
    service.read(ROOT / "examples" / "board" / "photoperiod.service", encoding="utf-8")
    assert service["Service"]["Restart"] == "always"
    assert service["Service"]["Type"] == "notify"
    assert int(service["Service"]["WatchdogSec"]) >= 4 * MAX_PAUSE_S
    # SIGTERM must not end the processes that the player still needs to set the safe state.
    assert service["Service"]["KillMode"] == "mixed"
    assert int(service["Service"]["TimeoutStopSec"]) > END_S
    # On a dead card these would keep the player from starting; a hold in memory outlives a restart.
    assert not {"StateDirectory", "LogsDirectory"} & set(service["Service"])
    assert service["Service"]["RuntimeDirectory"] == "photoperiod"
    assert service["Service"]["RuntimeDirectoryPreserve"] == "yes"
    assert "RestartSteps" not in service["Service"]  # systemd 252 does not know it
    assert service["Unit"]["StartLimitIntervalSec"] == "0"
    assert "ExecStopPost" not in service["Service"]
    assert "HUP" in service["Service"]["ExecReload"]
    assert "time-sync.target" in service["Unit"]["After"]
