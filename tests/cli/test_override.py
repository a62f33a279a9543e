"""``photoperiod override`` writes what a player follows."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.board.bench import BOARD, TWO
from tests.conftest import Run


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "board.yaml"
    path.write_text(TWO, encoding="utf-8")
    return path


def test_it_writes_what_the_player_follows(board: Path, run: Run) -> None:
    exit_code, out, _ = run("override", "--board", board, "--channel", "blue", "--light-percent", 25,
                            "--minutes", 30, "--why", "photograph")  # fmt: skip
    assert exit_code == 0 and out.startswith("no player runs; one that starts before 20")
    data = json.loads((board.parent / "state" / "override.json").read_text())
    assert data["light_percent"] == {"blue": 25.0} and data["minutes"] == 30
    assert data["why"] == "photograph" and data["from_boot_s"] > 0 and data["boot_id"]
    assert run("override", "--board", board, "--end")[:2] == (
        0,
        "ended: the player goes on with the table\n",
    )
    assert not (board.parent / "state" / "override.json").exists()
    assert run("override", "--board", board, "--end")[:2] == (0, "there was none\n")


def test_a_hold_goes_before_and_is_told(board: Path, run: Run) -> None:
    words = ("override", "--board", board, "--light-percent", 25, "--minutes", 30)
    assert "held" not in run(*words)[1]
    assert run("hold", "--board", board)[0] == 0
    exit_code, out, _ = run(*words)
    assert exit_code == 0
    assert out.splitlines()[1:] == ["the lamps are held: they stay off until `photoperiod release`"]
    assert run("release", "--board", board)[0] == 0
    assert "held" not in run(*words)[1]


def test_without_channels_it_means_all(board: Path, run: Run) -> None:
    assert run("override", "--board", board, "--light-percent", 0, "--minutes", 5)[0] == 0
    data = json.loads((board.parent / "state" / "override.json").read_text())
    assert data["light_percent"] == {"blue": 0.0, "white": 0.0}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "give --light-percent and --minutes"),
        (("--minutes", "5"), "give both"),
        (("--end", "--minutes", "5"), "or --end alone"),
        (("--light-percent", "101", "--minutes", "5"), "101"),
        (("--light-percent", "10", "--minutes", "481"), "481"),
        (("--light-percent", "10", "--minutes", "5", "--channel", "red"), "no channel 'red'"),
    ],
)
def test_wrong_use(board: Path, run: Run, words: tuple[str, ...], message: str) -> None:
    exit_code, _, err = run("override", "--board", board, *words)
    assert exit_code == 2 and message in err
    assert not (board.parent / "state").exists()


def test_what_cannot_be_written(board: Path, run: Run) -> None:
    (board.parent / "state").touch()
    exit_code, _, err = run("override", "--board", board, "--light-percent", 0, "--minutes", 5)
    assert exit_code == 4 and "PHO502" in err
    exit_code, _, err = run("override", "--board", board, "--end")
    assert exit_code in (0, 4)


def test_a_board_that_names_no_channels(tmp_path: Path, run: Run) -> None:
    path = tmp_path / "board.yaml"
    path.write_text(BOARD.split("channels:")[0] + "other_channels: stdout\n", encoding="utf-8")
    words = ("override", "--board", path, "--light-percent", 10, "--minutes", 5)
    assert run(*words)[0] == 2
    assert run(*words, "--channel", "blue")[0] == 0
