"""The command itself, in a process of its own, with real files, signals and a real broker."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from photoperiod.board.config import BrokerPlan
from photoperiod.board.mqtt import PahoBroker
from photoperiod.errors import OutsideWorldError
from tests.board.bench import IIO, code, table
from tests.conftest import ROOT, Run

#: Longer than anything here takes on a busy machine. [s]
PATIENCE_S = 30.0

RAW = f"{IIO}/out_voltage0_raw"
BRIGHTNESS = "class/leds/relay-blue/brightness"

BOARD = """\
board: 1
state_folder: state
log: {folder: log, every_seconds: 1}
clock: {trust: later}
sysfs: sys
channels:
  blue:
    output: {kind: iio, device: "iio:device0", channel: 0}
    relay: {kind: led, name: relay-blue}
"""

STEADY = table((0, 80), every_seconds=1)


def until(holds: Callable[[], Any], what: str = "it") -> None:
    """Wait until something holds."""
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end, f"{what} never came"
        time.sleep(0.02)


class Place:
    """A folder with a board, a table and a tree of files as sysfs has them."""

    def __init__(self, folder: Path, board: str = BOARD) -> None:
        self.folder = folder
        (folder / "board.yaml").write_text(board, encoding="utf-8")
        self.table = folder / "table.json"
        self.table.write_bytes(STEADY)
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
        err = self.folder / f"err{len(self.started)}"
        with err.open("w") as stream:
            player = subprocess.Popen(
                self.command("run", str(self.table)), text=True, stdout=subprocess.DEVNULL, stderr=stream,
                env=os.environ | {"PYTHONPATH": str(ROOT)}, cwd=self.folder)  # fmt: skip
        self.started.append(player)
        until(lambda: "plays" in err.read_text() or player.poll() is not None, "the start")
        return player

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


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    made = Place(tmp_path)
    yield made
    for player in made.started:
        if player.poll() is None:
            player.kill()
            player.wait()


def test_sigterm_sets_the_safe_state(place: Place) -> None:
    player = place.start()
    until(lambda: len(place.log()) > 2, "the log")
    assert place.output == (code(80), True)
    assert place.end(player, signal.SIGTERM) == 0
    assert place.output == (0, False)
    assert place.events() == ["start", "stop"]
    assert place.end(place.start(), signal.SIGINT) == 130


def test_sigkill_and_a_start_go_on_without_a_flash(place: Place) -> None:
    player = place.start()
    until(lambda: len(place.log()) > 2, "the log")
    place.end(player, signal.SIGKILL)
    assert place.output == (code(80), True)
    (log,) = (place.folder / "log").iterdir()
    with log.open("ab") as file:
        file.write(b"2027-03-02T00:00:00Z,blue,80,32")  # what a power failure leaves
    before = len(place.log())
    player = place.start()
    until(lambda: len(place.log()) > before + 1, "the log")
    assert place.end(player, signal.SIGTERM) == 0
    assert b"blue,80,32\r\n" not in log.read_bytes()
    assert {record[2] for record in place.log() if record[1]} == {"80", "0"}
    assert place.events() == ["start", "start", "stop"]
    # After a stop the lamps are dark, and rise softly.
    player = place.start()
    until(lambda: place.output == (code(10), True), "the floor")


def test_two_players_do_not_fight(place: Place) -> None:
    place.start()
    second = place.do("run", str(place.table))
    assert second.returncode == 4
    assert "error PHO509: another player uses" in second.stderr
    assert place.output == (code(80), True)


def test_hold_and_release(place: Place) -> None:
    player = place.start()
    held = place.do("hold", "--why", "new tubes")
    assert held.returncode == 0 and "unplug before you touch" in held.stdout
    assert held.stdout.startswith("held: the player sets the lamps off")
    until(lambda: place.output == (0, False), "the dark")
    assert place.end(player, signal.SIGKILL) != 0
    place.start()
    assert "held" in place.told()
    time.sleep(1.2)
    assert place.output == (0, False)
    assert place.do("release").stdout == "released\n"
    until(lambda: place.output == (code(10), True), "the floor")
    assert place.do("release").stdout == "was not held\n"


def test_a_hold_without_a_player_says_so(place: Place) -> None:
    assert "no player runs" in place.do("hold").stdout


def test_a_new_table_and_a_broken_one(place: Place) -> None:
    place.start()
    fresh = place.folder / "fresh"
    fresh.write_bytes(table((0, 70), every_seconds=1))
    fresh.replace(place.table)
    until(lambda: place.output == (code(70), True), "the new table")
    place.table.write_bytes(STEADY[:-40])
    until(lambda: "alarm: PHO505" in place.told(), "the alarm")
    assert place.output == (code(70), True)
    place.table.write_bytes(STEADY)
    until(lambda: "alarm over: PHO505" in place.told(), "the end of the alarm")
    until(lambda: place.events() == ["start", "reload", "refused", "reload"], "the events")


def test_a_broken_table_at_the_start(place: Place) -> None:
    place.table.write_bytes(STEADY[:-40])
    player = place.start()
    assert player.wait(PATIENCE_S) == 4
    assert "error PHO505" in place.told()
    assert place.output == (code(80), False)  # nothing says what light would be right
    place.table.write_bytes(STEADY)
    player = place.start()
    until(lambda: place.output == (code(10), True), "the floor")
    place.end(player, signal.SIGKILL)
    place.table.write_bytes(STEADY[:-40])
    place.start()
    until(lambda: "the last good table goes on" in place.told(), "the copy")
    time.sleep(1.2)
    assert place.output == (code(10), True)


def test_a_board_file_with_a_fault_is_shown(place: Place, run: Run) -> None:
    path = place.folder / "board.yaml"
    path.write_text(BOARD.replace("kind: led", "kind: let"), encoding="utf-8")
    for words in (("run", str(place.table)), ("hold",), ("release",)):
        exit_code, _, err = run(*words, "--board", path)
        assert exit_code == 1
        assert f"{path}:9:19  error PHO204 not-allowed" in err
        assert "did you mean 'led'?" in err
    exit_code, _, err = run("run", "-", "--board", path)
    assert exit_code == 2 and "'-' is none" in err
    exit_code, _, err = run("run", place.table, "--board", place.folder / "none.yaml")
    assert exit_code == 4 and "PHO501" in err


# ---- a real broker


class Mosquitto:
    """A broker on a port of this machine alone."""

    def __init__(self, program: str, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        self.config = folder / "mosquitto.conf"
        self.config.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\npersistence false\n"
        )
        self.program = program
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen(
            [self.program, "-c", str(self.config)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until(self._answers, "the broker")

    def _answers(self) -> bool:
        with socket.socket() as probe:
            probe.settimeout(1)
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def stop(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    program = shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin")
    if program is None:
        assert not os.environ.get("CI"), "continuous integration must install mosquitto"
        pytest.skip("the package mosquitto is not installed")
    made = Mosquitto(program, tmp_path)
    yield made
    made.stop()


class Listener:
    """What is said on a broker, the last of each topic; retained messages come first."""

    def __init__(self, port: int, topics: str) -> None:
        self.last: dict[str, str] = {}
        self.all: list[tuple[str, str]] = []
        self.client = Client(CallbackAPIVersion.VERSION2)
        self.client.on_connect = lambda client, *_: client.subscribe(topics, qos=1)
        self.client.on_message = self._on_message
        self.client.reconnect_delay_set(1, 1)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def _on_message(self, _client: object, _data: object, message: Any) -> None:
        text = message.payload.decode()
        self.last[message.topic] = text
        self.all.append((message.topic, text))

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@contextlib.contextmanager
def listening(port: int, topics: str = "#") -> Iterator[Listener]:
    made = Listener(port, topics)
    try:
        yield made
    finally:
        made.close()


def mqtt_board(port: int) -> str:
    head, _ = BOARD.split("channels:")
    return head + (
        f"broker: {{host: 127.0.0.1, port: {port}, topic: reef}}\n"
        "channels:\n  blue:\n    output: {kind: mqtt}\n    relay: {kind: mqtt}\n"
    )


def level(listener: Listener) -> int | None:
    text = listener.last.get("reef/blue/level")
    return None if text is None else int(json.loads(text)["count"])


def test_a_broker_is_told_levels_and_when_the_player_dies(place: Place, broker: Mosquitto) -> None:
    (place.folder / "board.yaml").write_text(mqtt_board(broker.port), encoding="utf-8")
    player = place.start()
    until(lambda: place.log(), "the log")
    with listening(broker.port) as listener:  # it comes late: what it gets was retained
        until(lambda: level(listener) == 10, "the level")
        assert listener.last["reef/blue/relay"] == "on"
        until(lambda: listener.last.get("reef/player") == '{"state": "running"}', "the state")
        assert listener.last["reef/alarms"] == "[]"
        place.end(player, signal.SIGKILL)
        until(lambda: listener.last["reef/player"] == '{"state": "gone"}', "the last will")
        assert level(listener) == 10  # lamps keep their last level
        player = place.start()
        until(lambda: listener.last["reef/player"] == '{"state": "running"}', "the state")
        place.table.write_bytes(b"{}")
        until(lambda: "PHO505" in listener.last["reef/alarms"], "the alarm")
        assert place.end(player, signal.SIGTERM) == 0
        until(lambda: listener.last["reef/player"] == '{"state": "stopped"}', "the state")
        assert level(listener) == 0 and listener.last["reef/blue/relay"] == "off"
        order = [(t, x) for t, x in listener.all if t in ("reef/blue/level", "reef/blue/relay")]
        assert order[-2][0] == "reef/blue/relay"  # opened before the level went down


def test_a_broker_that_dies_is_found_again(place: Place, broker: Mosquitto) -> None:
    (place.folder / "board.yaml").write_text(mqtt_board(broker.port), encoding="utf-8")
    player = place.start()
    until(lambda: place.log(), "the log")
    broker.stop()
    until(lambda: "alarm: the broker is away" in place.told(), "the alarm")
    broker.start()  # it has forgotten everything
    until(lambda: "alarm over: the broker is away" in place.told(), "the broker")
    with listening(broker.port) as listener:
        until(lambda: level(listener) == 10, "the level")
        until(lambda: listener.last.get("reef/player") == '{"state": "running"}', "the state")
        assert place.end(player, signal.SIGTERM) == 0
    assert place.events() == ["start", "broker-lost", "broker-back", "stop"]


def test_a_broker_that_refuses_is_an_alarm(place: Place, broker: Mosquitto) -> None:
    broker.stop()
    broker.config.write_text(f"listener {broker.port} 127.0.0.1\nallow_anonymous false\n")
    broker.start()
    (place.folder / "board.yaml").write_text(mqtt_board(broker.port), encoding="utf-8")
    player = place.start()
    until(lambda: "alarm: the broker is away (not authorized)" in place.told(), "the alarm")
    assert place.end(player, signal.SIGTERM) == 0


def test_without_the_library_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "paho.mqtt.client", None)
    with pytest.raises(OutsideWorldError, match="not installed") as caught:
        PahoBroker(BrokerPlan(host="127.0.0.1", topic="reef"))
    assert caught.value.code == "PHO508" and "photoperiod[mqtt]" in caught.value.help


def test_a_password_that_cannot_be_read(tmp_path: Path) -> None:
    plan = BrokerPlan(host="127.0.0.1", topic="t", username="u", password_file=tmp_path / "none")
    with pytest.raises(OutsideWorldError, match="no such file") as caught:
        PahoBroker(plan)
    assert caught.value.code == "PHO508"


def test_a_table_that_is_handed_out_is_played_and_a_broken_one_is_not(
    place: Place, broker: Mosquitto
) -> None:
    text = mqtt_board(broker.port).replace("topic: reef}", "topic: reef, table_topic: tables/one}")
    (place.folder / "board.yaml").write_text(text, encoding="utf-8")
    first = place.table.read_bytes()
    other = place.folder / "one.json"
    other.write_bytes(table((0, 25), (43_200, 25)))
    player = place.start()
    try:
        with listening(broker.port, "reef/#") as listener:
            until(lambda: level(listener) == 10, "the level")
            hand_out = ("--broker", f"127.0.0.1:{broker.port}", "--topic", "tables")
            done = place.publish(other, *hand_out)
            assert done.returncode == 0, done.stderr
            until(lambda: (level(listener) or 0) > 10, "the new level")
            assert place.table.read_bytes() == other.read_bytes()
            listener.client.publish("tables/one", first[:-9], qos=1, retain=True)
            until(
                lambda: "the table that was handed out" in listener.last["reef/alarms"], "the alarm"
            )
            assert place.table.read_bytes() == other.read_bytes()
        other.write_bytes(first[:-9])
        done = place.publish(other, *hand_out)  # what is broken is not even sent
        assert done.returncode == 4 and "PHO505" in done.stderr
    finally:
        place.end(player, signal.SIGTERM)
    assert place.events() == ["start", "reload", "refused", "stop"]


def test_a_player_that_comes_later_gets_the_table_too(place: Place, broker: Mosquitto) -> None:
    text = mqtt_board(broker.port).replace("topic: reef}", "topic: reef, table_topic: tables/one}")
    (place.folder / "board.yaml").write_text(text, encoding="utf-8")
    other = place.folder / "one.json"
    other.write_bytes(table((0, 25), (43_200, 25)))
    where = ("--broker", f"127.0.0.1:{broker.port}", "--topic", "tables")
    twin = place.folder / "two.json"
    twin.write_bytes(other.read_bytes())
    assert place.publish(other, twin, *where).returncode == 0  # to tables/one and tables/two
    player = place.start()
    until(lambda: place.table.read_bytes() == other.read_bytes(), "the table")
    assert place.end(player, signal.SIGTERM) == 0
    broker.stop()
    done = place.publish(other, *where)
    assert done.returncode == 4 and "PHO508" in done.stderr and "can't be reached" in done.stderr


def test_a_restart_with_a_table_for_another_converter_plays_the_good_copy(place: Place) -> None:
    text = BOARD.replace("channel: 0}", "channel: 0, gain: 2.44140625}")
    (place.folder / "board.yaml").write_text(text, encoding="utf-8")
    scale = place.folder / "sys" / RAW.replace("_raw", "_scale")
    scale.write_text("1.0")

    def finer(data: dict[str, Any]) -> None:
        data["controller"]["converter"] |= {"bits": 14, "volts_per_code": 10 / 2**14,
                                            "full_code": 2**14 - 1}  # fmt: skip

    player = place.start()
    until(lambda: place.log(), "the log")
    assert place.end(player, signal.SIGKILL) == -signal.SIGKILL
    place.table.write_bytes(table((0, 80), change=finer))
    player = place.start()
    until(lambda: "plays" in place.told(), "the start")
    assert "the last good table" in place.told() and "PHO507" in place.told()
    assert place.end(player, signal.SIGTERM) == 0


def test_a_signal_to_stop_is_heard_among_many_others(place: Place) -> None:
    player = place.start()
    until(lambda: place.log(), "the log")
    for _ in range(300):
        player.send_signal(signal.SIGHUP)
    assert place.end(player, signal.SIGTERM) == 0
    assert place.output == (0, False)


def test_file_names_that_are_no_topics(place: Place) -> None:
    for name in ("a#.json", "a+b.json"):
        path = place.folder / name
        path.write_bytes(place.table.read_bytes())
        done = place.publish(place.table, path, "--broker", "127.0.0.1:1", "--topic", "t")
        assert done.returncode == 2 and "is no topic" in done.stderr
    for broker in ("host:²", "host:0", ":1883"):
        done = place.publish(place.table, "--broker", broker, "--topic", "t")
        assert done.returncode == 2 and "is not HOST" in done.stderr
    done = place.publish(place.table, "--broker", "a..b", "--topic", "t")
    assert done.returncode == 4 and "PHO508" in done.stderr
