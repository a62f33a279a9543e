"""``photoperiod run --speed`` and ``--at``, which touch no device."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import PLACE
from tests.conftest import ROOT, Run

PAGE = (ROOT / "docs" / "board.md").read_text(encoding="utf-8")


@pytest.fixture
def slept(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Return the pauses of a rehearsal, in a world where only they take time."""
    pauses, now_s = [0.0], [0.0]

    def sleep(pause_s: float) -> None:
        pauses.append(pause_s)
        now_s[0] += pause_s

    monkeypatch.setattr("time.monotonic", lambda: now_s[0])
    monkeypatch.setattr("time.sleep", sleep)
    return pauses


def test_the_lines_of_the_page(run: Run, tmp_path: Path, slept: list[float]) -> None:
    (block,) = [part for part in PAGE.split("```text\n") if "--at 08:59 --speed 60" in part]
    _, first, *lines = block.partition("\n```")[0].splitlines()
    assert run("compile", ROOT / "examples" / "smallest.yaml", "-o", tmp_path / "out")[0] == 0
    code, out, err = run("run", tmp_path / "out" / "table.json", "--at", "08:59", "--speed", 60)
    assert code == 0
    assert err.splitlines() == [first, "the day is over"]
    assert out.splitlines()[:4] == lines
    assert sum(slept) == pytest.approx(1439, abs=1)  # a day, 60 times as fast: 24 minutes


def test_it_begins_at_midnight_of_the_first_date(
    run: Run, exported: Callable[..., Path], slept: list[float]
) -> None:
    table = exported("binary", PLACE, dates=("--date", "2027-03-02"))
    code, out, err = run("run", table, "--speed", 86_400)
    assert code == 0
    assert "a day from 2027-03-02 00:00:00 on the standard clock, 86400 times as fast" in err
    assert out.startswith("2027-03-02T00:00:00 blue count=0 ")
    assert " relay=closed" in out
    _, utc, err = run("run", table, "--at", "2027-03-05T10:30Z", "--speed", 1)
    assert utc.startswith("2027-03-05T09:30:00 blue ") and "after the last date" in err
    assert "as fast" not in err
    assert " soft\n" in utc and "a soft start holds an output down" in err


def test_a_board_file_is_looked_at_and_left_alone(
    run: Run, exported: Callable[..., Path], slept: list[float], tmp_path: Path
) -> None:
    board = tmp_path / "board.yaml"
    words = "board: 1\nstate_folder: state\nlog: {folder: log}\nsysfs: sys\nchannels:\n  "
    devices = ": {output: {kind: iio, device: none, channel: 0}, relay: {kind: led, name: none}}\n"
    arguments = ("run", exported("binary", PLACE), "--board", board, "--speed", 86_400)
    board.write_text(words + "blue" + devices)
    code, out, err = run(*arguments)
    assert code == 0 and "no device is touched" in err and "relay=closed" in out
    assert not (tmp_path / "state").exists() and not (tmp_path / "log").exists()
    board.write_text(words + "moon" + devices)
    code, out, err = run(*arguments)
    assert code == 1 and out == "" and "PHO701" in err


def test_what_it_cannot_do_is_said(run: Run, exported: Callable[..., Path]) -> None:
    table = exported("binary")
    for wrong, said in (
        ((), "rehearse with --speed 600"),
        (("--speed", "0.5"), "--speed"),
        (("--at", "noon"), "'noon' is no moment"),
        (("--at", "2027-03-05T10:30Z"), "does not say in which time zone"),
    ):
        code, out, err = run("run", table, *wrong)
        assert (code, out) == (2, "") and said in err, wrong
