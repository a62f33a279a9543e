"""An MQTT broker that may be away.

A thread of its own connects again and again, with growing pauses; nothing here waits for it. Each
connection begins with an empty outbox: the player publishes the present values when it is back, and
nothing that was under way before is sent again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import secrets
import threading
import time
from collections import deque
from collections.abc import Sequence
from typing import Any, Protocol

from photoperiod.board.config import BrokerConfig
from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.events import PlayerState
from photoperiod.board.mqtt_login import connect, expiring, login
from photoperiod.board.outbox import Message, Outbox
from photoperiod.errors import OutsideWorldError, os_reason

#: Shortest and longest pause before the next attempt to connect [s]. Our choice.
BACKOFF_S = (1.0, 30.0)

#: After so long without a message, each side takes the connection for broken. [s]
KEEP_ALIVE_S = 20

#: How long a player that stops waits until its last messages are taken, and for its thread. [s]
LAST_MESSAGES_S, LAST_THREAD_S = 1.0, 0.5

#: Each message is sent again when a third of its life is over: two may be late. Our choice.
RENEWALS_IN_A_LIFE = 3

#: What a player says of itself as long as it lives, and under which name it tells whose message that is.
LIVING = (PlayerState.RUNNING, PlayerState.HELD, PlayerState.SAFE)
NAME = "player"

#: So many tables are known as replaced. Our choice.
REMEMBERED_TABLES = 32


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

    @property
    def unreached(self) -> str:
        """Where the last attempt to connect met nobody, and why; empty if it met a broker."""

    @property
    def renew_every_s(self) -> float:
        """How often `renew` is due. [s]"""

    def publish(self, topic: str, text: str, *, closes: bool | None = None) -> None:
        """Publish a retained message that expires; ``closes`` is True or False for a relay.

        Raises
        ------
        DeviceFault
            If the broker refuses it; `NotDelivered` if it is away.
        """

    def renew(self) -> None:
        """Publish once more what expires; the player calls it as long as it lives."""

    def is_taken(self, topic: str) -> bool:
        """Return True if the broker has confirmed the last message to a topic."""

    def refused(self, topic: str) -> str:
        """Return why the broker refused the last message to a topic; empty if it did not."""

    def publish_state(self, state: PlayerState, alarms: Sequence[str]) -> None:
        """Publish the state and the texts of the alarms; nothing happens if the broker is away."""

    def take_offered_table(self) -> bytes | None:
        """Return the table that was published last, once; None if there is none."""

    @property
    def has_older_table(self) -> bool:
        """True if it handed out from its store what newer tables had replaced: that was not taken."""

    @property
    def hears_another(self) -> bool:
        """True if another player published its state on the same topic, as long as that would be kept."""

    def close(self) -> None:
        """Wait a little until the last messages are taken, and disconnect."""


class PahoBroker:
    """A connection to a broker with the library paho-mqtt.

    Each connection has a client of its own, because a client sends again what was under way when its
    connection broke. All of them have one name: a broker that still holds the old connection ends it
    before it takes the new one, so that nothing old arrives later.

    Raises
    ------
    OutsideWorldError
        PHO508 if the library or a file that it needs is missing.
    """

    def __init__(self, config: BrokerConfig) -> None:
        self.config = config
        self.connections = 0
        self.refusal = self.unreached = ""
        self.renew_every_s = config.expire_s / RENEWALS_IN_A_LIFE
        self._name = f"photoperiod-{secrets.token_hex(8)}"
        self._player_topic = f"{config.topic}/player"
        self._offered: deque[bytes] = deque(maxlen=1)
        self._newest = b""
        self._replaced: deque[bytes] = deque(maxlen=REMEMBERED_TABLES)
        self.has_older_table = False
        self._another_until_s = -math.inf
        self._lock = threading.Lock()
        self._outbox = Outbox()
        self._refused: dict[str, str] = {}
        self._client: Any = None
        self._is_closing = threading.Event()
        login(config)
        self._thread = threading.Thread(target=self._stay_connected, daemon=True, name="broker")
        self._thread.start()

    # ---- the thread

    def _stay_connected(self) -> None:
        pause_s = BACKOFF_S[0]
        while not self._is_closing.is_set():
            before = self.connections
            self._connect_once()
            with self._lock:
                self._client = None
                if self._is_closing.is_set():
                    return  # what was taken is asked for after the end
                self._outbox.forget()
                self._refused.clear()
            pause_s = BACKOFF_S[0] if self.connections > before else pause_s
            self._is_closing.wait(pause_s)
            pause_s = min(2 * pause_s, BACKOFF_S[1])

    def _connect_once(self) -> None:
        """Connect, and stay until the connection ends."""
        has_ended = threading.Event()
        try:
            client = self._new_client(has_ended)
            connect(client, self.config, KEEP_ALIVE_S)
        except OutsideWorldError as error:  # a password file that is gone
            self.refusal, self.unreached = str(error), ""
        except (OSError, ValueError) as error:
            where = f"{self.config.host}:{self.config.port}"
            self.refusal, self.unreached = "", f"{where}: {os_reason(error)}"
        else:
            client.loop_start()
            while not has_ended.wait(1.0) and not self._is_closing.is_set():
                pass
            client.loop_stop()

    def _new_client(self, has_ended: threading.Event) -> Any:
        client = login(self.config, client_id=self._name, reconnects=False)
        client.will_set(self._player_topic, _state_text(PlayerState.GONE), qos=1, retain=True)
        client.on_connect = self._on_connect
        client.on_publish = self._on_answer
        client.on_message = self._on_message
        client.on_disconnect = lambda *_: has_ended.set()
        return client

    def _on_connect(self, client: Any, _data: Any, _flags: Any, reason: Any, _more: Any) -> None:
        self.unreached = ""
        if reason.is_failure:
            self.refusal = str(reason).lower()
            return
        if self.config.table_topic is not None:
            client.subscribe(self.config.table_topic, qos=1)
        client.subscribe(self._player_topic, qos=0)
        with self._lock:
            self._client = client
            self.connections, self.refusal = self.connections + 1, ""

    def _on_answer(self, client: Any, _data: Any, _mid: int, reason: Any, _more: Any) -> None:
        with self._lock:
            if client is not self._client:
                return
            message = self._outbox.answered(is_taken=not reason.is_failure)
            if message is not None and reason.is_failure:
                self._refused[message.topic] = str(reason).lower()
            elif message is not None:
                self._refused.pop(message.topic, None)
        self._send_next()

    def _on_message(self, _client: Any, _data: Any, message: Any) -> None:
        """Note another player, or keep a table."""
        if message.topic == self._player_topic:
            self._hear_player(message)
        else:
            self._keep_table(message)

    def _hear_player(self, message: Any) -> None:
        """Note a player that lives and is not this one: its levels go where these go.

        What comes from the store may be this player's own, from before it was started again.
        """
        if bytes(message.payload) == _state_text(PlayerState.GONE).encode() and not message.retain:
            self.renew()  # the last word of one that is lost, as this one before its board was started again
            return
        names = getattr(message.properties, "UserProperty", [])
        lives = bytes(message.payload) in [_state_text(state).encode() for state in LIVING]
        if lives and not message.retain and (NAME, self._name) not in names:
            self._another_until_s = time.monotonic() + self.config.expire_s

    def _keep_table(self, message: Any) -> None:
        """Keep a table; only the newest one counts.

        A broker that was killed may hand out from its store what it had saved some time ago. What is
        published now has no retain flag (MQTT 5, 3.3.1.3), and is taken whatever it is.
        """
        raw = bytes(message.payload)
        digest = hashlib.sha256(raw).digest()
        self.has_older_table = bool(message.retain) and digest in self._replaced
        if self.has_older_table:
            return
        if digest != self._newest:
            if digest in self._replaced:  # somebody wants it back
                self._replaced.remove(digest)
            self._replaced.append(self._newest)
            self._newest = digest
        self._offered.append(raw)

    # ---- what the player calls

    @property
    def hears_another(self) -> bool:
        """True if another player published its state on the same topic not long ago."""
        return time.monotonic() < self._another_until_s

    def take_offered_table(self) -> bytes | None:
        """Return the table that was published last, once; None if there is none."""
        with contextlib.suppress(IndexError):
            return self._offered.pop()
        return None

    @property
    def is_connected(self) -> bool:
        """True if it can take a message now."""
        client = self._client
        return client is not None and bool(client.is_connected())

    def publish(self, topic: str, text: str, *, closes: bool | None = None) -> None:
        """Publish a retained message that expires; see `Broker`.

        A refusal is known after the message, so that it is raised at the next one to the same topic.
        """
        refused = self.refused(topic)
        self._put(Message(topic, text, closes=closes))
        if refused:
            raise DeviceFault(f"the broker refuses it: {refused}")

    def refused(self, topic: str) -> str:
        """Return why the broker refused the last message to a topic; empty if it did not."""
        return self._refused.get(topic, "")

    def _put(self, message: Message) -> None:
        with self._lock:
            if not self.is_connected:
                raise NotDelivered(f"the broker {self.config.host} is away")
            self._outbox.put(message)
        self._send_next()

    def _send_next(self) -> None:
        """Send what is due. The library is called without our lock: it calls back with its own held."""
        with self._lock:
            client = self._client
            message = None if client is None else self._outbox.next()
        if message is not None:
            life = expiring(self.config.expire_s) if message.expires else None
            if life is not None and message.topic == self._player_topic:
                life.UserProperty = (NAME, self._name)
            client.publish(message.topic, message.text, qos=1, retain=True, properties=life)

    def renew(self) -> None:
        """Publish once more what expires; the player calls it as long as it lives."""
        with self._lock:
            self._outbox.renew()
        self._send_next()

    def is_taken(self, topic: str) -> bool:
        """Return True if the broker has confirmed the last message to a topic."""
        with self._lock:
            return self._outbox.is_taken(topic)

    def publish_state(self, state: PlayerState, alarms: Sequence[str]) -> None:
        """Publish the state and the texts of the alarms; nothing happens if the broker is away."""
        topic, expires = self.config.topic, state is not PlayerState.STOPPED
        with contextlib.suppress(NotDelivered):
            self._put(Message(self._player_topic, _state_text(state), expires=expires))
            self._put(Message(f"{topic}/alarms", json.dumps(list(alarms)), expires=expires))

    def close(self) -> None:
        """Wait a little until the last messages are taken, and disconnect."""
        until = time.monotonic() + LAST_MESSAGES_S
        while self.is_connected and not self._outbox.is_empty and time.monotonic() < until:
            time.sleep(0.01)
        self._is_closing.set()
        client = self._client
        if client is not None:
            client.disconnect()
        self._thread.join(LAST_THREAD_S)


def _state_text(state: PlayerState) -> str:
    return json.dumps({"state": state})
