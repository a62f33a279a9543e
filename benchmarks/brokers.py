"""One broker, many tanks: how long until each of a thousand boards has taken up a new table of its own.

Run: python benchmarks/brokers.py [--boards 1000] [--processes 4]

It needs mosquitto and `pip install '.[mqtt]'`. The broker runs on loopback, with persistence, so that
retained messages outlive it. Each board is simulated: it has the connection of a real one
(`photoperiod.board.mqtt`), looks at it once a second, reads and checks what came, and writes it to its own
file; it drives no outputs. A table is a year of four channels, one table a day. Three rounds of new tables:

- quiet: the broker runs all the time;
- restart: when half of the boards have their tables it is told to end (SIGTERM), and is started again;
- kill: the same with SIGKILL.

After a failure all tables are published once more, as a person would repeat the command. A table is lost if its board does not
have it, byte for byte, within the time limit; then this ends with 1.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import hashlib
import multiprocessing
import os
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from pathlib import Path

from photoperiod.api import compile, load_text
from photoperiod.board.config import (
    BoardConfig,
    BrokerConfig,
    OutputConfig,
    OutputKind,
    RelayConfig,
    RelayKind,
)
from photoperiod.board.disk import LocalDisk
from photoperiod.board.events import PlayerState
from photoperiod.board.mqtt import PahoBroker
from photoperiod.board.publish import publish
from photoperiod.board.table_file import TableFile, table_from_bytes
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.image import DatedTable, Image, encode
from photoperiod.formats.table import read_table
from photoperiod.formats.table_image import render

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "teaching-reef.yaml"
YEAR = dt.date(2027, 1, 1), dt.date(2027, 12, 31)

#: All boards must have their tables within this time. [s]
LIMIT_S = 180.0

#: How long the broker is away before it starts again. [s]
AWAY_S = 2.0


# The tables


def year() -> Image:
    """Return a year of four channels, with a table for each day."""
    schedule = load_text(str(EXAMPLE), EXAMPLE.read_bytes())
    program = compile(schedule, YEAR).program
    image = read_table("table.bin", render(program, [])).image
    assert image.span is not None
    first, (first_day, last_day) = image.tables[0], image.span
    days = range(last_day - first_day + 1)
    sets = tuple(image.sets[at] for at in first.sets)
    size = len(sets)
    return replace(
        image,
        tables=tuple(
            DatedTable(first_day + day, tuple(range(day * size, (day + 1) * size))) for day in days
        ),
        sets=sets * len(days),
    )


def table(image: Image, board: int, round_: int) -> bytes:
    """Return the table of a board in a round; no two are the same."""
    digest = hashlib.sha256(f"{round_} {board}".encode()).digest()
    about = image.about.replace(image.digest.hex().encode(), digest.hex().encode())
    return encode(replace(image, digest=digest, about=about))


# The boards


def board_config(folder: Path, channels: tuple[str, ...], broker: BrokerConfig) -> BoardConfig:
    """Return a board whose outputs print."""
    devices = (OutputConfig(kind=OutputKind.STDOUT), RelayConfig(kind=RelayKind.NONE))
    return BoardConfig(
        name="board.yaml", state_folder=folder, log_folder=folder, sysfs=Path("/sys"), broker=broker,
        channels=dict.fromkeys(channels, devices), time_zone="Atlantic/Azores",
    )  # fmt: skip


def run_boards(
    numbers: range, port: int, folder: Path, channels: tuple[str, ...], results: Connection
) -> None:
    """Be some boards: send (number, Unix time, digest) for each table that one of them has taken up."""
    boards = []
    for number in numbers:
        own = folder / f"{number}"
        own.mkdir()
        broker = BrokerConfig(
            host="127.0.0.1", port=port, topic=f"boards/{number}", table_topic=f"tables/{number}"
        )
        boards.append((
            number, PahoBroker(broker), board_config(own, channels, broker),
            TableFile(own / "table.bin", LocalDisk()), [0],
        ))  # fmt: skip
    while True:
        time.sleep(1 - time.time() % 1)
        for number, link, config, file, connections in boards:
            if link.is_connected and link.connections != connections[0]:
                connections[0] = link.connections
                link.publish_state(PlayerState.RUNNING, [])
                results.send((number, time.time(), None))
            raw = link.take_offered_table()
            if raw is not None:
                table_from_bytes("the table that was handed out", raw, config)
                file.write(raw)
                results.send((number, time.time(), hashlib.sha256(raw).digest()))


class Boards:
    """All boards, in a few processes."""

    def __init__(
        self, count: int, processes: int, port: int, folder: Path, channels: tuple[str, ...]
    ) -> None:
        self.connected: set[int] = set()
        self.taken: dict[int, tuple[float, bytes]] = {}
        self.processes = []
        context = multiprocessing.get_context("spawn")
        for k in range(processes):
            numbers = range(k * count // processes, (k + 1) * count // processes)
            there, here = context.Pipe(duplex=False)
            process = context.Process(
                target=run_boards, args=(numbers, port, folder, channels, here), daemon=True
            )
            process.start()
            self.processes.append(process)
            threading.Thread(target=self._listen, args=(there,), daemon=True).start()

    def _listen(self, results: Connection) -> None:
        with contextlib.suppress(EOFError, OSError):
            while True:
                number, unix_s, digest = results.recv()
                if digest is None:
                    self.connected.add(number)
                else:
                    self.taken[number] = (unix_s, digest)

    def memory_kib(self) -> int:
        """Return the memory of all board processes. [KiB]"""
        return sum(memory_kib(process.pid) for process in self.processes if process.pid)

    def stop(self) -> None:
        """End them."""
        for process in self.processes:
            process.kill()
            process.join()


# The broker


class Mosquitto:
    """A broker on a port of this machine, which keeps its retained messages in a folder."""

    def __init__(self, folder: Path) -> None:
        program = shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin")
        if program is None:
            sys.exit("mosquitto is not installed")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        config = folder / "mosquitto.conf"
        config.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\nmax_keepalive 65535\n"
            f"persistence true\npersistence_location {folder}/\nuser root\n"
        )
        self.command = [program, "-c", str(config)]
        self.start()

    def start(self) -> None:
        """Start it, and wait until it answers."""
        self.process = subprocess.Popen(
            self.command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        until = time.monotonic() + 20
        while time.monotonic() < until:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        sys.exit("mosquitto does not answer")

    def end(self, how: signal.Signals) -> None:
        """End it by a signal."""
        self.process.send_signal(how)
        self.process.wait()


def memory_kib(process: int, key: str = "VmRSS") -> int:
    """Return the memory of a process. [KiB]"""
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        if line.startswith(f"{key}:"):
            return int(line.split()[1])
    return 0


# The rounds


def hand_out(config: BrokerConfig, tables: dict[str, bytes]) -> int:
    """Publish tables, all of them again after each failure; return the number of failures."""
    failures = 0
    while True:
        try:
            publish(config, tables)
        except OutsideWorldError:
            failures += 1
            time.sleep(1)
        else:
            return failures


@dataclass(frozen=True)
class Round:
    """What came of a round of new tables."""

    published_s: float
    failures: int
    last_s: float
    broker_mib: float
    board_mib: float
    lost: list[int]

    def lines(self) -> Iterator[str]:
        """Yield lines for people."""
        later_s = self.last_s - self.published_s
        yield f"  published after {self.published_s:.1f} s; attempts that failed: {self.failures}"
        yield f"  the last board has its table after {self.last_s:.1f} s, {later_s:.1f} s later"
        yield f"  broker: {self.broker_mib:.0f} MiB at most; a board: {self.board_mib:.2f} MiB"
        yield f"  lost: {len(self.lost)}" + (f" {self.lost[:10]}" if self.lost else "")


def end_and_start(
    broker: Mosquitto, how: signal.Signals, after_s: float, most_kib: list[int]
) -> None:
    """End the broker after a while, note its memory, and start it again."""
    time.sleep(after_s)
    most_kib.append(memory_kib(broker.process.pid, "VmHWM"))
    broker.end(how)
    time.sleep(AWAY_S)
    broker.start()


def play_round(
    tables: Mapping[int, bytes],
    broker: Mosquitto,
    boards: Boards,
    ending: threading.Thread | None,
    most_kib: list[int],
) -> Round:
    """Hand out new tables to all boards, while a broker may end and start, and wait until they have them."""
    wanted = {number: hashlib.sha256(raw).digest() for number, raw in tables.items()}
    config = BrokerConfig(host="127.0.0.1", port=broker.port, topic="tables")
    begin = time.time()
    if ending is not None:
        ending.start()
    failures = hand_out(config, {f"tables/{number}": raw for number, raw in tables.items()})
    published_s = time.time() - begin

    def missing() -> list[int]:
        return [n for n in tables if boards.taken.get(n, (0, b""))[1] != wanted[n]]

    while missing() and time.time() < begin + LIMIT_S:
        time.sleep(0.2)
    lost = missing()
    if ending is not None:
        ending.join()
    most_kib.append(memory_kib(broker.process.pid, "VmHWM"))
    return Round(
        published_s=published_s,
        failures=failures,
        last_s=max((boards.taken[n][0] for n in tables if n not in lost), default=begin) - begin,
        broker_mib=max(most_kib) / 1024,
        board_mib=boards.memory_kib() / 1024 / len(tables),
        lost=lost,
    )


def main() -> None:
    """Play all rounds."""
    parser = argparse.ArgumentParser(description="One broker, many tanks.")
    parser.add_argument("--boards", type=int, default=1000)
    parser.add_argument("--processes", type=int, default=4)
    chosen = parser.parse_args()
    _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))
    image = year()
    channels = read_table("table.bin", encode(image)).channels
    print(f"{chosen.boards} boards; a table has {len(encode(image)):,} bytes")
    found: list[Round] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = Mosquitto(folder)
        begin = time.monotonic()
        boards = Boards(chosen.boards, chosen.processes, broker.port, folder, channels)
        try:
            while len(boards.connected) < chosen.boards:
                time.sleep(0.1)
            print(f"all are connected after {time.monotonic() - begin:.1f} s")
            rounds = (("quiet", None), ("restart", signal.SIGTERM), ("kill", signal.SIGKILL))
            for round_, (words, how) in enumerate(rounds):
                ending, most_kib = None, list[int]()
                if how is not None:
                    middle_s = found[0].published_s / 4
                    ending = threading.Thread(
                        target=end_and_start, args=(broker, how, middle_s, most_kib)
                    )
                tables = {number: table(image, number, round_) for number in range(chosen.boards)}
                found.append(play_round(tables, broker, boards, ending, most_kib))
                print(words, *found[-1].lines(), sep="\n", flush=True)
        finally:
            boards.stop()
            broker.end(signal.SIGKILL)
    sys.exit(1 if any(one.lost for one in found) else 0)


if __name__ == "__main__":
    main()
