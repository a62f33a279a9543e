"""A real player, killed again and again, on cards that fill or become read-only, with a pipe for a device."""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.board.bench import code
from tests.board.process import BRIGHTNESS, PROCESS_BOARD, BoardProcess, kill_often, until
from tests.conftest import Run

pytestmark = pytest.mark.slow

#: `benchmarks/kills.py` does it as often as one has time for.
KILLS = 8


def _make_read_only(card: Path) -> None:
    """Have every path on the card lead to a read-only one, as when the kernel gives up a card.

    The card itself can't be mounted anew: the player has its lock open, and the kernel refuses.
    """
    subprocess.run(["mount", "--bind", str(card), str(card)], check=True)
    subprocess.run(["mount", "-o", "remount,bind,ro", str(card)], check=True)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[BoardProcess]:
    """A board whose state and log lie on a card of 256 KiB."""
    card = tmp_path / "card"
    card.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(card)]
    if os.geteuid() != 0 or subprocess.run(command, check=False).returncode != 0:
        assert not os.environ.get("CI"), "continuous integration must mount the card"
        pytest.skip("a card can't be mounted here")
    board = PROCESS_BOARD.replace("state_folder: state", "state_folder: card/state")
    made = BoardProcess(tmp_path, board.replace("folder: log", "folder: card/log"))
    try:
        yield made
    finally:
        for player in made.started:
            if player.poll() is None:
                player.kill()
                player.wait()
        while (
            subprocess.run(
                ["umount", "-l", str(card)], check=False, stderr=subprocess.DEVNULL
            ).returncode
            == 0
        ):
            pass


def test_kills_at_any_moment_leave_lamps_and_log_alone(tmp_path: Path) -> None:
    assert kill_often(tmp_path, KILLS, seed=1) == KILLS


def test_a_card_that_becomes_read_only(place: BoardProcess, run: Run) -> None:
    player = place.start()
    log = place.folder / "card" / "log"
    until(lambda: log.is_dir() and any(log.iterdir()), "the log")
    _make_read_only(place.folder / "card")
    until(lambda: "the log can't be written: read-only file system" in place.told(), "the alarm")
    assert place.output == (code(80), True)
    board = ("--board", place.folder / "board.yaml")
    assert run("hold", *board)[0] == 0
    until(lambda: place.output == (0, False), "the dark")
    assert place.end(player, signal.SIGKILL) != 0
    player = place.start()  # held, and on a dead card
    until(lambda: "held: the lamps are off" in place.told(), "the word")
    assert run("release", *board)[0] == 0
    until(lambda: place.output == (code(10), True), "the floor")
    assert place.end(player, signal.SIGTERM) == 0
    assert place.output == (0, False)


def test_a_card_that_is_full_and_has_room_again(place: BoardProcess) -> None:
    player = place.start()
    log = place.folder / "card" / "log"
    until(lambda: log.is_dir() and any(log.iterdir()), "the log")
    filler = place.folder / "card" / "filler"
    with filler.open("wb", buffering=0) as file, pytest.raises(OSError, match="No space"):
        while True:
            file.write(b"\0" * 512)
    (begun,) = log.iterdir()
    begun.rename(place.folder / "card" / "begun.csv")  # its last page has room for some records
    until(lambda: "alarm: the log can't be written: no space left" in place.told(), "the alarm")
    assert place.output == (code(80), True)
    filler.unlink()
    until(lambda: "alarm over: the log can't be written" in place.told(), "the end of the alarm")
    assert place.end(player, signal.SIGTERM) == 0
    (path,) = log.iterdir()
    lines = path.read_bytes().split(b"\r\n")
    assert lines[-1] == b"" and all(line.count(b",") == 8 for line in lines[:-1])
    events = [line.rsplit(b",", 1)[1].decode() for line in lines[1:-1]]
    assert [event for event in events if event] == ["log-lost", "log-back", "stop"]


def test_a_pipe_in_the_place_of_a_relay(place: BoardProcess) -> None:
    player = place.start()
    relay = place.folder / "sys" / BRIGHTNESS
    until(lambda: (place.folder / "card" / "log").is_dir(), "the log")
    relay.unlink()
    os.mkfifo(relay)
    until(lambda: "the relay of 'blue' (relay relay-blue)" in place.told(), "the alarm")
    assert place.end(player, signal.SIGTERM) == 4
    assert "'blue' may burn" in place.told()
    assert (
        int((place.folder / "sys" / "bus/iio/devices/iio:device0/out_voltage0_raw").read_text())
        == 0
    )
