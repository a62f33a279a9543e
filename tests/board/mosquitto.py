"""A real broker on this machine, and a listener."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.board.process import PROCESS_BOARD, until


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


@contextlib.contextmanager
def running_broker(folder: Path) -> Iterator[Mosquitto]:
    """A broker that ends with the block; skips the test where mosquitto is not installed."""
    program = shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin")
    if program is None:
        assert not os.environ.get("CI"), "continuous integration must install mosquitto"
        pytest.skip("the package mosquitto is not installed")
    made = Mosquitto(program, folder)
    try:
        yield made
    finally:
        made.stop()


class Listener:
    """What is said on a broker, the last of each topic; retained messages come first."""

    def __init__(self, port: int, topics: str) -> None:
        self.last: dict[str, str] = {}
        self.all: list[tuple[str, str]] = []
        self.client = Client(CallbackAPIVersion.VERSION2)
        self.client.on_connect = lambda client, *_: client.subscribe(topics, qos=1)
        self.client.on_message = self._on_message
        self.has_subscribed = threading.Event()
        self.client.on_subscribe = lambda *_: self.has_subscribed.set()
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
    head, _ = PROCESS_BOARD.split("channels:")
    return head + (
        f"broker: {{host: 127.0.0.1, port: {port}, topic: bench}}\n"
        "channels:\n  blue:\n    output: {kind: mqtt}\n    relay: {kind: mqtt}\n"
    )


def level(listener: Listener) -> int | None:
    text = listener.last.get("bench/blue/level")
    return None if text is None else int(json.loads(text)["count"])


class Line:
    """A line to a broker that can freeze, thaw and be cut, at a port of its own."""

    def __init__(self, port: int) -> None:
        self.target = port
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = int(self.listening.getsockname()[1])
        self.flows = threading.Event()
        self.flows.set()
        self.ends: list[tuple[socket.socket, socket.socket]] = []
        self.carriers: list[threading.Thread] = []  # there and back, of each connection
        self.old = threading.Event()
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self.listening.accept()
                far = socket.create_connection(("127.0.0.1", self.target))
                self.ends.append((near, far))
                for begin, end in ((near, far), (far, near)):
                    # A connection that began while the line flows is frozen with it, and with no other.
                    run = threading.Thread(
                        target=self._carry, args=(begin, end, self.flows), daemon=True
                    )
                    self.carriers.append(run)
                    run.start()

    def _carry(self, begin: socket.socket, end: socket.socket, flows: threading.Event) -> None:
        with contextlib.suppress(OSError):
            while data := begin.recv(65_536):
                flows.wait()
                end.sendall(data)

    def freeze(self) -> None:
        """Keep back what is sent from now on; nobody is told."""
        self.flows.clear()

    def thaw(self) -> None:
        """Let go what was kept back."""
        self.flows.set()

    def break_near(self) -> None:
        """End the client's side; what was kept back stays under way. New connections flow."""
        near, _ = self.ends[-1]
        near.shutdown(socket.SHUT_RDWR)
        self.old, self.flows = self.flows, threading.Event()
        self.flows.set()

    def deliver_old(self) -> None:
        """Let go what was kept back when the client's side of the first connection ended."""
        self.old.set()
        self.carriers[0].join(10)

    def close(self) -> None:
        self.listening.close()
        self.flows.set()
        for end in (one for pair in self.ends for one in pair):
            end.close()
