"""Relays of the kernel's class of LEDs. Source: Documentation/ABI/testing/sysfs-class-led."""

from __future__ import annotations

from photoperiod.board.config import RelayConfig
from photoperiod.board.devices.base import DeviceFault
from photoperiod.board.devices.sysfs import Files, require_writable, take


class LedRelay:
    """A relay output that the kernel shows in its class of LEDs."""

    is_wired = True
    is_let_go = False  # a driver of the kernel holds it

    def __init__(self, config: RelayConfig, files: Files) -> None:
        self.files = files
        self.name = f"relay {config.name}"
        self.folder = f"class/leds/{config.name}"
        self.file = f"{self.folder}/brightness"
        self.max_brightness = 1

    def open(self) -> bool | None:
        """Switch off a trigger that may blink it, and return whether it is on."""
        take(self.files, self.file)
        trigger = f"{self.folder}/trigger"
        if self.files.exists(trigger) and "[none]" not in self.files.read(trigger):
            self.files.write(trigger, "none")
        try:
            self.max_brightness = max(int(self.files.read(f"{self.folder}/max_brightness")), 1)
        except ValueError as error:
            raise self._no_number() from error
        return self.read_back()

    def write(self, closed: bool) -> None:
        """Write the largest brightness, or none."""
        self.files.write(self.file, str(self.max_brightness if closed else 0))

    def read_back(self) -> bool | None:
        """Return whether the LED has any brightness."""
        require_writable(self.files, self.file)
        try:
            return int(self.files.read(self.file)) > 0
        except ValueError as error:
            raise self._no_number() from error

    def _no_number(self) -> DeviceFault:
        return DeviceFault(f"'{self.folder}' does not hold numbers")
