"""What still has to go to a broker: the newest message of each topic, one under way at a time.

A slow or broken line never holds a queue of what was right some time ago. Of a topic that changed
several times only the last message goes out. A relay that opens goes before everything that waits; one
that closes goes behind it, so that a lamp is never lit at a level that its listener does not know yet.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Message:
    """A retained message.

    Parameters
    ----------
    topic, text : str
        Where it goes, and what it says.
    closes : bool or None
        True if it closes a relay, False if it opens one, None if it does neither.
    expires : bool
        False if it stays at the broker for good.
    """

    topic: str
    text: str
    closes: bool | None = None
    expires: bool = True


@dataclass(slots=True)
class Outbox:
    """The messages of one connection; see the module. It sends nothing itself."""

    _newest: dict[str, Message] = field(default_factory=dict)
    _waiting: dict[str, Message] = field(default_factory=dict)
    _under_way: Message | None = None
    _taken: set[str] = field(default_factory=set)

    def put(self, message: Message) -> None:
        """Have a message sent; one to the same topic that still waits is forgotten.

        A level takes the place of the one that waits; a relay's message goes to the front if it opens,
        and to the end if it closes.
        """
        topic = message.topic
        if message != self._newest.get(topic):
            self._taken.discard(topic)
        self._newest[topic] = message
        if message.closes is not None:
            self._waiting.pop(topic, None)
        if message.closes is False:
            self._waiting = {topic: message, **self._waiting}
        else:
            self._waiting[topic] = message

    def next(self) -> Message | None:
        """Return what is to be sent now; None if nothing waits, or one message is under way."""
        if self._under_way is not None or not self._waiting:
            return None
        self._under_way = self._waiting.pop(next(iter(self._waiting)))
        return self._under_way

    def answered(self, *, is_taken: bool) -> Message | None:
        """Note that the broker has answered to the message that is under way, and return it."""
        message, self._under_way = self._under_way, None
        if message is not None and is_taken and message == self._newest[message.topic]:
            self._taken.add(message.topic)
        return message

    def renew(self) -> None:
        """Have the newest message of each topic that expires sent once more."""
        for message in sorted(self._newest.values(), key=lambda one: one.closes is True):
            if message.expires:
                self.put(message)

    def forget(self) -> None:
        """Forget everything: the line is broken, and nobody knows what came through."""
        self._newest.clear()
        self._waiting.clear()
        self._taken.clear()
        self._under_way = None

    def is_taken(self, topic: str) -> bool:
        """Return True if the broker has taken the newest message to a topic, or one that says the same."""
        return topic in self._taken

    @property
    def is_empty(self) -> bool:
        """True if the broker has answered to everything."""
        return self._under_way is None and not self._waiting
