"""An MQTT broker that may be away: connect again and again, and say again what holds now.

The library runs a thread that connects, with growing pauses; nothing here waits for it. What was
said while the broker was away is not queued: when it is back, what holds then is said.
"""

from __future__ import annotations

import contextlib
import json
import time
from collections import deque
from collections.abc import Sequence
from typing import Any, Protocol

from photoperiod.board.config import BrokerPlan
from photoperiod.board.mqtt_login import login
from photoperiod.board.sysfs import DeviceFault

#: Shortest and longest pause before the next attempt to connect [s]. Our choice.
BACKOFF_S = (1, 30)

#: After so long without a word either side takes the other for gone. [s]
KEEP_ALIVE_S = 20

#: How long a stopping player waits for its last words to be taken. [s]
LAST_WORDS_S = 2.0


class NotDelivered(DeviceFault):
    """The broker is away; what holds is said when it is back."""


class Broker(Protocol):
    """Where levels, relays, state and alarms are published."""

    @property
    def is_connected(self) -> bool:
        """Whether it would take a message now."""

    @property
    def connections(self) -> int:
        """How often it was connected so far."""

    @property
    def trouble(self) -> str:
        """Why it refused the last attempt, if it answered at all."""

    def publish(self, topic: str, text: str) -> None:
        """Say something that stays, or raise `NotDelivered`."""

    def tell_state(self, state: str, alarms: Sequence[str]) -> None:
        """Say how the player is, as far as anyone listens."""

    def take_offered(self) -> bytes | None:
        """Return the table that was handed out last, once; None if there is none."""

    def close(self) -> None:
        """Wait a little until the last words are taken, and go."""


class PahoBroker:
    """A broker by paho-mqtt."""

    def __init__(self, plan: BrokerPlan) -> None:
        self.plan = plan
        self.connections = 0
        self.trouble = ""
        self._offered: deque[bytes] = deque(maxlen=1)
        self.client = login(plan)
        self.client.will_set(f"{plan.topic}/player", _state("gone"), qos=1, retain=True)
        self.client.reconnect_delay_set(*BACKOFF_S)
        self.client.on_connect = self._on_connect
        self.client.on_message = self._on_message
        self._last: list[Any] = []
        self.client.connect_async(plan.host, plan.port, KEEP_ALIVE_S)
        self.client.loop_start()

    def _on_connect(self, _client: Any, _data: Any, _flags: Any, reason: Any, _more: Any) -> None:
        if reason.is_failure:
            self.trouble = str(reason).lower()
        else:
            self.connections, self.trouble = self.connections + 1, ""
            if self.plan.table_topic is not None:
                self.client.subscribe(self.plan.table_topic, qos=1)

    def _on_message(self, _client: Any, _data: Any, message: Any) -> None:
        self._offered.append(bytes(message.payload))  # the newest counts; the player looks at it

    def take_offered(self) -> bytes | None:
        """Return the table that was handed out last, once; None if there is none."""
        with contextlib.suppress(IndexError):
            return self._offered.pop()
        return None

    @property
    def is_connected(self) -> bool:
        """Whether it would take a message now."""
        return bool(self.client.is_connected())

    def publish(self, topic: str, text: str) -> None:
        """Say something that stays."""
        if not self.is_connected:
            raise NotDelivered(f"the broker {self.plan.host} is away")
        self._last = [*self._last[-63:], self.client.publish(topic, text, qos=1, retain=True)]

    def tell_state(self, state: str, alarms: Sequence[str]) -> None:
        """Say how the player is, as far as anyone listens."""
        with contextlib.suppress(NotDelivered):
            self.publish(f"{self.plan.topic}/player", _state(state))
            self.publish(f"{self.plan.topic}/alarms", json.dumps(list(alarms)))

    def close(self) -> None:
        """Wait a little until the last words are taken, and go."""
        until = time.monotonic() + LAST_WORDS_S
        for said in self._last:
            with contextlib.suppress(RuntimeError, ValueError):
                said.wait_for_publish(max(until - time.monotonic(), 0.01))
        self.client.disconnect()
        self.client.loop_stop()


def _state(word: str) -> str:
    return json.dumps({"state": word})
