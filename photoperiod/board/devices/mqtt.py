"""Levels and relays as retained messages of an MQTT broker."""

from __future__ import annotations

from photoperiod.board.config import OutputConfig, RelayConfig
from photoperiod.board.devices.base import DeviceFault, Setting
from photoperiod.board.mqtt import Broker
from photoperiod.drive.converter import Converter


class MqttDevice:
    """A topic of a broker. Its listener keeps the last message while the broker is away."""

    def __init__(self, topic: str, broker: Broker) -> None:
        self.topic, self.broker = topic, broker
        self.name = f"topic {topic}"
        self._is_asking = (
            False  # whether the broker refuses the next message, too, is not known yet
        )

    @property
    def is_taken(self) -> bool:
        """True if the broker has confirmed the last message."""
        return self.broker.is_taken(self.topic)

    @property
    def is_waiting(self) -> bool:
        """True if the broker is there, and has not confirmed the last message."""
        return self.broker.is_connected and not self.is_taken

    def read_back(self) -> None:
        """Return None: nothing is known about the listener.

        Raises
        ------
        DeviceFault
            If the broker has refused the last message: where nothing changes for hours, one that only renews
            is refused, and its listener goes dark.
        """
        refused = self.broker.refused(self.topic)
        if refused and not self._is_asking:
            raise DeviceFault(f"the broker refuses it: {refused}")


class MqttOutput(MqttDevice):
    """A topic that gets levels as JSON."""

    carries_relay = True

    def __init__(self, config: OutputConfig, broker: Broker) -> None:
        super().__init__(config.topic, broker)

    def open(self, converter: Converter) -> int | None:
        """Return None: nothing is known about the listener."""
        self._is_asking = True
        return None

    def adapt_to(self, converter: Converter) -> None:
        """Do nothing: a message can carry any code."""

    def write(self, setting: Setting) -> None:
        """Publish the level."""
        self._is_asking = False
        self.broker.publish(self.topic, setting.as_json())


class MqttRelay(MqttDevice):
    """A topic that gets a word for closed and a word for open."""

    is_wired = True
    is_let_go = False

    def __init__(self, config: RelayConfig, broker: Broker) -> None:
        super().__init__(config.topic, broker)
        self.words = {True: config.closed, False: config.open}

    def open(self) -> bool | None:
        """Return None: nothing is known about the listener."""
        self._is_asking = True
        return None

    def write(self, closed: bool) -> None:
        """Publish the word."""
        self._is_asking = False
        self.broker.publish(self.topic, self.words[closed], closes=closed)
