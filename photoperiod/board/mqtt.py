"""An MQTT broker that may be away.

The library runs a thread that connects again and again, with growing pauses; nothing here waits for
it. Messages are not queued while the broker is away: the player publishes the present values when it
is back.
"""

from __future__ import annotations

import contextlib
import json
import time
from collections import deque
from collections.abc import Sequence
from typing import Any, Protocol

from photoperiod.board.config import BrokerConfig
from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.events import PlayerState
from photoperiod.board.mqtt_login import login

#: Shortest and longest pause before the next attempt to connect [s]. Our choice.
BACKOFF_S = (1, 30)

#: After so long without a message, each side takes the connection for broken. [s]
KEEP_ALIVE_S = 20

#: How long a player that stops waits until its last messages are taken. [s]
LAST_MESSAGES_S = 2.0


class NotDelivered(DeviceFault):
    """The broker is away; the present value is published when it is back."""


class Broker(Protocol):
    """Publishes levels, relays, the state and the alarms."""

    @property
    def is_connected(self) -> bool:
        """True if it can take a message now."""

    @property
    def connections(self) -> int:
        """The number of connections so far."""

    @property
    def refusal(self) -> str:
        """Why it refused the last attempt to connect; empty if it did not."""

    def publish(self, topic: str, text: str) -> None:
        """Publish a retained message, or raise `NotDelivered`."""

    def is_taken(self, topic: str) -> bool:
        """Return True if the broker has confirmed the last message to a topic."""

    def publish_state(self, state: PlayerState, alarms: Sequence[str]) -> None:
        """Publish the state and the texts of the alarms; nothing happens if the broker is away."""

    def take_offered_table(self) -> bytes | None:
        """Return the table that was published last, once; None if there is none."""

    def close(self) -> None:
        """Wait a little until the last messages are taken, and disconnect."""


class PahoBroker:
    """A connection to a broker with the library paho-mqtt."""

    def __init__(self, config: BrokerConfig) -> None:
        self.config = config
        self.connections = 0
        self.refusal = ""
        self._offered: deque[bytes] = deque(maxlen=1)
        self.client = login(config)
        self.client.will_set(
            f"{config.topic}/player", _state_text(PlayerState.GONE), qos=1, retain=True
        )
        self.client.reconnect_delay_set(*BACKOFF_S)
        self.client.on_connect = self._on_connect
        self.client.on_message = self._on_message
        self._last: dict[str, Any] = {}
        self.client.connect_async(config.host, config.port, KEEP_ALIVE_S)
        self.client.loop_start()

    def _on_connect(self, _client: Any, _data: Any, _flags: Any, reason: Any, _more: Any) -> None:
        if reason.is_failure:
            self.refusal = str(reason).lower()
        else:
            self.connections, self.refusal = self.connections + 1, ""
            if self.config.table_topic is not None:
                self.client.subscribe(self.config.table_topic, qos=1)

    def _on_message(self, _client: Any, _data: Any, message: Any) -> None:
        self._offered.append(bytes(message.payload))  # only the newest one counts

    def take_offered_table(self) -> bytes | None:
        """Return the table that was published last, once; None if there is none."""
        with contextlib.suppress(IndexError):
            return self._offered.pop()
        return None

    @property
    def is_connected(self) -> bool:
        """True if it can take a message now."""
        return bool(self.client.is_connected())

    def publish(self, topic: str, text: str) -> None:
        """Publish a retained message, or raise `NotDelivered`."""
        if not self.is_connected:
            raise NotDelivered(f"the broker {self.config.host} is away")
        self._last[topic] = self.client.publish(topic, text, qos=1, retain=True)

    def is_taken(self, topic: str) -> bool:
        """Return True if the broker has confirmed the last message to a topic."""
        with contextlib.suppress(RuntimeError, ValueError):
            return topic in self._last and bool(self._last[topic].is_published())
        return False

    def publish_state(self, state: PlayerState, alarms: Sequence[str]) -> None:
        """Publish the state and the texts of the alarms; nothing happens if the broker is away."""
        with contextlib.suppress(NotDelivered):
            self.publish(f"{self.config.topic}/player", _state_text(state))
            self.publish(f"{self.config.topic}/alarms", json.dumps(list(alarms)))

    def close(self) -> None:
        """Wait a little until the last messages are taken, and disconnect."""
        until = time.monotonic() + LAST_MESSAGES_S
        for said in self._last.values():
            with contextlib.suppress(RuntimeError, ValueError):
                said.wait_for_publish(max(until - time.monotonic(), 0.01))
        self.client.disconnect()
        self.client.loop_stop()


def _state_text(state: PlayerState) -> str:
    return json.dumps({"state": state})
