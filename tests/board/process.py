"""Players in processes of their own, with real files and signals."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.board.bench import code, table
from tests.board.fake_kernel import IIO
from tests.conftest import ROOT

#: Longer than anything here takes on a busy machine. [s]
PATIENCE_S = 60.0


RAW = f"{IIO}/out_voltage0_raw"


BRIGHTNESS = "class/leds/relay-blue/brightness"


PROCESS_BOARD = """\
board: 1
state_folder: state
runtime_folder: run
log: {folder: log, every_seconds: 1}
clock: {trust: later}
sysfs: sys
channels:
  blue:
    output: {kind: iio, device: "iio:device0", channel: 0}
    relay: {kind: led, name: relay-blue}
"""


#: 80 % day and night, looked at each second.
EACH_SECOND = table((0, 80), every_seconds=1)


def until(holds: Callable[[], Any], what: str = "it") -> None:
    """Wait until something holds."""
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end, f"{what} never came"
        time.sleep(0.02)


class BoardProcess:
    """A folder with a board, a table and a tree of files as sysfs has them."""

    def __init__(self, folder: Path, board: str = PROCESS_BOARD) -> None:
        self.folder = folder
        (folder / "board.yaml").write_text(board, encoding="utf-8")
        self.table = folder / "table.json"
        self.table.write_bytes(EACH_SECOND)
        for name, text in {RAW: str(code(80)), BRIGHTNESS: "255",
                           "class/leds/relay-blue/max_brightness": "255",
                           "class/leds/relay-blue/trigger": "[none] timer"}.items():  # fmt: skip
            path = folder / "sys" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
        self.started: list[subprocess.Popen[str]] = []

    def command(self, *words: str) -> list[str]:
        return [
            sys.executable,
            "-m",
            "photoperiod",
            *words,
            "--board",
            str(self.folder / "board.yaml"),
        ]

    def start(self) -> subprocess.Popen[str]:
        """Start a player, and return it once it plays."""
        player = self.launch()
        until(lambda: "plays" in self.told() or player.poll() is not None, "the start")
        return player

    def launch(self) -> subprocess.Popen[str]:
        """Start a player, and return it at once."""
        err = self.folder / f"err{len(self.started)}"
        with err.open("w") as stream:
            player = subprocess.Popen(
                self.command("run", str(self.table)), text=True, stdout=subprocess.DEVNULL, stderr=stream,
                env=os.environ | {"PYTHONPATH": str(ROOT)}, cwd=self.folder)  # fmt: skip
        self.started.append(player)
        return player

    def writer(self, player: subprocess.Popen[str], device: str) -> int:
        """Return the number of the process that writes to a device for a player."""
        for entry in Path("/proc").iterdir():
            with contextlib.suppress(OSError, ValueError):
                words = (entry / "cmdline").read_bytes().decode().split("\0")
                parent = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
                if parent == player.pid and device in words:
                    return int(entry.name)
        raise AssertionError(f"no process writes to the {device}")

    def told(self) -> str:
        """Return what the last player told."""
        return (self.folder / f"err{len(self.started) - 1}").read_text()

    def do(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Run another command to its end."""
        return subprocess.run(self.command(*words), capture_output=True, text=True, check=False,
                              env=os.environ | {"PYTHONPATH": str(ROOT)}, timeout=PATIENCE_S)  # fmt: skip

    def publish(self, *words: object) -> subprocess.CompletedProcess[str]:
        """Hand tables out."""
        command = [sys.executable, "-m", "photoperiod", "publish", *map(str, words)]
        return subprocess.run(command, capture_output=True, text=True, check=False,
                              env=os.environ | {"PYTHONPATH": str(ROOT)}, timeout=PATIENCE_S)  # fmt: skip

    def end(self, player: subprocess.Popen[str], number: int) -> int:
        """Send a signal, and return the exit code."""
        player.send_signal(number)
        return player.wait(PATIENCE_S)

    @property
    def output(self) -> tuple[int, bool]:
        """Code and relay; a file is empty for the moment in which it is written."""
        while True:
            with contextlib.suppress(ValueError):
                raw = int((self.folder / "sys" / RAW).read_text())
                return raw, int((self.folder / "sys" / BRIGHTNESS).read_text()) > 0

    def log(self) -> list[list[str]]:
        paths = sorted((self.folder / "log").glob("run-*.csv"))
        return [line.split(",") for p in paths for line in p.read_text().splitlines()[1:]]

    def events(self) -> list[str]:
        return [record[-1] for record in self.log() if record[-1]]


@contextlib.contextmanager
def board_process(folder: Path) -> Iterator[BoardProcess]:
    """A board whose players are killed at the end of the block."""
    made = BoardProcess(folder)
    try:
        yield made
    finally:
        for player in made.started:
            if player.poll() is None:
                player.kill()
                player.wait()


def kill_often(folder: Path, count: int, seed: int) -> int:
    """Kill players at any moment of their start or play, and return how often; the lamp must not move.

    At the end the log must be whole, and a player must go on and stop as if nothing had been.
    """
    chance = random.Random(seed)
    with board_process(folder) as place:
        for _ in range(count):
            player = place.launch()
            with contextlib.suppress(subprocess.TimeoutExpired):
                player.wait(chance.random() * 1.5)
            assert player.poll() is None, place.told()
            place.end(player, signal.SIGKILL)
            assert place.output == (code(80), True)
            place.started.remove(player)
        player = place.start()
        until(lambda: len(place.log()) > 1, "the log")
        assert place.output == (code(80), True)
        assert place.end(player, signal.SIGTERM) == 0 and place.output == (0, False)
        assert all(len(record) == 9 for record in place.log())
        assert place.events()[-1] == "stop"
    return count
