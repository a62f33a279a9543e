"""A broker that loses, repeats, delays and refuses, and a listener by the rules of docs/board.md."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.mqtt import NotDelivered
from photoperiod.board.outbox import Message, Outbox
from tests.board.bench import FLOOR, SOFT_S

#: How long the broker keeps a message that is not renewed; the board file says nothing else. [s]
EXPIRE_S = 900.0

#: A side that hears nothing for so long takes the line for broken: a keep-alive of 20 s and a half (MQTT 5,
#: 3.1.2.10). [s]
SILENCE_S = 30.0

TOPIC = "reef/white/level"


@dataclass(slots=True)
class Listener:
    """A controller without a table: it keeps its level over short gaps, and is dark when it heard nothing.

    After a broken line, and while it has heard the broker's store alone, it rises softly from what it gives.
    """

    clock: Callable[[], float]
    count: int = 0
    closed: bool = False
    until_s: float = -1.0
    is_away: bool = False
    has_missed: bool = True
    rises_since_s: float = -math.inf
    rises_from: float = FLOOR

    def miss(self) -> None:
        """Its line is broken."""
        self.has_missed = True

    def hear(self, text: str, life_s: float, *, is_stored: bool = False) -> None:
        """Take a level."""
        told = json.loads(text)
        if self.has_missed or self.clock() >= self.until_s:
            self.rises_from, self.rises_since_s = max(self.level, FLOOR), self.clock()
            self.has_missed = is_stored
        elif not self.is_lit:
            self.rises_since_s = -math.inf
        self.count, self.closed = int(told["count"]), told["relay"] == "on"
        self.until_s = self.clock() + life_s

    @property
    def is_lit(self) -> bool:
        """True if its lamp burns."""
        return self.closed and self.clock() < self.until_s

    @property
    def level(self) -> float:
        """The count that its lamp has."""
        if not self.is_lit:
            return 0.0
        gone_s = self.clock() - self.rises_since_s
        return min(self.count, self.rises_from + gone_s * (100 - FLOOR) / SOFT_S)


@dataclass(slots=True)
class Server:
    """What outlives the player: the broker, what it retains, and the listener.

    Parameters
    ----------
    clock : callable
        Gives seconds that nobody can set. [s]
    chance : Random
        What happens to messages.
    """

    clock: Callable[[], float]
    chance: random.Random
    listener: Listener
    is_up: bool = True
    refuses_logins: bool = False
    refuses_topics: bool = False
    delays: bool = False
    loses: bool = False
    repeats: bool = False
    table: bytes | None = None  # handed out at each connection until the board has it
    retained: dict[str, tuple[str, float]] = field(default_factory=dict)

    def take(self, message: Message) -> None:
        """Retain a message and hand it out."""
        until_s = self.clock() + (EXPIRE_S if message.expires else 1e12)
        self.retained[message.topic] = (message.text, until_s)
        for _ in range(2 if self.repeats else 1):
            self._hand_out(message.topic)

    def _hand_out(self, topic: str, *, is_stored: bool = False) -> None:
        text, until_s = self.retained[topic]
        if topic == TOPIC and not self.listener.is_away and until_s > self.clock():
            self.listener.hear(text, until_s - self.clock(), is_stored=is_stored)

    def listener_returns(self) -> None:
        """The listener connects, and gets what is retained."""
        self.listener.is_away = False
        self.listener.miss()
        if self.is_up and TOPIC in self.retained:
            self._hand_out(TOPIC, is_stored=True)

    def forget(self) -> None:
        """The broker was started again without its retained messages."""
        self.retained.clear()


class WorldBroker:
    """The player's side, with the real outbox; see `photoperiod.board.mqtt.Broker`."""

    renew_every_s = EXPIRE_S / 3

    def __init__(self, server: Server, effect: Callable[[str], None]) -> None:
        self.server, self._effect = server, effect
        self.connections = 0
        self.refusal = self.unreached = ""
        self.is_connected = False
        self.state = ""
        self.has_older_table = self.hears_another = False
        self._has_offered = False
        self._outbox = Outbox()
        self._refused = ""
        self._sent_s = math.inf
        self.look()

    def look(self) -> None:
        """Connect if that can be; the player's thread does it all the time."""
        server = self.server
        if not server.is_up:
            server.listener.miss()
            self.break_line()
            self.refusal = ""
        elif server.refuses_logins and not self.is_connected:
            self.refusal = "not authorized"
        elif not self.is_connected:
            self.is_connected, self.refusal = True, ""
            self.connections += 1
            self._has_offered = False
        self._pump(answers_late=False)

    def hand_out(self, raw: bytes) -> None:
        """Publish a table: it is handed out now, and again at the next connection."""
        self.server.table, self._has_offered = raw, False

    def break_line(self) -> None:
        """The connection ends."""
        self.is_connected = False
        self._sent_s = math.inf
        self._outbox.forget()
        self._refused = ""

    def _pump(self, *, answers_late: bool) -> None:
        """Have messages go out; one that waits for a slow answer holds the rest."""
        server = self.server
        while self.is_connected:
            message = self._outbox.next() or self._outbox._under_way
            if message is None:
                return
            if server.delays and (answers_late or server.chance.random() < 0.7):
                self._sent_s = min(self._sent_s, server.clock())
                if server.clock() - self._sent_s > SILENCE_S:
                    self.break_line()
                return
            self._sent_s = math.inf
            if server.loses and server.chance.random() < 0.3:
                if server.chance.random() < 0.5:
                    server.take(message)  # it arrived, and its answer is lost
                self.break_line()
                return
            is_taken = not (server.refuses_topics and message.topic == TOPIC)
            if is_taken:
                server.take(message)
            self._outbox.answered(is_taken=is_taken)
            if message.topic == TOPIC:
                self._refused = "" if is_taken else "not authorized"

    # ---- what the player calls

    def publish(self, topic: str, text: str, *, closes: bool | None = None) -> None:
        self._effect(f"publish {topic} {text}")
        if not self.is_connected:
            raise NotDelivered("the broker is away")
        refused = self.refused(topic)
        self._outbox.put(Message(topic, text, closes=closes))
        self._pump(answers_late=True)
        if refused:
            raise DeviceFault(f"the broker refuses it: {refused}")

    def renew(self) -> None:
        self._outbox.renew()
        self._pump(answers_late=True)

    def is_taken(self, topic: str) -> bool:
        return self._outbox.is_taken(topic)

    def refused(self, topic: str) -> str:
        return self._refused if topic == TOPIC else ""

    def publish_state(self, state: str, alarms: Sequence[str]) -> None:
        if self.is_connected:
            self.state = state
            self._outbox.put(Message("reef/player", json.dumps({"state": state})))
            self._pump(answers_late=True)

    def take_offered_table(self) -> bytes | None:
        if self._has_offered or not self.is_connected:
            return None
        self._has_offered = True
        return self.server.table

    def close(self) -> None:
        self._pump(answers_late=False)
        self.is_connected = False
