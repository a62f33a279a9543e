"""A bench for players: a kernel in memory, a system with simulated time, and tables with any rows."""

from __future__ import annotations

import copy
import functools
import io
import json
import os
import signal
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from photoperiod.board.alarm_hook import AlarmHook
from photoperiod.board.assemble import start_player
from photoperiod.board.board_file import BoardFile, read_board
from photoperiod.board.config import BoardConfig
from photoperiod.board.devices.sysfs import NoWriters
from photoperiod.board.mqtt import NotDelivered
from photoperiod.board.player import Player
from photoperiod.board.state_store import StateStore
from photoperiod.board.surroundings import Surroundings
from photoperiod.board.table_file import TableFile
from photoperiod.formats.integrity import CHECKSUM_KEY, with_checksum
from tests.board.fake_kernel import IIO, FakeKernel
from tests.conftest import changed, compiled

#: 2027-03-02T00:00:00Z, a Tuesday.
MIDNIGHT = 1_803_945_600
HOUR = 3600


@functools.cache
def _base() -> dict[str, Any]:
    from photoperiod.formats.folder import render_all

    program = compiled(changed()).program
    assert program is not None
    data: dict[str, Any] = json.loads(render_all(program, [])["table.json"])
    return data


Row = tuple[int, int] | tuple[int, int, str]


def table(
    *rows: Row,
    channels: Sequence[str] = ("blue",),
    every_seconds: int = 60,
    soft_minutes: int = 30,
    between: str = "line",
    dates: tuple[str, str] | None = None,
    safe: tuple[int, str] = (0, "off"),
    clock: str = "utc",
    change: Callable[[dict[str, Any]], None] = lambda _: None,
) -> bytes:
    """Return an exported table on UTC with the same rows (second, count, relay) for each channel."""
    data = copy.deepcopy(_base())
    data["clock"] = clock
    if dates is not None:
        data["from_date"], data["to_date"] = dates
    controller = data["controller"]
    controller["emits"]["every_seconds"] = every_seconds
    controller["soft_start_minutes"] = soft_minutes
    controller["between"] = between
    (about,) = data["channels"].values()
    about["safe_state"] |= {"count": safe[0], "relay": safe[1]}
    data["channels"] = {id: about for id in channels}
    (day,) = data["tables"]
    day["from_date"], day["to_date"] = dates or (None, None)
    (channel,) = day["channels"].values()
    template = channel["rows"][0]
    channel["rows"] = [
        template | {"second": row[0], "count": row[1], "relay": row[2] if len(row) > 2 else "on"}
        for row in rows
    ]
    day["channels"] = {id: channel for id in channels}
    change(data)
    data.pop(CHECKSUM_KEY, None)
    return with_checksum(data)


def code(count: int) -> int:
    """Return the 12-bit code of a per cent of 10 V: the largest that gives no more."""
    return min(round(count / 100 * 4096), 4095)


@dataclass
class FakeSystem:
    """A machine whose time passes only while somebody waits.

    `script` is a list of (seconds since the beginning, what to do); what is done may return a
    signal. `stop_s` seconds after the beginning SIGTERM comes.
    """

    unix: float = MIDNIGHT + 12 * HOUR
    boot: float = 100.0
    boot_id: str = "this start"
    synchronised: bool | None = True
    battery: bool = False
    stop_s: float = 10.0
    script: list[tuple[float, Callable[[], int | None]]] = field(default_factory=list)
    waits: list[float] = field(default_factory=list)
    service: list[tuple[float, str]] = field(default_factory=list)
    ended: bool = False

    def __post_init__(self) -> None:
        self.began = self.boot

    def unix_s(self) -> float:
        return self.unix

    def boot_s(self) -> float:
        return self.boot

    def is_synchronised(self) -> bool | None:
        return self.synchronised

    def has_battery_clock(self) -> bool:
        return self.battery

    def tell_service(self, state: str) -> None:
        self.service.append((self.boot - self.began, state))

    def pass_s(self, seconds: float) -> None:
        self.unix, self.boot = self.unix + seconds, self.boot + seconds

    def at(self, seconds: float, action: Callable[[], Any]) -> None:
        """Do something so many seconds after the beginning."""

        def act() -> int | None:
            result = action()
            return result if isinstance(result, signal.Signals) else None

        self.script.append((seconds, act))
        self.script.sort(key=lambda item: item[0])

    def sleep(self, seconds: float) -> None:
        self.ended = False
        self.wait(seconds)
        self.ended = True

    def wait(self, seconds: float) -> int | None:
        """Wait, as the real system does: not at all after a signal that ends the player."""
        number = signal.SIGTERM if self.ended else self._waited(seconds)
        self.ended = number in (signal.SIGTERM, signal.SIGINT)
        return number

    def _waited(self, seconds: float) -> int | None:
        self.waits.append(seconds)
        until = self.boot + seconds
        while self.script and self.script[0][0] + self.began <= until:
            when, action = self.script.pop(0)
            self.pass_s(max(when + self.began - self.boot, 0.0))
            got = action()
            if got is not None:
                return got
        self.pass_s(max(until - self.boot, 0.0))
        return signal.SIGTERM if self.boot - self.began >= self.stop_s else None


class FakeBroker:
    """A broker in memory that can be away."""

    def __init__(self) -> None:
        self.is_connected = True
        self.ended_well = False
        self.connections = 1
        self.refusal = self.unreached = ""
        self.renew_every_s = 300.0
        self.renewals = 0
        self.has_older_table = self.hears_another = False
        self.refusals: dict[str, str] = {}
        self.offered: bytes | None = None
        self.said: list[tuple[str, str]] = []
        self.states: list[tuple[str, tuple[str, ...]]] = []

    def publish(self, topic: str, text: str, *, closes: bool | None = None) -> None:
        if not self.is_connected:
            raise NotDelivered("published while away")
        self.said.append((topic, text))

    def renew(self) -> None:
        self.renewals += 1

    def is_taken(self, topic: str) -> bool:
        had_line = (
            self.is_connected or self.ended_well
        )  # as the real one: what it took is asked for later
        return had_line and any(said == topic for said, _ in self.said)

    def refused(self, topic: str) -> str:
        return self.refusals.get(topic, "")

    def publish_state(self, state: str, alarms: Sequence[str]) -> None:
        if self.is_connected:
            self.states.append((state, tuple(alarms)))

    def take_offered_table(self) -> bytes | None:
        offered, self.offered = self.offered, None
        return offered

    def close(self) -> None:
        self.ended_well, self.is_connected = self.is_connected, False

    def leave(self) -> None:
        self.is_connected = False

    def come_back(self) -> None:
        self.is_connected = True
        self.connections += 1


BOARD = """\
board: 1
state_folder: state
runtime_folder: run
log: {folder: log}
channels:
  blue:
    output: {kind: iio, device: "iio:device0", channel: 0}
    relay: {kind: led, name: relay-blue}
"""


class Bench:
    """A board in a folder: a table, a board file, a kernel and a system."""

    def __init__(self, folder: Path, raw: bytes, board: str = BOARD, **system: Any) -> None:
        self.folder = folder
        self.table = folder / "table.json"
        self.board_text = board
        self.kernel = FakeKernel().add_converter().add_led()
        self.system = FakeSystem(**system)
        self.broker: FakeBroker | None = None
        self.hook: AlarmHook | None = None
        self.said: list[str] = []
        self.stream = io.StringIO()
        self.put_table(raw)
        self.player: Player | None = None

    def put_table(self, raw: bytes, unix_s: float = MIDNIGHT - 7 * 86_400) -> None:
        """Put a table in its place, as if written at some time."""
        self.table.write_bytes(raw)
        os.utime(self.table, (unix_s, unix_s))

    @property
    def store(self) -> StateStore:
        return StateStore(self.folder / "state", runtime=self.folder / "run")

    @property
    def code(self) -> int:
        return int(self.kernel.held[f"{IIO}/out_voltage0_raw"])

    @property
    def relay(self) -> bool:
        return self.kernel.held["class/leds/relay-blue/brightness"] != "0"

    def light(self, code: int, relay: bool = True) -> None:
        """Have the outputs give light before a player begins."""
        self.kernel.held[f"{IIO}/out_voltage0_raw"] = str(code)
        self.kernel.held["class/leds/relay-blue/brightness"] = "255" if relay else "0"

    def board_file(self) -> BoardFile:
        """Return the board file as it is read."""
        path = self.folder / "board.yaml"
        path.write_text(self.board_text, encoding="utf-8")
        return read_board(str(path), path.read_bytes())

    def surroundings(self, config: BoardConfig) -> Surroundings:
        """Return all that a player works with besides its table."""
        store = StateStore(config.state_folder, runtime=config.runtime_folder)
        return Surroundings(
            config=config,
            file=TableFile(self.table, store.disk),
            store=store,
            system=self.system,
            writers=NoWriters(self.kernel, self.kernel.new_lines),
            stream=self.stream,
            broker=self.broker,
            say=self.said.append,
            hook=self.hook,
        )

    def begin(self) -> Player:
        """Return a player that has begun with the table in the file."""
        config = self.board_file().config
        assert config is not None
        around = self.surroundings(config)
        self.player = start_player(around, around.file.load(config))
        return self.player

    def run(self) -> int:
        """Run a player until its system says stop."""
        return self.begin().run()

    def watch(self, seconds: Sequence[float]) -> list[tuple[int, bool]]:
        """Run, and return code and relay at some seconds after the beginning."""
        seen: list[tuple[int, bool]] = []
        for second in seconds:
            self.system.at(second, lambda: seen.append((self.code, self.relay)))
        self.system.stop_s = max(self.system.stop_s, max(seconds) + 1)
        self.run()
        assert len(seen) == len(seconds)
        return seen

    def records(self) -> list[list[str]]:
        """Return the records of the log, headers left out."""
        found = []
        for path in sorted((self.folder / "log").glob("run-*.csv")):
            text = path.read_bytes().decode()
            assert text.endswith("\r\n")
            lines = text.split("\r\n")[:-1]
            assert (
                lines[0]
                == "time,channel,count,converter_code,volts,level_percent,light_percent,relay,event"
            )
            found += [line.split(",") for line in lines[1:]]
        return found

    def events(self) -> list[str]:
        """Return the events of the log."""
        return [record[-1] for record in self.records() if record[-1]]


TWO = (
    BOARD
    + """\
  white:
    output: {kind: iio, device: "iio:device1", channel: 0}
    relay: {kind: led, name: relay-white}
"""
)


MQTT = """\
board: 1
state_folder: state
runtime_folder: run
log: {folder: log}
broker: {host: h, topic: bench}
channels:
  blue:
    output: {kind: mqtt}
    relay: {kind: mqtt, topic: switch/3, closed: "ON", open: "OFF"}
"""


PWM_AND_BROKER = BOARD.replace(
    '{kind: iio, device: "iio:device0", channel: 0}',
    "{kind: pwm, chip: 0, channel: 0, period_ns: 1000000}",
).replace("channels:\n", "broker: {host: h, topic: bench, table_topic: t}\nchannels:\n")


#: From 09:00 to 21:00 at a steady 80 %, with an hour's ramps; dark by the relay.
DAY = table((9 * HOUR, 10), (10 * HOUR, 80), (20 * HOUR, 80), (21 * HOUR, 0, "off"))


#: 80 % day and night.
STEADY = table((0, 80))


#: Floor of the ballast, 1.0 V: where a soft start begins.
FLOOR = 10


#: How long a soft start takes from the floor to the top, 30 min. [s]
SOFT_S = 1800


def soft(seconds: float) -> int:
    """Return the most that a soft start allows so long after it began, by rule 6 of docs/player.md."""
    return FLOOR + 90 * int(seconds) // SOFT_S


def finer_table(count: int = 80) -> bytes:
    """Return a table of one level for a converter of 14 bits."""

    def finer(data: dict[str, Any]) -> None:
        data["controller"]["converter"] |= {
            "bits": 14,
            "volts_per_code": 10 / 2**14,
            "full_code": 2**14 - 1,
        }

    return table((0, count), change=finer)
