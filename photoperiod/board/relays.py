"""Relays: what makes a channel dark. Kernel facts: Documentation/ABI/testing/sysfs-class-led and
Documentation/ABI/obsolete/sysfs-gpio.
"""  # noqa: D205

from __future__ import annotations

from typing import Protocol

from photoperiod.board.config import RelayPlan
from photoperiod.board.mqtt import Broker
from photoperiod.board.sysfs import DeviceFault, DeviceMismatch, Files, need


class Relay(Protocol):
    """What closes and opens a lamp's mains. Raises `DeviceFault` or OSError if it can't."""

    @property
    def name(self) -> str:
        """What it is called in messages."""

    @property
    def is_wired(self) -> bool:
        """Whether there is one."""

    def open(self) -> bool | None:
        """Make it ready without closing it, and return whether it is closed, if that is known."""

    def look(self) -> None:
        """Raise if it is not there any more."""

    def set(self, closed: bool) -> None:
        """Close or open it."""


class NoRelay:
    """None: the lamp's mains is always on, or somebody else's."""

    name = "no relay"
    is_wired = False

    def open(self) -> bool | None:
        """What is not there counts as closed."""
        return True

    def look(self) -> None:
        """Nothing is there to look at."""

    def set(self, closed: bool) -> None:
        """Nothing is there to set."""


class LedRelay:
    """An entry of the kernel's class of LEDs."""

    is_wired = True

    def __init__(self, plan: RelayPlan, files: Files) -> None:
        self.files = files
        self.name = f"relay {plan.name}"
        self.folder = f"class/leds/{plan.name}"
        self.file = f"{self.folder}/brightness"
        self.most = 1

    def open(self) -> bool | None:
        """Take it from a trigger, if one blinks it, and return whether it is on."""
        need(self.files, self.file)
        trigger = f"{self.folder}/trigger"
        if self.files.exists(trigger) and "[none]" not in self.files.read(trigger):
            self.files.write(trigger, "none")
        try:
            self.most = max(int(self.files.read(f"{self.folder}/max_brightness")), 1)
            return int(self.files.read(self.file)) > 0
        except ValueError as error:
            raise DeviceFault(f"'{self.folder}' holds no numbers") from error

    def look(self) -> None:
        """Raise if it is not there any more."""
        need(self.files, self.file)

    def set(self, closed: bool) -> None:
        """Write its brightness: all or nothing."""
        self.files.write(self.file, str(self.most if closed else 0))


class GpioRelay:
    """A pin by the old sysfs interface, which the kernel calls deprecated but still has."""

    is_wired = True

    def __init__(self, plan: RelayPlan, files: Files) -> None:
        self.plan, self.files = plan, files
        self.name = f"pin {plan.number}"
        self.folder = f"class/gpio/gpio{plan.number}"
        self.file = f"{self.folder}/value"

    def open(self) -> bool | None:
        """Make it an output that begins open; one that is an output already stays as it is."""
        if not self.files.exists(self.folder):
            self.files.write("class/gpio/export", str(self.plan.number))
        if self._read("active_low") == "1":
            raise DeviceMismatch(
                f"'{self.folder}/active_low' is 1; set it to 0 and say `active_low` in the board file"
            )
        if self._read("direction") != "out":
            self.files.write(f"{self.folder}/direction", "high" if self.plan.active_low else "low")
        need(self.files, self.file)
        return (self._read("value") == "1") != self.plan.active_low

    def _read(self, name: str) -> str:
        return self.files.read(f"{self.folder}/{name}")

    def look(self) -> None:
        """Raise if it is not there any more."""
        need(self.files, self.file)

    def set(self, closed: bool) -> None:
        """Write its value."""
        self.files.write(self.file, "1" if closed != self.plan.active_low else "0")


class MqttRelay:
    """A topic of a broker that gets a word."""

    is_wired = True

    def __init__(self, plan: RelayPlan, broker: Broker) -> None:
        self.plan, self.broker = plan, broker
        self.name = f"topic {plan.topic}"

    def open(self) -> bool | None:
        """Nothing is known of whoever listens."""
        return None

    def look(self) -> None:
        """The broker is looked after as a whole."""

    def set(self, closed: bool) -> None:
        """Publish the word."""
        self.broker.publish(self.plan.topic, self.plan.closed if closed else self.plan.open)
